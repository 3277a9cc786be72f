"""The rack as workbooks: a Boards table with its Marks, and the sheet to take stock."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from pathlib import Path

from nesting.contract import BOARDS, MARKS, SHOP
from nesting.racked import board_in_unit
from reports.sheets.cells import Cell, Row, head_row, number, text
from reports.sheets.count import count_page, own_size
from reports.sheets.page import SCALE, Page
from reports.styles import PAGE_UNITS
from reports.workbook import write_pages
from stock.boards import RACK, Mark
from stock.measures import Unit
from stock.rack_boards import RackBoard

_NOTE = "exported from the rack"


def unit_for(boards: Iterable[RackBoard]) -> Unit:
    """Return the unit that most boards are measured in; inches if there are none."""
    units = Counter(one.unit for one in boards)
    return max(Unit, key=lambda unit: (units[unit], unit is Unit.INCH))


def write_boards(path: Path, boards: Sequence[RackBoard]) -> None:
    """Write boards as the tables Boards, Marks and Shop of a project.

    Sizes of boards in the other unit stand as texts with it, so nothing is rounded here.
    """
    unit = unit_for(boards)
    marks = [_mark_cells(one, mark, unit) for one in boards for mark in one.board.marks]
    pages = (
        _page(BOARDS.name, [column.name for column in BOARDS.columns],
              [_board_cells(one, unit) for one in boards]),
        _page(MARKS.name, [column.name for column in MARKS.columns], marks),
        _page(SHOP.name, [column.name for column in SHOP.columns],
              [(text("unit"), text(unit.value))]),
    )  # fmt: skip
    write_pages(path, pages, unit, "Boards of the rack", _NOTE)


def write_count(path: Path, boards: Sequence[RackBoard], entry: int) -> None:
    """Write the sheet to take stock with."""
    unit = unit_for(boards)
    page = count_page(boards, unit, entry)
    write_pages(path, (page,), unit, "Taking stock", f"after entry {entry}")


def _page(name: str, heads: Sequence[str], rows: Iterable[tuple[Cell, ...]]) -> Page:
    """Return a table whose headings stand in its first row, as readers want it."""
    widths = (16.0, *([12.0] * (len(heads) - 1)))
    scale = min(SCALE, int(SCALE * PAGE_UNITS / sum(widths)))
    page = Page(name=name, widths=widths, frozen=1, scale=scale)
    page.put(head_row(*heads))
    for cells in rows:
        page.put(Row(cells=cells))
    return page


def _board_cells(one: RackBoard, unit: Unit) -> tuple[Cell, ...]:
    """Return a board's cells in the order of the table."""
    board = one.board
    far = board.width2 if board.width2 != board.width else None
    price = board_in_unit(one, unit).price
    own = {
        "board": text(board.name, "label"),
        "where": text(RACK),
        "thickness": text(one.thick),
        "length": own_size(board.length, one.unit, unit),
        "width": own_size(board.width, one.unit, unit),
        "width 2": own_size(far, one.unit, unit),
        "figure": text(", ".join(board.figure) or None),
        "tone": number(board.tone, "count"),
        "order": number(board.order, "count"),
        "price": number(None if price is None else float(price), "general"),
        "moisture": number(board.moisture, "general"),
        "note": text(board.note or None),
    }
    plain = {
        name: text(getattr(board, name))
        for name in ("species", "grade", "sawing", "flitch", "surfaced", "place", "photo")
    }
    cells = own | plain
    return tuple(cells[column.name] for column in BOARDS.columns)


def _mark_cells(one: RackBoard, mark: Mark, unit: Unit) -> tuple[Cell, ...]:
    """Return a mark's cells in the order of the table."""
    kind = f"{mark.kind}: {mark.tag}" if mark.tag else mark.kind
    sizes = (mark.start, mark.end, mark.low, mark.high)
    own = (own_size(size, one.unit, unit) for size in sizes)
    return (text(one.name, "label"), text(kind), *own, text(mark.face))
