"""Columns and sums of the buying sheet: what a board, a yard and all yards come to."""

from __future__ import annotations

import math
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from reports.frames import Record
from reports.sheets.cells import TICKED_BOX, Cell, text
from reports.sheets.page import Page
from stock.measures import BOARD_FEET_PER_M3, Unit
from stock.yards import Yard

AS_PLANNED = "boards as planned"  # ends the rows of a yard
_EDGES = {"rough": 0, "S2S": 0, "S3S": 1, "S4S": 2}


@dataclass(frozen=True, slots=True)
class Columns:
    """Letters of the columns that formulas speak of."""

    feet: str
    volume: str
    price: str
    wood: str
    charges: str
    pay: str

    @property
    def priced(self) -> str:
        """Column of the amount that the price is for: board feet or cubic metres."""
        return self.volume or self.feet


@dataclass(frozen=True, slots=True)
class Terms:
    """Cells that hold a yard's terms."""

    tax: str
    trip: str
    smallest: str
    surfacing: str
    edge: str


def columns_for(unit: Unit) -> Columns:
    """Return the columns; metric lists have one more, for cubic metres."""
    if unit is Unit.INCH:
        return Columns("J", "", "K", "L", "M", "N")
    return Columns("J", "K", "L", "M", "N", "O")


class Sums:
    """Appends the sums of one yard's boards."""

    def __init__(self, page: Page, unit: Unit, terms: Terms) -> None:
        self._page = page
        self._unit = unit
        self._terms = terms
        self._columns = columns_for(unit)

    def add(
        self, yard: Yard, rows: list[Record], taken: list[Record],
        span: tuple[int, int, int],
    ) -> int:  # fmt: skip
        """Append all sums; return the row of what is to pay.

        `taken` are those of the boards that were taken before. `span` is the first and
        last row of boards, and the last row of spare ones. The
        name `boards YARD` tells the row of the boards alone; top-up and trip follow it.
        """
        columns, terms = self._columns, self._terms
        first, _, spare = span
        pay = sum((row["pay"] for row in rows), Decimal(0))
        top_up, trip = _top_up(yard, rows), _cents(yard.trip_cost)
        at = self._boards(yard, rows, pay, span)
        self._page.names[f"boards {yard.name}"] = at
        goods = f"{columns.wood}{at}-{columns.charges}{at}"
        self._money(
            "up to the yard's smallest order", top_up,
            f"=ROUND(MAX(0,{terms.smallest}-{goods})*(1+{terms.tax}),2)",
        )  # fmt: skip
        self._money("trip", trip, f"={terms.trip}")
        total = self._money(
            f"to pay at {yard.name}", pay + top_up + trip,
            f"=SUM({columns.pay}{at}:{columns.pay}{at + 2})", style="total ",
        )  # fmt: skip
        ticks = f"$A${first}:$A${spare}"
        pays = f"${columns.pay}${first}:${columns.pay}${spare}"
        self._money(
            "ticked, with what was found instead, before trip and smallest order",
            sum((row["pay"] for row in taken), Decimal(0)),
            f'=SUMIF({ticks},"{TICKED_BOX}",{pays})',
        )  # fmt: skip
        return total

    def _boards(
        self, yard: Yard, rows: list[Record], pay: Decimal, span: tuple[int, int, int]
    ) -> int:
        """Append the sums of the boards as planned and return their row."""
        columns = self._columns
        feet = sum((Fraction(row["board_feet"]) for row in rows), Fraction(0))
        charges = sum((charges_of(row, yard) for row in rows), Fraction(0))
        goods = sum((Fraction(row["before_tax"]) for row in rows), Fraction(0))
        summed = [(columns.feet, "total feet", float(feet))]
        if columns.volume:
            volume = float(feet / BOARD_FEET_PER_M3)
            summed.append((columns.volume, "total volume", volume))
        amounts = ((columns.wood, goods - charges), (columns.charges, charges))
        money = [(column, "total money", float(value)) for column, value in amounts]
        money.append((columns.pay, "total money", float(pay)))
        return self._page.add(
            Cell(style="total text"),
            text(AS_PLANNED, "total text", span=8),
            *(self._sum(*one, span) for one in summed),
            Cell(style="total text"),
            *(self._sum(*one, span) for one in money),
        )

    def _sum(
        self, column: str, style: str, value: float, span: tuple[int, int, int]
    ) -> Cell:
        """Return the sum of a column over the boards as planned."""
        return Cell(
            value=value, style=style, formula=f"=SUM({column}{span[0]}:{column}{span[1]})"
        )

    def _money(self, label: str, value: Decimal, formula: str, style: str = "") -> int:
        """Append a labelled amount in the last column and return its row."""
        return add_amount(self._page, label, float(value), formula, style)


def add_amount(page: Page, label: str, value: float, formula: str, style: str = "") -> int:
    """Append an amount in the last column, its label before it; return the row."""
    return page.add(
        Cell(style=f"{style}text"),
        text(label, f"{style}text", span=len(page.widths) - 2),
        Cell(value=value, style=f"{style}money", formula=formula),
    )


def services(row: Record) -> tuple[int, int]:
    """Return how often a board pays the surfacing and the straight edge charge."""
    if row["kind"] == "sheet":
        return (0, 0)
    return (int(row["surfaced"] != "rough"), _EDGES[row["surfaced"]])


def charges_of(row: Record, yard: Yard) -> Fraction:
    """Return what a yard charges for its work on a board, before tax."""
    surfaced, edges = services(row)
    rate = yard.surfacing_charge * surfaced + yard.straight_edge_charge * edges
    return Fraction(row["board_feet"]) * rate


def _top_up(yard: Yard, rows: list[Record]) -> Decimal:
    """Return what a yard bills beyond its goods to reach its smallest order."""
    goods = sum((Fraction(row["before_tax"]) for row in rows), Fraction(0))
    return _cents(max(Fraction(0), yard.smallest_order - goods) * (1 + yard.tax / 100))


def _cents(money: Fraction) -> Decimal:
    """Return money in whole cents, halves up."""
    return Decimal(math.floor(money * 100 + Fraction(1, 2))) / 100
