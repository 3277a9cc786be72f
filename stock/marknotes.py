"""Marks as a maker jots them down: `knot 20 to 26; knot 40 to 44 across 2 to 4`.

Each mark is its kind, where it lies along the board from the butt end, `across` where it
lies from the lower edge, and `one face` if only the poorer face shows it. What is left
out reaches from end to end, or from edge to edge.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction

from stock.boards import UNSOUND_MARKS
from stock.cells import mark_kind
from stock.measures import Unit, parse_measure

_NOTHING = {"none", "clear", "-", "\N{EM DASH}"}
_ONE_FACE = re.compile(r"\s+(on\s+)?one\s+face$")
_FIGURES = re.compile(r"(?:\s+from)?\s+(?=\.?\d|[\u00bc-\u00be\u2150-\u215e])")
_USUAL = "write it like 'knot 20 to 26 across 2 to 4', several parted by ;"

Extent = tuple[Fraction, Fraction]


@dataclass(frozen=True, kw_only=True, slots=True)
class MarkNote:
    """One mark as noted; sizes exact in the project's unit.

    Attributes
    ----------
    kind
        Kind and tag, as `stock.cells.mark_kind` reads them.
    along, across
        From and to; None from end to end, or from edge to edge.
    face
        `both`, or `one`: seen on the poorer face only.
    """

    kind: tuple[str, str | None]
    along: Extent | None = None
    across: Extent | None = None
    face: str = "both"


def mark_notes(text: str, unit: Unit) -> tuple[MarkNote, ...]:
    """Return the marks noted in a text, none for a blank one, `none` or `clear`.

    Raises
    ------
    ValueError
        With what is wrong with each mark that can't be read.
    """
    notes = [" ".join(note.split()) for note in re.split(r"[;\n]", text.casefold())]
    found, wrong = [], []
    for note in notes:
        if not note or note in _NOTHING:
            continue
        try:
            found.append(_note(note, unit))
        except ValueError as error:
            wrong.append(f"{note!r}: {error}")
    if wrong:
        raise ValueError("; ".join(wrong))
    return tuple(found)


def _note(note: str, unit: Unit) -> MarkNote:
    """Read one mark."""
    bare = _ONE_FACE.sub("", note)
    length, _, width = bare.partition(" across ")
    kind, *figures = _FIGURES.split(length, maxsplit=1)
    named = mark_kind(kind)
    along = _extent(figures[0], unit) if figures else None
    across = _extent(width, unit) if width else None
    if along is None and across is None and named[0] in UNSOUND_MARKS:
        raise ValueError(f"say where it lies: {_USUAL}")
    return MarkNote(
        kind=named, along=along, across=across, face="one" if bare != note else "both"
    )


def _extent(text: str, unit: Unit) -> Extent:
    """Read `20 to 26`."""
    sizes = text.split(" to ")
    if len(sizes) != 2:
        raise ValueError(_USUAL)
    start, end = (parse_measure(size, unit) for size in sizes)
    if start >= end:
        raise ValueError("a mark has some extent: the second figure is the larger one")
    return start, end
