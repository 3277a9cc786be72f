"""What fills while a tally sheet is read: boards and sheet goods taken, and faults."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from fractions import Fraction

from nesting.project import Project, Sheet
from nesting.taken import Note, Taken
from stock.boards import Board
from stock.cells import Record
from stock.measures import steps_per_unit, supply_steps
from stock.rows import Findings
from stock.yards import Yard

_NEAR = Fraction(1, 1000)  # of a price: what a cell may be off by its decimals


def is_near(amount: Fraction, shown: Fraction) -> bool:
    """Whether a cell still shows an amount, up to the decimals that it keeps."""
    return abs(amount - shown) <= shown * _NEAR


@dataclass(slots=True)
class Cart:
    """What was taken so far.

    Attributes
    ----------
    listed
        Boards of the project that stand on the sheet, each with the yard it stands under.
    rows
        The row that each board of the cart was taken in.
    notes
        What the row of a found board says beside its sizes.
    prices
        Of one sheet of each kind of sheet goods that is ticked.
    yards, terms
        Yards whose terms were changed, and in words what was.
    """

    project: Project
    findings: Findings
    boards: list[Board] = field(default_factory=list)
    listed: dict[str, str | None] = field(default_factory=dict)
    rows: dict[str, int] = field(default_factory=dict)
    sheets: dict[str, int] = field(default_factory=dict)
    corrected: list[str] = field(default_factory=list)
    found: list[str] = field(default_factory=list)
    notes: dict[str, Note] = field(default_factory=dict)
    prices: dict[str, Fraction] = field(default_factory=dict)
    yards: list[Yard] = field(default_factory=list)
    terms: list[str] = field(default_factory=list)
    _names: set[str] = field(default_factory=set)

    def take(self, record: Record, column: str, board: Board) -> bool:
        """Take a board and return whether it is the first of its name."""
        first = self.rows.setdefault(board.name, record.row.number)
        if first != record.row.number:
            rule = f"this board is taken in row {first} already"
            self.fault(record, column, rule)
            return False
        if self._counts_as_free(board):
            rule = "no price is known for this board: it counts as free"
            self.warn(record, "price", rule)
        self.boards.append(board)
        return True

    def add_sheet(self, record: Record, sheet: Sheet, *, is_ticked: bool) -> None:
        """Count one of the sheets of sheet goods if it is ticked."""
        for column, side in (("length", sheet.length), ("width", sheet.width)):
            if self.size(record, column, side) != side:
                rule = "sheet goods have one size: it stands in the project's table Sheets"
                self.fault(record, column, rule)
        written = self.price(record, sheet.price)
        if not is_ticked:
            if written is not None:
                rule = "the price is written over but the row not ticked: it counts nothing"
                self.warn(record, "price", rule)
            return
        price = sheet.price if written is None else written
        if self.prices.setdefault(sheet.name, price) != price:
            rule = f"all sheets of {sheet.name!r} have one price: write it in each row"
            self.fault(record, "price", rule)
        self.sheets[sheet.name] = self.sheets.get(sheet.name, 0) + 1

    def reserve(self, names: Iterable[str | None]) -> None:
        """Keep names from being given to boards without one."""
        self._names |= {name.casefold() for name in names if name}
        self._names |= {board.name.casefold() for board in self.project.boards}

    def new_name(self) -> str:
        """Return a name that no board has: `found 1`, `found 2`."""
        number = 1
        while f"found {number}" in self._names:
            number += 1
        self._names.add(f"found {number}")
        return f"found {number}"

    def size(self, record: Record, column: str, listed: int) -> int:
        """Return a measured size in grid steps, the listed one if the cell is blank.

        A cell that is less than half a step off shows the listed size too.
        """
        size = record.get(column)
        if size is None:
            return listed
        steps = size * steps_per_unit(self.project.unit)
        near = abs(steps - listed) < Fraction(1, 2)
        return listed if near else supply_steps(size, self.project.unit)

    def price(self, record: Record, shown: Fraction | None) -> Fraction | None:
        """Return the price written in a row, None if it is `shown` there already.

        In a project that counts board feet a price would make all else count as free.
        """
        price: Fraction | None = record.get("price")
        if price is None or self.project.tariff.by_feet:
            return None
        return None if shown is not None and is_near(price, shown) else price

    def rate(self, board: Board) -> Fraction | None:
        """Return what a board is asked at in the project's measure, None if unknown."""
        return self.project.tariff.asked(board)

    def fault(self, record: Record, column: str | None, rule: str) -> None:
        """Add a fault in a row."""
        self.findings.faults.append(record.fault(column, rule))

    def warn(self, record: Record, column: str | None, rule: str) -> None:
        """Add something odd in a row."""
        self.findings.warnings.append(record.fault(column, rule))

    def taken(self) -> Taken:
        """Return all that was taken."""
        prices = self._changed_prices()
        return Taken(
            boards=tuple(self.boards),
            sheets=dict(self.sheets),
            corrected=tuple(self.corrected),
            found=tuple(self.found),
            notes=dict(self.notes),
            prices=prices,
            yards=tuple(self.yards),
            terms=(*self.terms, *(f"price of {name}" for name in prices)),
            warnings=self.findings.in_order(self.findings.warnings),
        )

    def _changed_prices(self) -> dict[str, Fraction]:
        """Return the prices of sheet goods that are not the project's."""
        listed = {sheet.name: sheet.price for sheet in self.project.sheets}
        return {name: price for name, price in self.prices.items() if price != listed[name]}

    def _counts_as_free(self, board: Board) -> bool:
        """Whether a board costs nothing where others have a price."""
        return not self.project.tariff.by_feet and self.rate(board) is None
