"""A tally sheet that was filled in at the yards, read back: what was really taken."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from nesting.project import Project
from nesting.taken import Note, Taken
from reports.sheets.found import FOUND
from reports.tally_cart import Cart
from reports.tally_found import PLACE, found_board
from reports.tally_measured import as_measured
from reports.tally_rows import FOUND_ROWS, LISTED_ROWS, Entry, entries_of
from reports.tally_terms import add_terms
from stock.boards import RACK, Board
from stock.cells import Record, records_of
from stock.errors import Fault, InputError
from stock.rows import Findings, folded
from stock.tables import Grid, read_grids

SHEET = "Buy"


def read_tally(path: Path | str, project: Project) -> Taken:
    """Return what was taken at the yards by the sheet Buy of a workbook.

    Raises
    ------
    InputError
        With every fault of the sheet, or if there is no such sheet, or if nothing is
        ticked and nothing is written in.
    """
    grid = _grid(Path(path))
    findings = Findings()
    yards = (yard.name for yard in project.yards)
    entries = entries_of(grid, yards, findings)
    cart = Cart(project, findings)
    add_terms(cart, entries.terms)
    _add_listed(cart, entries.listed)
    _add_found(cart, entries.found)
    if not (cart.boards or cart.sheets or findings.faults):
        rule = "nothing is ticked and nothing is written in: tick what lies in the cart"
        findings.faults.append(Fault(grid.source, None, None, rule))
    findings.check()
    return cart.taken()


def _grid(path: Path) -> Grid:
    """Return the sheet Buy of a workbook."""
    rule = f"there is no sheet {SHEET!r}: take the workbook that 'stavewright plan' wrote"
    if path.suffix.lower() not in {".xlsx", ".xlsm"}:
        rule = "a tally sheet is the workbook (.xlsx) that 'stavewright plan' wrote"
        raise InputError([Fault(path.name, None, None, rule)])
    for grid in read_grids(path):
        if folded(grid.title) == folded(SHEET):
            return grid
    raise InputError([Fault(path.name, None, None, rule)])


def _add_listed(cart: Cart, entries: tuple[Entry, ...]) -> None:
    """Put what is ticked into the cart: boards as measured, sheet goods by their number."""
    unit = cart.project.unit
    rows = (entry.row for entry in entries)
    records = records_of(rows, LISTED_ROWS, unit, cart.findings)
    boards = {board.name: board for board in cart.project.boards}
    sheets = {sheet.name: sheet for sheet in cart.project.sheets if sheet.where != RACK}
    for entry, record in zip(entries, records, strict=True):
        name = record.get("board") or ""
        sheet = sheets.get(name.rpartition(" ")[0])
        if name in boards:
            _add_board(cart, entry, record, boards[name])
        elif sheet:
            cart.add_sheet(record, sheet, is_ticked=entry.is_ticked)
        elif name:
            rule = "the project has no board of this name: is the sheet another project's?"
            cart.fault(record, "board", rule)


def _add_board(cart: Cart, entry: Entry, record: Record, listed: Board) -> None:
    """Put a listed board into the cart if it is ticked."""
    cart.listed.setdefault(listed.name, entry.yard)
    faults = tuple(_differences(record, listed))
    cart.findings.faults += faults
    if faults or not record.is_whole:
        if entry.is_ticked:
            cart.rows.setdefault(listed.name, record.row.number)
        return
    real = as_measured(cart, record, listed)
    if not entry.is_ticked:
        if real != listed:
            rule = "the row is written over but not ticked: the board counts as not taken"
            cart.warn(record, None, rule)
    elif cart.take(record, "board", real) and real != listed:
        cart.corrected.append(listed.name)


def _differences(record: Record, listed: Board) -> Iterator[Fault]:
    """Yield what says that the project means another board by this name."""
    if listed.is_owned:
        yield record.fault("board", "the project has this board on the rack already")
    other = "is the sheet another project's, or has the project changed?"
    species, thick = record.get("species"), record.get("thick")
    if species and species.casefold() != listed.species.casefold():
        yield record.fault("species", f"the project has {listed.species!r} here: {other}")
    if thick not in (None, listed.thickness):
        label = listed.thickness.label
        yield record.fault("thick", f"the project has {label!r} here: {other}")


def _add_found(cart: Cart, entries: tuple[Entry, ...]) -> None:
    """Put the boards that were found instead into the cart."""
    unit = cart.project.unit
    rows = (entry.row for entry in entries)
    records = records_of(rows, FOUND_ROWS, unit, cart.findings)
    cart.reserve(record.get(FOUND) for record in records)
    for entry, record in zip(entries, records, strict=True):
        board = found_board(cart, entry.yard, record)
        if board and cart.take(record, FOUND, board):
            cart.found.append(board.name)
            words = (record.get(PLACE) or board.species, record.get("marks") or "")
            cart.notes[board.name] = Note(*words)
