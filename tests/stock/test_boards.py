"""Boards: marks, widths, what they dress to, and their exact tally."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from stock.boards import (
    Board,
    Mark,
    Thickness,
    area_feet,
    board_feet,
    dressed_thickness,
    rough_quarter,
    tally_width,
)
from stock.measures import Unit
from stock.shop import default_shop
from stock.tally import surfaced_thickness
from tests.stock.test_tally import SURFACED

INCH, MM = Unit.INCH, Unit.MM


def board(thickness, width, length, unit=INCH, **changes):
    """A board with sizes in the unit."""
    steps = 64 if unit is INCH else 10
    size = {"length": int(length * steps), "width": int(width * steps)}
    return Board(
        name="B",
        species="cherry",
        thickness=Thickness(Fraction(thickness)),
        **{**size, "width2": size["width"], **changes},
    )


@pytest.mark.parametrize(
    ("sizes", "feet"),
    [
        ((Fraction(1), 9, 96), Fraction(6)),  # BM-07, a magazine's woodworking tip
        ((Fraction(3, 2), 9, 96), Fraction(9)),  # BM-07
        ((Fraction(2), 8, 192), Fraction(64, 3)),  # a yard's page prints 21.33
        ((Fraction(5, 4), 6, 72), Fraction(540, 144)),  # a merchant's page prints 540/144
        ((Fraction(3, 4), 9, 96), Fraction(6)),  # under 1 in counts as 1 in
    ],
)
def test_exact_board_feet_agree_with_printed_boards(sizes, feet):
    assert board_feet(board(*sizes), INCH) == feet


def test_a_metric_board_is_counted_as_it_measures():
    # BM-12: 0.027 * 0.18 * 2.4 = 0.011664 cubic metres, times 423.776001
    metric = board(27, 180, 2400, MM)
    assert float(board_feet(metric, MM)) == pytest.approx(4.942923, abs=1e-6)


def test_surfaced_lumber_is_sold_by_the_quarter_it_was_sawn_as():
    # 13/16 in S2S is 4/4: 1 * 9 * 96 / 144 (common practice)
    planed = board(Fraction(13, 16), 9, 96, surfaced="S2S")
    assert board_feet(planed, INCH) == 6
    assert rough_quarter(Fraction(7, 8)) == Fraction(5, 4)  # more than 4/4 gives


def test_a_tapered_board_counts_a_third_from_its_narrow_end():
    # 6 in to 9 in: 7 in (NHLA measurement, from memory)
    tapered = board(1, 6, 96, width2=9 * 64)
    assert tally_width(tapered) == 7 * 64
    assert tally_width(replace(tapered, width=9 * 64, width2=6 * 64)) == 7 * 64


@pytest.mark.parametrize(("nominal", "dressed"), SURFACED)
def test_rough_boards_dress_to_the_surfaced_size(nominal, dressed):
    assert dressed_thickness(board(nominal, 6, 96), default_shop(INCH)) == dressed * 64


@pytest.mark.parametrize("nominal", [Fraction(1), Fraction(5, 4), Fraction(2)])
def test_surfaced_sizes_hold_in_millimetres_rounded_down(nominal):
    metric = board(nominal * Fraction(254, 10), 150, 2400, MM)
    exact = surfaced_thickness(nominal) * 254
    assert dressed_thickness(metric, default_shop(MM)) == int(exact)


def test_a_shop_may_set_its_own_loss_of_thickness():
    shop = replace(default_shop(INCH), thickness_allowance=16)  # 1/4 in
    assert dressed_thickness(board(1, 6, 96), shop) == 48
    assert dressed_thickness(board(Fraction(1, 8), 6, 96), shop) == 0


def test_a_surfaced_board_gives_what_it_measures():
    planed = board(Fraction(7, 8), 6, 96, surfaced="S4S")
    assert dressed_thickness(planed, default_shop(INCH)) == 56


def test_thicknesses_are_equal_by_size_not_by_label():
    assert Thickness(Fraction(1), "4/4") == Thickness(Fraction(1), "1")
    assert len({Thickness(Fraction(1), "4/4"), Thickness(Fraction(1), "25.4 mm")}) == 1
    assert Thickness(Fraction(1)) != Thickness(Fraction(2))


@pytest.mark.parametrize(
    ("kind", "face", "forbidden"),
    [
        ("knot", "both", {"show", "second", "hidden"}),
        ("split", "one", {"show", "second", "hidden"}),
        ("worm", "both", {"show", "second"}),
        ("sound knot", "both", {"show"}),
        ("sound knot", "one", set()),
        ("stain", "both", {"show"}),
        ("figure", "both", set()),
    ],
)
def test_a_mark_forbids_the_faces_it_would_spoil(kind, face, forbidden):
    mark = Mark(kind=kind, start=0, end=1, low=0, high=1, face=face)
    assert {one for one in ("show", "second", "hidden") if mark.forbids(one)} == forbidden


def test_a_mark_touches_what_shares_wood_and_not_what_only_meets_its_edge():
    mark = Mark(kind="knot", start=100, end=200, low=10, high=20)
    assert mark.touches(199, 19, 50, 50)
    assert not mark.touches(200, 10, 50, 10)
    assert not mark.touches(100, 20, 100, 10)


def test_a_zone_holds_only_what_lies_wholly_inside():
    zone = Mark(kind="figure", tag="curl", start=100, end=200, low=10, high=60)
    assert zone.holds(100, 10, 100, 50)
    assert not zone.holds(99, 10, 50, 20)
    assert not zone.holds(150, 10, 51, 20)


@given(st.integers(64, 1200), st.integers(64, 1200), st.data())
def test_the_clear_width_of_a_stretch_is_never_more_than_anywhere_in_it(butt, far, data):
    tapered = board(1, Fraction(butt, 64), 96, width2=far)
    start = data.draw(st.integers(0, tapered.length))
    end = data.draw(st.integers(start, tapered.length))
    inside = data.draw(st.integers(start, end))
    exact = butt + Fraction((far - butt) * inside, tapered.length)
    assert tapered.width_between(start, end) <= exact


@given(st.integers(1, 6000), st.integers(1, 1000))
def test_board_feet_of_a_whole_board_are_those_of_its_area(length, width):
    one = board(Fraction(5, 4), Fraction(width, 64), Fraction(length, 64))
    assert area_feet(one, length * width, INCH) == board_feet(one, INCH)


def test_only_the_rack_is_owned_and_a_log_is_known_by_its_flitch():
    assert board(1, 6, 96).is_owned
    assert not board(1, 6, 96, where="North").is_owned
    assert board(1, 6, 96, flitch="7").log == "flitch 7"
    assert board(1, 6, 96).log == "board B"
