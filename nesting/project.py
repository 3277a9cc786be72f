"""Everything a project file says, read, checked across tables, and frozen."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from fractions import Fraction
from pathlib import Path

from nesting.contract import TABLES
from nesting.drawn import Drawn
from nesting.goods import Sheet, sheets_from
from nesting.outlined import drawn_rows, filled
from nesting.parts import Part, Way
from nesting.reading import (
    boards_from,
    missing_files,
    parts_from,
    prices_from,
    yards_from,
)
from nesting.settings import shop_from
from nesting.templates import templates_for
from stock.boards import Board
from stock.cells import Record, records_of
from stock.errors import Fault
from stock.measures import Unit
from stock.rows import Findings, read_tables, suggestion
from stock.shop import Shop
from stock.yards import Price, Tariff, Yard, tariff_for

Records = Mapping[str, tuple[Record, ...]]


@dataclass(frozen=True, kw_only=True, slots=True)
class Supply:
    """Something else the project buys; `qty` None means `auto`, computed from areas.

    Attributes
    ----------
    coverage
        Of a finish: square feet, in a metric project square metres, that one `unit`
        covers with one coat; None goes by the shop's setting, as does None in `coats`.
    """

    item: str
    qty: Fraction | None
    unit: str
    pack: Fraction
    price: Fraction
    coverage: Fraction | None = None
    coats: Fraction | None = None
    note: str = ""


@dataclass(frozen=True, kw_only=True, slots=True)
class Project:
    """A project: what is to be made, and the wood, places and habits to make it with.

    Attributes
    ----------
    closed
        Yards where nothing may be bought; what they ask still tells what owned wood is
        worth. No project file says so: it serves to compare.
    kept
        Boards that a set may come from, where it is to look alike; likewise.
    stamps
        Of the boards that lie on the rack, by name: a sign of what they are now.
    ways
        How many copies of a part are to be made in which way, where a search has chosen;
        likewise. A part that is not named is made as its blank says.
    """

    name: str
    shop: Shop
    parts: tuple[Part, ...]
    boards: tuple[Board, ...] = ()
    yards: tuple[Yard, ...] = ()
    prices: tuple[Price, ...] = ()
    sheets: tuple[Sheet, ...] = ()
    supplies: tuple[Supply, ...] = ()
    warnings: tuple[Fault, ...] = ()
    closed: frozenset[str] = frozenset()
    kept: Mapping[str, frozenset[str]] = field(default_factory=dict)
    stamps: Mapping[str, str] = field(default_factory=dict)
    ways: Mapping[str, tuple[tuple[Way, int], ...]] = field(default_factory=dict)

    @property
    def unit(self) -> Unit:
        """The unit the project is written in."""
        return self.shop.unit

    @property
    def tariff(self) -> Tariff:
        """What boards cost this project."""
        goods = [sheet.price for sheet in self.sheets]
        return tariff_for(self.shop, self.boards, self.yards, self.prices, goods)

    def sheets_for(self, species: str) -> tuple[Sheet, ...]:
        """Return the sheets that a part of this species is cut from; none if it is wood."""
        return tuple(sheet for sheet in self.sheets if species in sheet.names)

    def part(self, name: str) -> Part:
        """Return the part called `name`; KeyError if there is none."""
        return {part.name: part for part in self.parts}[name]

    def board(self, name: str) -> Board:
        """Return the board called `name`; KeyError if there is none."""
        return {board.name: board for board in self.boards}[name]


def read_project(path: Path | str) -> Project:
    """Return the project in a workbook or a folder of CSV files, checked across tables.

    Raises
    ------
    InputError
        With every fault of every table, in the order of the tables, or with the reason
        why the file can't be read at all.
    """
    path = Path(path)
    findings = Findings()
    rows = read_tables(path, TABLES, findings)
    shop = shop_from(rows["Shop"], findings)
    drawn = drawn_rows(rows["Parts"], _folder(path), shop.unit, findings)
    rows["Parts"] = filled(rows["Parts"], drawn, shop.unit)
    records = _one_spelling(
        {
            table.name: records_of(rows[table.name], table, shop.unit, findings)
            for table in TABLES
            if table.name != "Shop"
        }
    )
    project = _assembled(path, shop, records, drawn, findings)
    made = templates_for(
        (project.parts, project.sheets), shop, records["Parts"], rows["Shop"], findings
    )
    project = replace(project, parts=(*project.parts, *made))
    findings.warnings += missing_files(records["Parts"], records["Boards"], _folder(path))
    findings.check()
    findings.warnings += _warnings(project, records)
    return replace(project, warnings=findings.in_order(findings.warnings))


def _folder(path: Path) -> Path:
    """Return the folder that paths in a project start from."""
    return path if path.is_dir() else path.parent


def _assembled(
    path: Path,
    shop: Shop,
    records: Records,
    drawn: Mapping[int, Drawn],
    findings: Findings,
) -> Project:
    """Return the project of all sound rows, and find what is wrong across tables."""
    unit = shop.unit
    yards = [one["yard"] for one in records["Yards"] if one.get("yard")]
    thicknesses = {
        name: one["thickness"]
        for one in records["Sheets"]
        for name in (one.get("material"), one.get("sheet"))
        if name and one.get("thickness")
    }
    return Project(
        name=path.resolve().name if path.is_dir() else path.stem,
        shop=shop,
        parts=parts_from(records["Parts"], thicknesses, drawn, unit, findings),
        boards=boards_from(records["Boards"], records["Marks"], yards, unit, findings),
        yards=yards_from(records["Yards"], findings),
        prices=prices_from(records["Prices"], yards, unit, findings),
        sheets=sheets_from(records["Sheets"], yards, unit, findings),
        supplies=tuple(_supply(one) for one in records["Supplies"] if one.is_whole),
    )


def _supply(record: Record) -> Supply:
    """Turn a sound row into a supply."""
    return Supply(
        item=record["item"],
        qty=record["qty"],
        unit=record["unit"],
        pack=record["pack"],
        price=record["price"],
        coverage=record["coverage"],
        coats=record["coats"],
        note=record["note"] or "",
    )


def _one_spelling(records: Records) -> Records:
    """Return the records with each species spelled one way, whatever its case.

    Sheet goods keep the name they have in Sheets, a wood its first spelling.
    """
    known = [
        one[column]
        for one in records["Sheets"]
        for column in ("sheet", "material")
        if one.get(column)
    ]
    first = {name.casefold(): name for name in reversed(known)}

    def respelled(record: Record) -> Record:
        name = record.get("species")
        if name is None:
            return record
        own = name if name in known else first.setdefault(name.casefold(), name)
        return replace(record, values={**record.values, "species": own})

    return {
        table: tuple(respelled(record) for record in rows)
        for table, rows in records.items()
    }


def _warnings(project: Project, records: Records) -> Iterable[Fault]:
    """Yield what a sound project may still have forgotten."""
    yield from _unlisted_species(project, records["Parts"])
    yield from _unpriced_boards(project, records["Boards"])


def _unlisted_species(project: Project, parts: tuple[Record, ...]) -> Iterable[Fault]:
    """Yield a warning for the first part of every species that nobody has or sells."""
    woods = [board.species for board in project.boards]
    woods += [line.species for line in project.prices]
    goods = [name for sheet in project.sheets for name in sheet.names]
    if not woods:
        if parts and not {part.species for part in project.parts}.issubset(goods):
            rule = (
                "no boards and no prices are listed: the design can be checked, not planned"
            )
            yield Fault(parts[0].row.source, None, None, rule)
        return
    known = dict.fromkeys([*woods, *goods])
    told: set[str] = set()
    for part in parts:
        species = part["species"]
        if species not in known and species not in told:
            told.add(species)
            hint = suggestion(species, known)
            yield part.fault("species", f"no board, price or sheet of this is listed{hint}")


def _unpriced_boards(project: Project, boards: tuple[Record, ...]) -> Iterable[Fault]:
    """Yield a warning for every board on offer that would count as free."""
    tariff = project.tariff
    if tariff.by_feet:
        return
    for record, board in zip(boards, project.boards, strict=True):
        if not board.is_owned and tariff.rate(board) is None:
            rule = (
                f"no price, here or in Prices of {board.where!r}: the board counts as free"
            )
            yield record.fault("price", rule)
