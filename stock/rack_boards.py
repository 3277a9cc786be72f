"""Boards as the rack keeps them: each in its own unit, and as exact text in the file.

A rack outlives projects in inches and in millimetres, so every board keeps the unit that
it was measured in, with sizes as whole steps of that unit's grid: nothing is ever rounded
by being stored. Thicknesses, prices and board feet are exact fractions.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator, Mapping
from dataclasses import asdict, dataclass, fields, replace
from fractions import Fraction
from typing import Any

from stock.boards import Board, Mark, Thickness, board_feet
from stock.measures import Unit

_FRACTIONS = ("price",)
_SHAPES = ("length", "width", "width2", "sawing", "figure",
           "flitch", "order", "tone", "surfaced", "grade", "marks")  # fmt: skip


@dataclass(frozen=True, kw_only=True, slots=True)
class RackBoard:
    """A board on the rack.

    Attributes
    ----------
    board
        The board, owned; its sizes are steps of the grid of `unit`.
    since
        Day on which its wood came into the shop (`2026-03-09`); an offcut keeps that of
        the board it was cut from.
    source
        Where it came from, in words: a yard, a file, the board that it is an offcut of.
    held
        Name of the project that it is reserved for, or None.
    """

    board: Board
    unit: Unit
    since: str
    source: str = ""
    held: str | None = None

    @property
    def name(self) -> str:
        """Name of the board."""
        return self.board.name

    @property
    def feet(self) -> Fraction:
        """Board feet, exact tally."""
        return board_feet(self.board, self.unit)

    @property
    def thick(self) -> str:
        """How its thickness is called where its unit doesn't go without saying."""
        label = self.board.thickness.label
        is_quarter = label.endswith("/4") and label[:-2].isdigit()
        says = any(char.isalpha() or char in "\"'" for char in label)
        return label if is_quarter or says else f"{label} {self.unit.value}"

    def with_board(self, **changes: Any) -> RackBoard:  # noqa: ANN401 - as `replace` does
        """Return this with another value in some fields of its board."""
        return replace(self, board=replace(self.board, **changes))


def with_marks_inside(board: Board) -> Board:
    """Return a board with its marks cut to it: a defect was rounded out, the board in."""
    widest = max(board.width, board.width2)
    cut = (
        replace(mark, end=min(mark.end, board.length), high=min(mark.high, widest))
        for mark in board.marks
    )
    kept = (mark for mark in cut if mark.start < mark.end and mark.low < mark.high)
    return replace(board, marks=tuple(kept))


def resized(one: RackBoard, length: int, width: int, width2: int) -> RackBoard:
    """Return a board as it measures now, in steps of its grid.

    Its marks stay where they are from the butt end and the lower edge; a defect that
    reached an edge reaches it still.
    """
    board = one.board
    was, now = max(board.width, board.width2), max(width, width2)
    marks = tuple(
        replace(
            mark,
            end=length if mark.is_defect and mark.end >= board.length else mark.end,
            high=now if mark.is_defect and mark.high >= was else mark.high,
        )
        for mark in board.marks
    )
    real = replace(board, length=length, width=width, width2=width2, marks=marks)
    return replace(one, board=with_marks_inside(real))


def board_faults(one: RackBoard) -> Iterator[str]:
    """Yield what no board can be: one without a size, or with marks beside it."""
    board = one.board
    widest = max(board.width, board.width2)
    if min(board.length, board.width, board.width2) <= 0 or board.thickness.nominal <= 0:
        yield f"{one.name!r} has no size"
    for mark in board.marks:
        along = 0 <= mark.start < mark.end <= board.length
        if not (along and 0 <= mark.low < mark.high <= widest):
            yield f"a mark of {one.name!r} does not lie on it"


def board_text(one: RackBoard) -> str:
    """Return a board as the text that the file keeps; the same board, the same text."""
    content = {
        "unit": one.unit.value,
        "since": one.since,
        "source": one.source,
        "held": one.held,
        **_board_out(one.board),
    }
    return json.dumps(content, sort_keys=True, allow_nan=False)


def board_in(text: str) -> RackBoard:
    """Return the board in a text of the file.

    Raises
    ------
    ValueError
        If the text is no board.
    """
    try:
        content = json.loads(text)
        rest = {key: content.pop(key) for key in ("since", "source", "held")}
        unit = Unit(content.pop("unit"))
        return RackBoard(board=_board_in(content), unit=unit, **rest)
    except (ValueError, LookupError, TypeError, AttributeError, ArithmeticError) as error:
        raise ValueError(f"this is no board ({error})") from None


def stamp(one: RackBoard) -> str:
    """Return a short sign of all of a board that a plan's cuts go by.

    It changes with sizes, marks and what the wood shows; not with the board's place, its
    note, price, moisture, or who holds it.
    """
    board = _board_out(one.board)
    shape = {key: board[key] for key in _SHAPES} | {
        "species": one.board.species.casefold(),
        "thickness": str(one.board.thickness.nominal),
    }
    text = json.dumps([one.unit.value, shape], sort_keys=True)
    return hashlib.sha256(text.encode()).hexdigest()[:16]


def _board_out(board: Board) -> dict[str, Any]:
    """Return the fields of a board as JSON can hold them; `where` is always the rack."""
    content: dict[str, Any] = {
        field.name: getattr(board, field.name)
        for field in fields(board)
        if field.name not in ("where", "thickness", "marks", *_FRACTIONS)
    }
    content["figure"] = list(board.figure)
    content["thickness"] = [str(board.thickness.nominal), board.thickness.label]
    for name in _FRACTIONS:
        value = getattr(board, name)
        content[name] = None if value is None else str(value)
    content["marks"] = [asdict(mark) for mark in board.marks]
    return content


def _board_in(content: Mapping[str, Any]) -> Board:
    """Return the board whose fields a text holds."""
    values = dict(content)
    nominal, label = values.pop("thickness")
    values["thickness"] = Thickness(Fraction(nominal), label)
    values["figure"] = tuple(values["figure"])
    values["marks"] = tuple(Mark(**mark) for mark in values["marks"])
    for name in _FRACTIONS:
        values[name] = None if values[name] is None else Fraction(values[name])
    return Board(**values)
