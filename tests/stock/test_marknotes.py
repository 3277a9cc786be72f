"""Marks jotted down in one line."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from stock.boards import DEFECTS
from stock.marknotes import MarkNote, mark_notes
from stock.measures import Unit


def test_a_note_holds_kind_extent_and_what_is_across():
    assert mark_notes(
        "knot 20 to 26; Check 0 to 3;\nknot  40 to 44  across 2 to 4", Unit.INCH
    ) == (
        MarkNote(kind=("knot", None), along=(Fraction(20), Fraction(26))),
        MarkNote(kind=("check", None), along=(Fraction(0), Fraction(3))),
        MarkNote(
            kind=("knot", None),
            along=(Fraction(40), Fraction(44)),
            across=(Fraction(2), Fraction(4)),
        ),
    )


def test_measures_are_read_as_everywhere_else():
    (note,) = mark_notes("sound knot from 23 1/4 to 2' 1\" across ½ to 1.5", Unit.INCH)
    assert note.along == (Fraction(93, 4), Fraction(25))
    assert note.across == (Fraction(1, 2), Fraction(3, 2))
    (note,) = mark_notes("wane across 0 to 1 cm", Unit.MM)
    assert (note.along, note.across) == (None, (Fraction(0), Fraction(10)))


def test_a_zone_or_a_sound_mark_may_be_all_over_the_board():
    zone, stain = mark_notes("sawing: quarter; stain on one face", Unit.INCH)
    assert zone == MarkNote(kind=("sawing", "quarter"))
    assert stain == MarkNote(kind=("stain", None), face="one")


@pytest.mark.parametrize("text", ["", " ; ", "none", "Clear", "-"])
def test_no_mark_may_be_said_or_left_blank(text):
    assert mark_notes(text, Unit.INCH) == ()


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("bump 3 to 4", "use one of check, knot"),
        ("knot", "say where it lies"),
        ("knot 20", "write it like"),
        ("knot 20 to", "write it like"),
        ("knot 26 to 20", "the second figure is the larger one"),
        ("knot 20 to 26 across 2", "write it like"),
        ("knot 20,5 to 26", "with a point, not a comma"),
        ("knot 20 to 26, check 0 to 3", "several parted by ;"),
        ("20 to 26", "use one of"),
    ],
)
def test_what_can_not_be_read_is_quoted_with_what_would_be_right(text, said):
    with pytest.raises(ValueError, match=said) as caught:
        mark_notes(text, Unit.INCH)
    assert repr(text) in str(caught.value)


def test_every_mark_that_can_not_be_read_is_told():
    with pytest.raises(ValueError, match=r"'bump 1 to 2'.*'knot'"):
        mark_notes("bump 1 to 2; knot 1 to 2; knot", Unit.INCH)


tenths = st.integers(0, 9000).map(lambda n: Fraction(n, 10))


@given(
    st.sampled_from(sorted(DEFECTS)),
    st.lists(tenths, min_size=4, max_size=4, unique=True),
    st.sampled_from(["", " one face", " on one face"]),
)
def test_what_is_written_down_is_read_back(kind, sizes, face):
    a, b = sorted(sizes[:2])
    c, d = sorted(sizes[2:])
    text = f"{kind} {float(a)} to {float(b)} across {float(c)} to {float(d)}{face}"
    assert mark_notes(text, Unit.MM) == (
        MarkNote(
            kind=(kind, None), along=(a, b), across=(c, d), face="one" if face else "both"
        ),
    )
