"""The sheet to take to the yard: boards to buy, prices to correct, sums that follow."""

from __future__ import annotations

import math
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from reports.frames import Record, records
from reports.sheets.board_rows import board_cells, board_head
from reports.sheets.content import Content, amount
from reports.sheets.page import (
    HEAD,
    TICK_ROW,
    TICKED_BOX,
    Cell,
    Page,
    head_row,
    text,
    tick,
)
from reports.sheets.rack import add_rack
from reports.sheets.supplies import add_supplies
from stock.measures import BOARD_FEET_PER_M3, Unit
from stock.yards import Yard

SPARE_ROWS = 3
_EDGES = {"rough": 0, "S2S": 0, "S3S": 1, "S4S": 2}

_INCH_WIDTHS = (5.0, 14, 16, 8, 10, 9, 8, 10, 10, 9, 10, 10, 9, 10)
_MM_WIDTHS = (5.0, 13, 13, 8, 10, 9, 7, 10, 9, 8, 8, 10, 10, 8, 10)


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


def buy_page(content: Content) -> Page:
    """Describe the sheet; `names` of the page tells the rows of its totals.

    `wood` is the row of everything to pay for wood, `yard NAME` of one yard's total,
    `supplies` of the supplies; the amounts are in the last column.
    """
    widths = _INCH_WIDTHS if content.unit is Unit.INCH else _MM_WIDTHS
    page = Page(name="Buy", widths=widths, frozen=2)
    per = "board foot" if content.unit is Unit.INCH else "cubic metre"
    page.top(
        "Buy",
        f"Lengths in {content.unit_name}. Prices per {per}; yellow cells can be changed"
        " and the sums follow. Tick what is in the cart.",
    )
    yards = _yards(content)
    for yard in yards:
        _add_yard(page, content, yard)
    if not yards:
        page.paragraph("Nothing has to be bought: the rack holds everything.", "plain bold")
    _add_wood_total(page, content, yards)
    add_rack(page, content)
    add_supplies(page, content, columns_for(content.unit).pay)
    return page


def _yards(content: Content) -> list[Yard]:
    """Return the yards that the plan buys from, in the order of the plan."""
    known = {yard.name: yard for yard in content.project.yards}
    rows = records(content.frames.boards)
    names = dict.fromkeys(row["where"] for row in rows if row["bought"])
    return [known.get(name, Yard(name=name)) for name in names]


def _add_yard(page: Page, content: Content, yard: Yard) -> None:
    """Append one yard: terms, boards, spare rows, sums."""
    page.heading(yard.name)
    terms = _add_terms(page, yard)
    page.put(board_head(content.unit, "price", "wood", "charges", "to pay"))
    rows = [
        row
        for row in records(content.frames.boards)
        if row["bought"] and row["where"] == yard.name
    ]
    first = len(page.rows) + 1
    for row in rows:
        _add_board(page, content, row, terms, yard)
    last = len(page.rows)
    spare = _add_spares(page, content, terms)
    sums = _Sums(page, content.unit, terms)
    page.names[f"yard {yard.name}"] = sums.add(yard, rows, (first, last, spare))
    page.add(height=8)


def _add_terms(page: Page, yard: Yard) -> Terms:
    """Append the terms of a yard as cells that can be changed."""
    page.put(
        head_row(
            "", "tax", "trip cost", ("smallest order", 2), ("surfacing, per board foot", 2),
            ("straight edge, per board foot", 2), ("note", len(page.widths) - 9),
            height=HEAD,
        )
    )  # fmt: skip
    row = page.add(
        Cell(style="text"),
        Cell(value=float(yard.tax / 100), style="input percent"),
        Cell(value=float(yard.trip_cost), style="input money"),
        Cell(value=float(yard.smallest_order), style="input money", span=2),
        Cell(value=float(yard.surfacing_charge), style="input money", span=2),
        Cell(value=float(yard.straight_edge_charge), style="input money", span=2),
        text(yard.note or None, span=len(page.widths) - 9),
        height=TICK_ROW,
    )
    return Terms(f"$B${row}", f"$C${row}", f"$D${row}", f"$F${row}", f"$H${row}")


def _add_board(page: Page, content: Content, row: Record, terms: Terms, yard: Yard) -> None:
    """Append one board to buy, with live sums."""
    at = len(page.rows) + 1
    columns = columns_for(content.unit)
    is_sheet = row["kind"] == "sheet"
    surfaced, edges = _services(row)
    charges = _charges(row, yard)
    wood = Fraction(row["before_tax"]) - charges
    rate = row["rate"]
    if rate is not None and not is_sheet and content.unit is Unit.MM:
        rate = rate * BOARD_FEET_PER_M3
    priced = "" if is_sheet else f"{columns.priced}{at}*"
    formula = f"={priced}{columns.price}{at}"
    page.add(
        *board_cells(row, content.unit),
        Cell(value=amount(rate), style="input money"),
        Cell(value=amount(wood), style="money", formula=formula),
        Cell(
            value=amount(charges), style="money",
            formula=f"={columns.feet}{at}*({terms.surfacing}*{surfaced}+{terms.edge}*{edges})",
        ),
        Cell(
            value=amount(row["pay"]), style="money",
            formula=f"=ROUND(({columns.wood}{at}+{columns.charges}{at})*(1+{terms.tax}),2)",
        ),
        height=TICK_ROW, ticked=True,
    )  # fmt: skip


