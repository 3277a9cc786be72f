"""A sheet of the stock that was counted, read back: what is otherwise than booked."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from fractions import Fraction
from pathlib import Path

from reports.rack_reading import typed_board
from reports.sheets.count import COUNT, GONE, MEASURED, NEW, PRINTED, sized_head
from reports.tally_rows import box_ticked
from stock.cells import Record, records_of
from stock.errors import Fault, InputError
from stock.measures import Unit, inch_in, steps_per_unit
from stock.rack_boards import RackBoard, resized
from stock.rack_entries import State, Step
from stock.rows import Column, Findings, Row, Table, folded
from stock.tables import Grid, read_grids

_SIZES = (
    *(Column(name=name, kind="measure", meaning="as printed") for name in PRINTED),
    *(Column(name=name, kind="measure", meaning="as measured") for name in MEASURED),
)
_LISTED = Table(
    name="boards",
    meaning="boards that should be there",
    columns=(
        Column(name="board", kind="name", needed=True, meaning="name of a board"),
        *_SIZES,
        Column(name=GONE, kind="text", meaning="x if it is nowhere"),
        Column(name="place now", kind="name", meaning="where it lies now"),
        Column(name="moisture now", kind="percent", high=Fraction(100), meaning="reading"),
    ),
)
_FOUND = ("place", "species", "thick", "sawing", "marks")


@dataclass(slots=True)
class Counted:
    """What a counting says; names of boards.

    Attributes
    ----------
    seen
        Boards that are ticked.
    unseen
        Boards of the rack that are neither ticked nor gone: they stay as they are.
    """

    steps: list[Step] = field(default_factory=list)
    seen: list[str] = field(default_factory=list)
    changed: list[str] = field(default_factory=list)
    gone: list[str] = field(default_factory=list)
    new: list[str] = field(default_factory=list)
    unseen: list[str] = field(default_factory=list)


def counted_stock(path: Path, state: State, since: str) -> Counted:
    """Return what is otherwise than booked, by the sheet Count of a workbook.

    Raises
    ------
    InputError
        With every fault of the sheet; boards that changed since it was printed are among
        them.
    """
    grid = _grid(path)
    findings = Findings()
    counted = Counted()
    unit, listed, found = _rows(grid, findings)
    rows = tuple(row for row, _ in listed)
    for record, (_, box) in zip(
        records_of(rows, _LISTED, unit, findings), listed, strict=True
    ):
        _add_listed(counted, record, box, (state, unit, findings))
    for row in found:
        _add_found(counted, row, unit, since, findings)
    findings.check()
    told = {name.casefold() for name in (*counted.seen, *counted.gone)}
    counted.unseen += [
        one.name for one in state.boards.values() if one.name.casefold() not in told
    ]
    return counted


def _grid(path: Path) -> Grid:
    """Return the sheet Count of a workbook."""
    for grid in read_grids(path):
        if folded(grid.title) == folded(COUNT):
            return grid
    rule = f"there is no sheet {COUNT!r}: take the workbook that 'rack count' wrote"
    raise InputError([Fault(path.name, None, None, rule)])


def _rows(
    grid: Grid, findings: Findings
) -> tuple[Unit, list[tuple[Row, object]], list[Row]]:
    """Return the unit, the rows of listed boards with their boxes, and the new boards."""
    unit, places, is_new = Unit.INCH, {}, False
    listed: list[tuple[Row, object]] = []
    found: list[Row] = []
    for number, cells in grid.rows:
        heads = {folded(str(cell)): n for n, cell in enumerate(cells) if cell is not None}
        units = [one for one in Unit if folded(sized_head(PRINTED[0], one)) in heads]
        if units:
            unit, is_new = units[0], folded(NEW) in heads
            places = _places(heads, unit)
        elif len(heads) > 1 and places:
            picked = {
                name: cells[n] if n < len(cells) else None for name, n in places.items()
            }
            row = Row(grid.source, number, picked)
            if not is_new:
                listed.append((row, cells[0]))
            elif any(cell is not None for cell in picked.values()):
                found.append(row)
    if not places:
        rule = "the heads of the table are gone: print the sheet anew with 'rack count'"
        findings.faults.append(Fault(grid.source, None, None, rule))
    return unit, listed, found


def _places(heads: dict[str, int], unit: Unit) -> dict[str, int]:
    """Return the place of each column of either table; heads of sizes name their unit."""
    names = [column.name for column in _LISTED.columns] + [NEW, *_FOUND]
    known = {folded(name): name for name in names}
    known |= {folded(sized_head(name, unit)): name for name in PRINTED}
    marks = {head: "marks" for head in heads if head.startswith("marks")}
    known |= marks
    return {known[head]: n for head, n in heads.items() if head in known}


def _add_listed(
    counted: Counted, record: Record, box: object, what: tuple[State, Unit, Findings]
) -> None:
    """Add what the row of a listed board says."""
    state, unit, findings = what
    name = record.get("board")
    if not name or not record.is_whole:
        return
    number = state.number(name)
    is_there = box_ticked(box)
    if is_there is None:
        rule = "a board that is there is ticked with the box from its list, or x"
        findings.faults.append(record.fault("board", rule))
        return
    if number is None or not _is_printed(record, state.boards[number], unit):
        rule = "this board changed after the sheet was printed: print it anew"
        findings.faults.append(record.fault("board", rule))
        return
    if name in (*counted.seen, *counted.gone):
        findings.faults.append(record.fault("board", "this board stands twice: keep one"))
        return
    faults = len(findings.faults)
    now = _as_counted(record, state.boards[number], unit, findings)
    if len(findings.faults) > faults:
        return
    if box_ticked(record[GONE]) is not False:
        if is_there or now != state.boards[number]:
            rule = "the board is ticked or measured, and gone: which of both is it?"
            findings.faults.append(record.fault(GONE, rule))
        counted.gone.append(name)
        counted.steps.append(Step(puts=((number, None),)))
    elif now != state.boards[number]:
        counted.seen.append(name)
        counted.changed.append(name)
        counted.steps.append(Step(puts=((number, now),)))
    elif is_there:
        counted.seen.append(name)


def _is_printed(record: Record, one: RackBoard, unit: Unit) -> bool:
    """Whether a row still shows the sizes that the board has."""
    board = one.board
    far = board.width2 if board.width2 != board.width else None
    shown = (_steps(record[name], unit, one.unit) for name in PRINTED)
    return tuple(shown) == (board.length, board.width, far)


def _as_counted(
    record: Record, one: RackBoard, unit: Unit, findings: Findings
) -> RackBoard:
    """Return a board as its row says that it is now."""
    board = one.board
    length, width, far = (_steps(record[name], unit, one.unit) for name in MEASURED)
    if (width is None) != (far is None) and board.width != board.width2:
        rule = "of a tapered board fill in both widths, or none"
        findings.faults.append(record.fault("width now", rule))
    if far is not None and width is None and board.width == board.width2:
        width = board.width
    near = board.width if width is None else width
    other = (board.width2 if width is None else width) if far is None else far
    now = resized(one, length or board.length, near, other)
    reading = record["moisture now"]
    return now.with_board(
        place=record["place now"] or board.place,
        moisture=board.moisture if reading is None else float(reading),
    )


def _steps(size: Fraction | None, unit: Unit, own: Unit) -> int | None:
    """Return a size of the sheet in steps of the board's own grid, rounded down."""
    if size is None:
        return None
    return math.floor(size * inch_in(own) / inch_in(unit) * steps_per_unit(own))


def _add_found(
    counted: Counted, row: Row, unit: Unit, since: str, findings: Findings
) -> None:
    """Add a board that lies there and was not listed."""
    columns = {"far width": "width 2", "thick": "thickness", NEW: "board"}
    cells = {columns.get(name, name): cell for name, cell in row.cells.items()}
    marks = str(cells.pop("marks", None) or "")
    try:
        one = typed_board(cells, marks, unit, since, "found when the stock was counted")
    except InputError as error:
        findings.faults += _placed(error, row)
        return
    counted.new.append(one.name)
    counted.steps.append(Step(puts=((None, one),)))


def _placed(error: InputError, row: Row) -> Iterator[Fault]:
    """Yield faults of a board with the place where it stands."""
    for fault in error.faults:
        yield replace(fault, source=row.source, row=row.number)
