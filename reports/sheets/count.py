"""The sheet for taking stock: what should lie on the rack, and room for what does."""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction

from reports.sheets.cells import TICK_ROW, Cell, Row, head_row, length, number, text, tick
from reports.sheets.page import Page
from stock.measures import Unit, format_measure
from stock.rack_boards import RackBoard

COUNT = "Count"
NEW = "new board"
GONE = "gone"
PRINTED = ("length", "width", "far width")
MEASURED = ("length now", "width now", "far width now")
READ = ("place now", "moisture now")

_WIDTHS = (4.5, 13, 11.5, 12.5, 6.5, 9, 8.5, 8.5, 7, 10.5, 5.5, 7.5, 7.5, 7.5, 9.5, 8.5)
_SPARE_ROWS = 8
_UNITS = {Unit.INCH: "inches", Unit.MM: "millimetres"}


def count_page(boards: Iterable[RackBoard], unit: Unit, entry: int) -> Page:
    """Describe the sheet; sizes of boards in the other unit stand with theirs."""
    page = Page(name=COUNT, widths=_WIDTHS, frozen=2)
    page.top(
        "Taking stock",
        f"The rack after entry {entry}; lengths in {_UNITS[unit]}. Tick what is there."
        " Write only what is otherwise: what a board measures now, where it lies, its"
        f" moisture; an x under '{GONE}' if it is nowhere. What has neither stays as it"
        " is. Then: stavewright rack adjust FILE.",
    )
    rows = [_board_row(one, unit) for one in sorted(boards, key=_place)]
    head = head_row("", "board", "place", "species", "thick", *_sized(PRINTED, unit),
                    "board feet", "reserved for", GONE, *MEASURED, *READ,
                    height=28.0)  # fmt: skip
    if rows:
        page.table(rows, [head])
    else:
        page.put(head)
    page.keep(60.0)
    page.heading("What lies there and is not listed: a row each, sizes as measured")
    again = head_row("", NEW, "place", "species", "thick", *_sized(PRINTED, unit),
                     ("sawing", 2), ("marks, as: knot 20 to 26; check 0 to 3", 6),
                     height=28.0)  # fmt: skip
    spare = Row(
        cells=(
            tick(), *(Cell(style="input text") for _ in range(4)),
            *(Cell(style="input length") for _ in range(3)),
            Cell(style="input text", span=2), Cell(style="input text", span=6),
        ),
        height=TICK_ROW, is_ticked=True,
    )  # fmt: skip
    page.table([spare] * _SPARE_ROWS, [again])
    page.paragraph(
        "Get help with boards too heavy to carry alone, take stacks down from the top, and"
        " keep your hands out from under what can slide.",
    )
    page.press()
    return page


def sized_head(name: str, unit: Unit) -> str:
    """Return the head of a column of sizes, which says their unit."""
    return f"{name}, {unit.value}"


def _sized(names: Iterable[str], unit: Unit) -> tuple[str, ...]:
    return tuple(sized_head(name, unit) for name in names)


def _place(one: RackBoard) -> tuple[str, str, Fraction, str]:
    """Sort boards as one walks along the rack."""
    board = one.board
    return board.place or "", board.species, board.thickness.nominal, board.name


def _board_row(one: RackBoard, unit: Unit) -> Row:
    """Return the row of a board that should be there."""
    board = one.board
    far = board.width2 if board.width2 != board.width else None
    return Row(
        cells=(
            tick(),
            text(board.name, "label"),
            text(board.place),
            text(board.species),
            text(one.board.thickness.label if one.unit is unit else one.thick),
            *(own_size(size, one.unit, unit) for size in (board.length, board.width, far)),
            number(float(one.feet), "feet"),
            text(one.held),
            Cell(style="input text"),
            *(_input(one.unit, unit) for _ in MEASURED),
            Cell(style="input text"),
            Cell(style="input number"),
        ),
        height=TICK_ROW,
        is_ticked=True,
    )


def own_size(size: int | None, own: Unit, unit: Unit) -> Cell:
    """Return a size; in the other unit it is a text that names its own."""
    if size is None or own is unit:
        return length(size, unit)
    return text(f"{format_measure(size, own, 64)} {own.value}")


def _input(own: Unit, unit: Unit) -> Cell:
    return Cell(style="input length" if own is unit else "input text")
