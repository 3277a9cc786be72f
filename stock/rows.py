"""Tables by contract: headings matched tolerantly, rows with their addresses.

A `Table` says which columns there are and what each holds; `read_tables` finds them in a
workbook or a folder of CSV files and gives `Row`s. What is wrong is collected in a
`Findings`, so that a maker sees everything at once.
"""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from pathlib import Path

from stock.errors import Fault, InputError
from stock.tables import Grid, read_grids


@dataclass(frozen=True, kw_only=True, slots=True)
class Column:
    """One column of a table.

    Attributes
    ----------
    name
        Heading, as the documentation shows it.
    kind
        How a cell is read; one of `stock.cells.KINDS`.
    needed
        Whether every row must fill it.
    default
        What a blank cell counts as, written as a maker would; None leaves it blank.
    otherwise
        What a blank cell means, in words, where `default` can't say it.
    words
        Accepted words of the kinds `word` and `words`.
    low, high
        Accepted range of numbers and counts; sizes are checked against `low` only.
    meaning
        One sentence for the maker.
    """

    name: str
    kind: str
    needed: bool = False
    default: str | None = None
    otherwise: str = ""
    words: tuple[str, ...] = ()
    low: Fraction | None = None
    high: Fraction | None = None
    meaning: str


@dataclass(frozen=True, kw_only=True, slots=True)
class Table:
    """One table of a project file; `needed` if a file without it is refused."""

    name: str
    columns: tuple[Column, ...]
    needed: bool = False
    meaning: str

    def column(self, name: str) -> Column:
        """Return the column called `name`; KeyError if there is none."""
        return {column.name: column for column in self.columns}[name]


@dataclass(frozen=True, slots=True)
class Row:
    """One row of a table; `cells` holds the columns that the file has, blanks as None."""

    source: str
    number: int
    cells: Mapping[str, object]

    def fault(self, column: str | None, rule: str, got: str | None = None) -> Fault:
        """Return a fault in this row."""
        return Fault(self.source, self.number, column, rule, got)


@dataclass(slots=True)
class Findings:
    """What reading a file brought up: faults that stop it, warnings that do not."""

    faults: list[Fault] = field(default_factory=list)
    warnings: list[Fault] = field(default_factory=list)
    _places: list[str] = field(default_factory=list)

    def in_order(self, found: Iterable[Fault]) -> tuple[Fault, ...]:
        """Return faults or warnings by table, then by row, then as they were found."""
        places = {source: place for place, source in enumerate(self._places)}
        last = len(places)
        return tuple(
            sorted(found, key=lambda one: (places.get(one.source, last), one.row or 0))
        )

    def rank(self, sources: Iterable[str]) -> None:
        """Set the order of the tables."""
        self._places = list(sources)

    def check(self) -> None:
        """Raise every fault found so far, in the order of the file.

        Raises
        ------
        InputError
            If there is any fault.
        """
        if self.faults:
            raise InputError(self.in_order(self.faults))


def read_tables(
    path: Path, tables: Iterable[Table], findings: Findings
) -> dict[str, tuple[Row, ...]]:
    """Return the rows of each table by its name; a table that is not there has none.

    Raises
    ------
    InputError
        If the file can't be read at all. All else is added to `findings`.
    """
    return tables_in(read_grids(path), tables, path.name, findings)


def tables_in(
    grids: Iterable[Grid], tables: Iterable[Table], name: str, findings: Findings
) -> dict[str, tuple[Row, ...]]:
    """Return the rows of each table by its name, as `read_tables` does.

    `name` is that of the file.
    """
    tables = tuple(tables)
    found = _by_table(grids, tables, name, findings)
    findings.rank(found[table.name].source for table in tables if table.name in found)
    return {
        table.name: _rows(found[table.name], table, findings) if table.name in found else ()
        for table in tables
    }


def folded(text: str) -> str:
    """Return a name without the differences that headings and words may have."""
    return "".join(char for char in text.casefold() if char not in " _\t\n\r\xa0")


