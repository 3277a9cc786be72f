"""The part of the sheet of costs that adds up the price of the whole project."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from nesting.plan import COMPLETE
from reports.carrying import Haul
from reports.costs import Price
from reports.sheets.cells import ROW, Cell, text
from reports.sheets.content import Content
from reports.sheets.page import Page

PAY = "G"  # the column that every table of the sheet ends its sums in
GAP = 8.0  # points between tables


def add_price(page: Page, content: Content, price: Price, offcuts: Page) -> None:
    """Append the sums that this sheet is for."""
    page.keep(10 * ROW)
    page.heading("The price of the project")
    first = len(page.rows) + 1
    _amount(page, "wood, paid to the yards", price.wood, _same(page, "wood"))
    _add_further_trips(page, content, price)
    _amount(page, "supplies", price.supplies, _same(page, "supplies"))
    last = len(page.rows)
    page.names["paid"] = _amount(
        page, "money out of the purse", price.paid, f"=SUM({PAY}{first}:{PAY}{last})",
        note=_not_counted(price), total=True,
    )  # fmt: skip
    _amount(
        page, "owned wood, at the value it is counted at", price.owned, _same(page, "owned")
    )
    _amount(page, "time at the saws", price.sawing, _same(page, "sawing"))
    note = (
        "" if content.plan.status == COMPLETE else "of what this plan makes, which is short"
    )
    at = page.names["paid"]
    page.names["price"] = _amount(
        page, "price of the project", price.total,
        f"=SUM({PAY}{at}:{PAY}{at + 2})", note=note, total=True,
    )  # fmt: skip
    back = f"=-Offcuts!I{offcuts.names['credit']}" if "credit" in offcuts.names else None
    if content.project.tariff.by_feet:  # Offcuts counts board feet then, not money
        back = None
    _amount(page, "less offcuts that go back on the rack", -price.credit, back)
    at = page.names["price"]
    page.names["less rack"] = _amount(
        page, "price less what goes back on the rack", price.less_rack,
        f"=SUM({PAY}{at}:{PAY}{at + 1})", total=True,
    )  # fmt: skip
    page.add(height=GAP)


def _add_further_trips(page: Page, content: Content, price: Price) -> None:
    """Append the trips beyond the first to yards whose wood one load doesn't take."""
    if not price.further_trips:
        return
    hauls = [haul for haul in content.hauls if haul.further_trips]
    trips = [f"F{page.names[f'yard {haul.yard.name}']}*{haul.count - 1}" for haul in hauls]
    page.names["further trips"] = _amount(
        page,
        f"further trips, not in the plan's cost ({_loads(hauls)}: see Buy)",
        price.further_trips,
        "=" + "+".join(trips),
    )


def _loads(hauls: Sequence[Haul]) -> str:
    """Return how many loads come from which yard."""
    return ", ".join(f"{haul.yard.name} {haul.count} loads" for haul in hauls)


def _same(page: Page, name: str) -> str | None:
    """Return a formula that repeats a sum of this sheet, if it has that."""
    return f"={PAY}{page.names[name]}" if name in page.names else None


def _amount(
    page: Page, label: str, value: Decimal, formula: str | None,
    *, note: str = "", total: bool = False,
) -> int:  # fmt: skip
    """Append one labelled amount and return its row."""
    style = "total " if total else ""
    return page.add(
        text(label, f"{style}text", span=6),
        Cell(value=float(value), style=f"{style}money", formula=formula),
        text(note or None, "check" if note else f"{style}text"),
    )


def _not_counted(price: Price) -> str:
    """Say which supplies are not in the price."""
    if not price.not_counted:
        return ""
    return f"CHECK: without {', '.join(price.not_counted)}"
