"""The rows of a tally sheet: what is ticked, what is written over, what is written in.

The tally sheet is the sheet Buy of a plan's workbook. Its tables are found by their
headings and its yards by theirs, so rows and columns may have been moved or added.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from fractions import Fraction

from nesting.reading import spelled
from reports.sheets.cells import EMPTY_BOX, TICKED_BOX
from reports.sheets.found import FOUND
from reports.sheets.sums import AS_PLANNED
from stock.boards import GRADES
from stock.cells import shown
from stock.errors import Fault
from stock.rows import Column, Findings, Row, Table, folded
from stock.tables import Grid

_SIZES = (
    Column(name="length", kind="measure", otherwise="as listed", meaning="as measured"),
    Column(name="width", kind="measure", otherwise="as listed", meaning="as measured"),
    Column(name="grade", kind="word", words=GRADES, meaning="NHLA grade"),
    Column(name="price", kind="money", meaning="as in the project's boards"),
)
_THICK = Column(name="thick", kind="thickness", meaning="rough thickness, as 4/4")

LISTED_ROWS = Table(
    name="boards to buy",
    meaning="boards that the plan buys",
    columns=(
        Column(name="board", kind="name", needed=True, meaning="name of a board"),
        Column(name="species", kind="name", needed=True, meaning="wood species"),
        _THICK,
        *_SIZES,
    ),
)
FOUND_ROWS = Table(
    name=FOUND,
    meaning="boards that were found instead",
    columns=(
        Column(name=FOUND, kind="name", meaning="name; one is given to a board without"),
        Column(name="in place of", kind="name", meaning="name of a listed board"),
        _THICK,
        *_SIZES,
        Column(name="marks", kind="text", meaning="marks as `stock.marknotes` reads them"),
    ),
)

TERMS_ROWS = Table(
    name="terms",
    meaning="terms of a yard",
    columns=(
        Column(name="tax", kind="percent", high=Fraction(100), meaning="percent"),
        Column(name="trip cost", kind="money", meaning="of going there"),
        Column(name="smallest order", kind="money", meaning="billed at least"),
        Column(name="surfacing, per board foot", kind="money", meaning="charge"),
        Column(name="straight edge, per board foot", kind="money", meaning="charge"),
    ),
)

_TICKS = {TICKED_BOX, "\N{BALLOT BOX WITH CHECK}", "\N{CHECK MARK}", "\N{HEAVY CHECK MARK}",
          "x", "1", "y", "yes", "true"}  # fmt: skip
_BLANKS = {EMPTY_BOX, "0", "n", "no", "false", "-"}


@dataclass(frozen=True, slots=True)
class Entry:
    """A row of a tally sheet; `yard` is the one whose heading stands above it."""

    row: Row
    yard: str | None
    is_ticked: bool


@dataclass(frozen=True, slots=True)
class Entries:
    """Rows of listed boards, those where something was written in, terms of the yards."""

    listed: tuple[Entry, ...]
    found: tuple[Entry, ...]
    terms: tuple[Entry, ...]


def entries_of(grid: Grid, yards: Iterable[str], findings: Findings) -> Entries:
    """Return the rows of a tally sheet that say something."""
    yards = tuple(yards)
    kinds: dict[str, list[Entry]] = {
        table.name: [] for table in (LISTED_ROWS, FOUND_ROWS, TERMS_ROWS)
    }
    for table, yard, row, box in _rows(grid, yards, findings):
        is_written = any(cell is not None for cell in row.cells.values())
        if table is TERMS_ROWS:
            if is_written:
                kinds[table.name].append(Entry(row, yard, is_ticked=False))
            continue
        if table is LISTED_ROWS and box is None:
            continue  # no board: each has a box, ticked or not
        ticked = box_ticked(box)
        if ticked is None and is_written:
            rule = f"tick what was taken with {TICKED_BOX} or x, and nothing else"
            findings.faults.append(row.fault("A", rule, shown(box)))
        elif ticked and not is_written:
            rule = "the row is ticked, but nothing is written in it"
            findings.faults.append(row.fault("A", rule))
        elif is_written:
            kinds[table.name].append(Entry(row, yard, bool(ticked)))
    listed, found, terms = (tuple(entries) for entries in kinds.values())
    return Entries(listed, found, terms)


def _rows(
    grid: Grid, yards: tuple[str, ...], findings: Findings
) -> Iterator[tuple[Table, str | None, Row, object]]:
    """Yield each row of a table: the table, its yard, its cells by column, its tick box."""
    table: Table | None = None
    yard: str | None = None
    places: dict[str, int] = {}
    for number, cells in grid.rows:
        texts = [shown(cell) for cell in cells if cell is not None]
        heads = {folded(shown(cell)): n for n, cell in enumerate(cells) if cell is not None}
        if len(texts) == 1 and cells[0] is not None and spelled(texts[0], yards):
            table, yard = None, spelled(texts[0], yards)
        elif AS_PLANNED in texts:
            table = yard = None
        elif _is_head(heads):
            table = _table_of(heads)
            places = _places(table, heads, grid, number, findings) if table else {}
        elif table is not None:
            picked = {name: _at(cells, n) for name, n in places.items()}
            yield table, yard, Row(grid.source, number, picked), _at(cells, 0)


def _is_head(heads: dict[str, int]) -> bool:
    """Whether a row is the head of any table of the sheet."""
    return any({first, other} <= heads.keys() for first, other in _HEADS)


_HEADS = (
    ("board", "species"),
    (folded(FOUND), "inplaceof"),
    ("item", "quantity"),
    ("tax", "tripcost"),
)


def _table_of(heads: dict[str, int]) -> Table | None:
    """Return the table under a head; None for wood of the rack, and for supplies."""
    if folded(FOUND) in heads:
        return FOUND_ROWS
    if "tripcost" in heads:
        return TERMS_ROWS
    return LISTED_ROWS if "board" in heads and "price" in heads else None


def _places(
    table: Table, heads: dict[str, int], grid: Grid, number: int, findings: Findings
) -> dict[str, int]:
    """Return the place of each column; a column that is gone is a fault."""
    for column in table.columns:
        if folded(column.name) not in heads:
            rule = "the column is missing: write the plan's workbook anew and fill that in"
            findings.faults.append(Fault(grid.source, number, column.name, rule))
    return {
        column.name: heads[folded(column.name)]
        for column in table.columns
        if folded(column.name) in heads
    }


def _at(cells: tuple[object, ...], place: int) -> object:
    return cells[place] if place < len(cells) else None


def box_ticked(box: object) -> bool | None:
    """Return whether a box is ticked; None if that can't be told."""
    word = "" if box is None else shown(box).strip().casefold()
    if not word or word in _BLANKS:
        return False
    return True if word in _TICKS else None
