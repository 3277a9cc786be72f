"""Boards that come onto the rack: from a table, from a tally sheet, from the keyboard."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path

from nesting.contract import BOARDS, MARKS, SHOP
from nesting.project import read_project
from nesting.reading import boards_from
from nesting.settings import shop_from
from reports.tally import SHEET, read_tally
from reports.tally_found import noted_mark
from stock.boards import RACK, Board
from stock.cells import records_of
from stock.errors import Fault, InputError
from stock.marknotes import MarkNote, mark_notes
from stock.measures import Unit
from stock.rack_boards import RackBoard, with_marks_inside
from stock.rows import Findings, Row, folded, tables_in
from stock.tables import Grid, read_csv, read_grids

TYPED = "rack add"


@dataclass(frozen=True, kw_only=True, slots=True)
class Incoming:
    """Boards that come onto the rack.

    Attributes
    ----------
    skipped
        Names of boards that the table lists at a yard: nobody owns them yet.
    warnings
        What looked odd in the file.
    """

    boards: tuple[RackBoard, ...]
    skipped: tuple[str, ...] = ()
    warnings: tuple[Fault, ...] = ()


def read_incoming(
    path: Path, *, unit: Unit, since: str, project: Path | None = None, every: bool = False
) -> Incoming:
    """Return the boards of a file: a Boards table with its Marks, or a ticked sheet Buy.

    Parameters
    ----------
    unit
        Of the table's measures, where no table Shop says so.
    since
        Day on which the wood came in.
    project
        That the sheet Buy was planned for: it knows what the sheet doesn't tell.
    every
        Whether boards that the table lists at a yard came in too.

    Raises
    ------
    InputError
        With every fault of the file.
    """
    grids = _grids(path)
    if any(folded(grid.title) == folded(SHEET) for grid in grids):
        return _ticked(path, project, since)
    findings = Findings()
    tables = (replace(BOARDS, needed=True), MARKS, SHOP)
    rows = tables_in(grids, tables, path.name, findings)
    if rows["Shop"]:
        unit = shop_from(rows["Shop"], findings).unit
    boards = _boards(rows, unit, findings)
    taken = [board for board in boards if every or board.is_owned]
    if not taken and not findings.faults:
        rule = (
            "none of these boards lies on a rack: change their 'where', or take those at"
            " yards too with --all"
        )
        findings.faults.append(Fault(path.name, None, None, rule))
    findings.check()
    return Incoming(
        boards=tuple(_owned(board, unit, since, path.name) for board in taken),
        skipped=tuple(board.name for board in boards if board not in taken),
        warnings=findings.in_order(findings.warnings),
    )


def typed_board(
    cells: Mapping[str, object], marks: str, unit: Unit, since: str, source: str
) -> RackBoard:
    """Return the board that was given on the command line, a cell per column of Boards.

    Raises
    ------
    InputError
        With every fault of the cells.
    """
    findings = Findings()
    texts = {column.name: cells.get(column.name) for column in BOARDS.columns}
    boards = _boards({"Boards": (Row(TYPED, 1, texts),), "Marks": ()}, unit, findings)
    try:
        notes = mark_notes(marks, unit)
    except ValueError as error:
        findings.faults.append(Fault(TYPED, None, "marks", str(error)))
        notes = ()
    if findings.faults:
        raise InputError(replace(fault, row=None) for fault in findings.faults)
    board = _marked(boards[0], notes, unit)
    return replace(_owned(board, unit, since, ""), source=source)


def _grids(path: Path) -> tuple[Grid, ...]:
    """Return the tables of a file; a CSV file alone holds boards, whatever its name."""
    if path.is_file() and path.suffix.lower() == ".csv":
        return (replace(read_csv(path), title=BOARDS.name),)
    return read_grids(path)


def _ticked(path: Path, project: Path | None, since: str) -> Incoming:
    """Return the boards that are ticked on a sheet Buy, as they were measured."""
    if project is None:
        rule = (
            "this is the sheet Buy of a plan: name the project that it was made for with"
            " --project, which knows marks and figure of its boards"
        )
        raise InputError([Fault(path.name, None, None, rule)])
    content = read_project(project)
    taken = read_tally(path, content)
    boards = (
        replace(board, price=board.price or content.tariff.asked(board))
        for board in taken.boards
    )
    return Incoming(
        boards=tuple(_owned(board, content.unit, since, path.name) for board in boards),
        warnings=taken.warnings,
    )


def _boards(
    rows: Mapping[str, tuple[Row, ...]], unit: Unit, findings: Findings
) -> tuple[Board, ...]:
    """Return the boards of a table, each with its marks."""
    records = records_of(rows["Boards"], BOARDS, unit, findings)
    marks = records_of(rows["Marks"], MARKS, unit, findings)
    places = {record["where"] for record in records if record.get("where")}
    yards = (place for place in places if folded(place) != RACK)
    return boards_from(records, marks, yards, unit, findings)


def _owned(board: Board, unit: Unit, since: str, file: str) -> RackBoard:
    """Return a board as the rack keeps it."""
    source = f"imported from {file}" if board.is_owned else f"bought at {board.where}"
    return RackBoard(
        board=with_marks_inside(replace(board, where=RACK)),
        unit=unit,
        since=since,
        source=source,
    )


def _marked(board: Board, notes: Iterable[MarkNote], unit: Unit) -> Board:
    """Return a board with marks as they were jotted down."""
    marks = tuple(noted_mark(note, board, unit) for note in notes)
    sides = (board.length, max(board.width, board.width2))
    faults = [
        Fault(TYPED, None, "marks", f"the mark {mark.kind!r} does not lie on the board")
        for mark in marks
        if mark.end > sides[0] + 1 or mark.high > sides[1] + 1
    ]
    if faults:
        raise InputError(faults)
    return replace(board, marks=marks)