def _services(row: Record) -> tuple[int, int]:
    """Return how often a board pays the surfacing and the straight edge charge."""
    if row["kind"] == "sheet":
        return (0, 0)
    return (int(row["surfaced"] != "rough"), _EDGES[row["surfaced"]])


def _charges(row: Record, yard: Yard) -> Fraction:
    """Return what a yard charges for its work on a board, before tax."""
    surfaced, edges = _services(row)
    rate = yard.surfacing_charge * surfaced + yard.straight_edge_charge * edges
    return Fraction(row["board_feet"]) * rate


def _add_spares(page: Page, content: Content, terms: Terms) -> int:
    """Append rows for what was found instead; return the number of the last."""
    unit, columns = content.unit, columns_for(content.unit)
    page.put(
        head_row(
            "", "found instead", "in place of", "thick", "length", "width", "grade",
            ("remark", 2), "board feet", *(("m3",) if unit is Unit.MM else ()),
            "price", "wood", "charges", "to pay",
        )
    )  # fmt: skip
    at = len(page.rows)
    for _ in range(SPARE_ROWS):
        at = len(page.rows) + 1
        feet, volume = f"D{at}*E{at}*F{at}/144", f"D{at}*E{at}*F{at}/1000000000"
        if unit is Unit.MM:
            feet = f"{volume}*{float(BOARD_FEET_PER_M3)!r}"
        amounts = [("feet", feet)] + ([("volume", volume)] if unit is Unit.MM else [])
        page.add(
            tick(),
            Cell(style="input text"),
            Cell(style="input text"),
            *(Cell(style="input length") for _ in range(3)),
            Cell(style="input text"),
            Cell(style="input text", span=2),
            *(_if_measured(at, what, style) for style, what in amounts),
            Cell(style="input money"),
            _if_measured(at, f"{columns.priced}{at}*{columns.price}{at}", "money"),
            Cell(style="input money"),
            _if_measured(
                at,
                f"ROUND(({columns.wood}{at}+{columns.charges}{at})*(1+{terms.tax}),2)",
                "money",
            ),
            height=TICK_ROW,
        )
    return at


def _if_measured(at: int, what: str, style: str) -> Cell:
    """Return a cell that stays empty until a row's three sizes are filled in."""
    return Cell(value="", style=style, formula=f'=IF(COUNT(D{at}:F{at})=3,{what},"")')


class _Sums:
    """Appends the sums of one yard's boards."""

    def __init__(self, page: Page, unit: Unit, terms: Terms) -> None:
        self._page = page
        self._unit = unit
        self._terms = terms
        self._columns = columns_for(unit)

    def add(self, yard: Yard, rows: list[Record], span: tuple[int, int, int]) -> int:
        """Append all sums; return the row of what is to pay.

        `span` is the first and last row of boards, and the last row of spare ones.
        """
        columns, terms = self._columns, self._terms
        first, _, spare = span
        pay = sum((row["pay"] for row in rows), Decimal(0))
        top_up, trip = _top_up(yard, rows), _cents(yard.trip_cost)
        at = self._boards(yard, rows, pay, span)
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
            Decimal(0), f'=SUMIF({ticks},"{TICKED_BOX}",{pays})',
        )  # fmt: skip
        return total

    def _boards(
        self, yard: Yard, rows: list[Record], pay: Decimal, span: tuple[int, int, int]
    ) -> int:
        """Append the sums of the boards as planned and return their row."""
        columns = self._columns
        feet = sum((Fraction(row["board_feet"]) for row in rows), Fraction(0))
        charges = sum((_charges(row, yard) for row in rows), Fraction(0))
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
            text("boards as planned", "total text", span=8),
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


def _add_wood_total(page: Page, content: Content, yards: list[Yard]) -> None:
    """Append what is paid for wood at all yards together."""
    column = columns_for(content.unit).pay
    cells = [f"{column}{page.names[f'yard {yard.name}']}" for yard in yards]
    value = amount(content.plan.totals.to_pay) or 0.0
    formula = "=" + ("+".join(cells) or "0")
    label = "to pay for wood, all yards"
    page.names["wood"] = add_amount(page, label, value, formula, "total ")
    page.add(height=8)


def _top_up(yard: Yard, rows: list[Record]) -> Decimal:
    """Return what a yard bills beyond its goods to reach its smallest order."""
    goods = sum((Fraction(row["before_tax"]) for row in rows), Fraction(0))
    return _cents(max(Fraction(0), yard.smallest_order - goods) * (1 + yard.tax / 100))


def _cents(money: Fraction) -> Decimal:
    """Return money in whole cents, halves up."""
    return Decimal(math.floor(money * 100 + Fraction(1, 2))) / 100