def nearest(name: str, known: Iterable[str]) -> str | None:
    """Return the known name most like `name`, or None if none is alike."""
    by_fold = {folded(one): one for one in known}
    close = difflib.get_close_matches(folded(name), by_fold, n=1, cutoff=0.6)
    return by_fold[close[0]] if close else None


def suggestion(name: str, known: Iterable[str]) -> str:
    """Return `; did you mean 'X'?`, or nothing if no known name is alike."""
    close = nearest(name, known)
    return f"; did you mean {close!r}?" if close else ""


def _by_table(
    grids: Iterable[Grid], tables: tuple[Table, ...], name: str, findings: Findings
) -> dict[str, Grid]:
    """Find the grid of each table; grids that are no table of ours are left alone."""
    known = {folded(table.name): table.name for table in tables}
    found: dict[str, Grid] = {}
    others: list[Grid] = []
    for grid in grids:
        table = known.get(folded(grid.title))
        if table is None:
            others.append(grid)
        elif table in found:
            rule = f"there are two tables {table!r}: keep one"
            findings.faults.append(Fault(grid.source, None, None, rule))
        else:
            found[table] = grid
    _warn_of_near_titles(others, set(known.values()) - set(found), findings)
    for table in (one.name for one in tables if one.needed and one.name not in found):
        rule = f"the table {table!r} is missing"
        findings.faults.append(Fault(name, None, None, rule))
    return found


def _warn_of_near_titles(grids: list[Grid], absent: set[str], findings: Findings) -> None:
    """Warn of a sheet that is not read, though its title is much like a missing one."""
    for grid in grids:
        close = difflib.get_close_matches(
            grid.title.casefold(), map(str.casefold, absent), n=1
        )
        if close:
            meant = next(table for table in absent if table.casefold() == close[0])
            rule = f"this table is not read; did you mean {meant!r}?"
            findings.warnings.append(Fault(grid.source, None, None, rule))


def _rows(grid: Grid, table: Table, findings: Findings) -> tuple[Row, ...]:
    """Return the rows under the headings of row 1."""
    if not grid.rows or grid.rows[0][0] != 1:
        if grid.rows or table.needed:
            rule = "row 1 holds the headings, and it is blank"
            findings.faults.append(Fault(grid.source, 1, None, rule))
        return ()
    places = _headings(grid, grid.rows[0][1], table, findings)
    rows = []
    for number, cells in grid.rows[1:]:
        picked = {name: cells[n] if n < len(cells) else None for name, n in places.items()}
        row = Row(grid.source, number, picked)
        _find_strays(row, cells, grid, findings)
        if any(cell is not None for cell in picked.values()):
            rows.append(row)
    if table.needed and not rows:
        rule = f"the table has no rows: it needs {table.meaning}"
        findings.faults.append(Fault(grid.source, None, None, rule))
    return tuple(rows)


def _headings(
    grid: Grid, cells: tuple[object, ...], table: Table, findings: Findings
) -> dict[str, int]:
    """Return the place of each known column; complain of what is unknown or missing."""
    known = {folded(column.name): column.name for column in table.columns}
    places: dict[str, int] = {}
    for place, cell in enumerate(cells):
        if cell is None:
            continue
        name = known.get(folded(str(cell)))
        if name is None:
            hint = suggestion(str(cell), known.values())
            rule = f"this column is not known and not read{hint}"
            findings.warnings.append(Fault(grid.source, 1, str(cell), rule))
        elif name in places:
            findings.faults.append(
                Fault(grid.source, 1, name, "the column stands twice: keep one")
            )
        else:
            places[name] = place
    findings.faults += [
        Fault(grid.source, 1, column.name, "the column is missing, and every row needs it")
        for column in table.columns
        if column.needed and column.name not in places
    ]
    return places


def _find_strays(
    row: Row, cells: tuple[object, ...], grid: Grid, findings: Findings
) -> None:
    """Refuse a CSV row with more cells than headings: a comma split one of its texts."""
    if grid.is_text and any(cell is not None for cell in cells[len(grid.rows[0][1]) :]):
        rule = "the row has more cells than headings: put texts with commas in quotes"
        findings.faults.append(row.fault(None, rule))
