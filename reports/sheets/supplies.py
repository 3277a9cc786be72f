"""The part of the buying sheet that lists what else the project buys."""

from __future__ import annotations

from decimal import Decimal

from reports.sheets.cells import HEADING, ROW, TICK_ROW, Cell, head_row, number, text, tick
from reports.sheets.content import Content
from reports.sheets.page import LEAST, Page
from reports.supplies import Need, needs_for


def add_supplies(page: Page, content: Content, money: str) -> None:
    """Append the supplies with live sums; `money` is the letter of the last column."""
    needs = list(needs_for(content.project, content.plan))
    if not needs:
        return
    rest = len(page.widths) - 8
    head = head_row(
        "", "item", "quantity", "unit", "pack", "packs", "price", ("remark", rest), "to pay"
    )
    whole = HEADING + 2 * ROW + len(needs) * TICK_ROW
    page.keep(whole if whole <= page.fresh else HEADING + ROW + LEAST * TICK_ROW)
    page.heading("Supplies (not part of the cost of wood)")
    page.put(head)
    page.again = (head,)
    first = len(page.rows) + 1
    for need in needs:
        _add_need(page, need, rest)
    last = len(page.rows)
    total = sum((need.cost for need in needs), Decimal(0))
    page.names["supplies"] = page.add(
        Cell(style="total text"),
        text("supplies", "total text", span=len(page.widths) - 2),
        Cell(value=float(total), style="total money",
             formula=f"=SUM({money}{first}:{money}{last})"),
    )  # fmt: skip


def _add_need(page: Page, need: Need, rest: int) -> None:
    """Append one supply."""
    at = page.next_row(TICK_ROW)
    supply = need.supply
    quantity = None if need.quantity is None else float(need.quantity)
    packs = Cell(style="count")
    if supply.pack > 0:  # follows the quantity, even one that only the maker knows
        packs = Cell(
            value=need.packs or 0, style="count", formula=f"=ROUNDUP(C{at}/E{at},0)"
        )
    page.add(
        tick(),
        text(supply.item, "label"),
        Cell(value=quantity, style="input number"),
        text(supply.unit),
        number(float(supply.pack), "general"),
        packs,
        Cell(value=float(supply.price), style="input money"),
        text(need.remark or None, span=rest),
        Cell(value=float(need.cost), style="money", formula=f"=ROUND(F{at}*G{at},2)"),
        height=TICK_ROW,
        ticked=True,
    )
