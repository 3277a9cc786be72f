"""The price of the whole project: wood by yard, supplies, time, what goes back."""

from __future__ import annotations

from reports.costs import Owned, Price, Spare, owned_for, price_for, spares_for
from reports.frames import records
from reports.sheets.cells import ROW, Cell, Row, head_row, heading_row, number, text
from reports.sheets.content import Content
from reports.sheets.page import Page
from reports.sheets.price import GAP, PAY, add_price
from reports.sheets.sums import columns_for
from reports.supplies import needs_for
from stock.measures import Unit

_WIDTHS = (30.0, 13, 14, 13, 13, 13, 15, 27)


def costs_page(content: Content, buy: Page, offcuts: Page) -> Page | None:
    """Describe the sheet, or return None if nothing of the project has a price.

    Its `names` tell the rows of the sums; `price` is that of the whole project. Amounts
    are linked to the sheets `buy` and `offcuts`, where their rows are.
    """
    price = price_for(content.project, content.plan, content.hauls)
    spares = tuple(spares_for(content.project, content.plan))
    if not price.total and not price.not_counted and not spares:
        return None
    page = Page(name="Costs", widths=_WIDTHS, frozen=2)
    page.top(
        "Costs",
        "The price of the whole project. Yellow cells can be changed and the sums follow;"
        " what is paid to the yards follows the sheet Buy.",
    )
    _add_wood(page, content, buy)
    _add_supplies(page, content, buy)
    _add_owned(page, content)
    _add_sawing(page, content, price)
    add_price(page, content, price, offcuts)
    _add_spares(page, spares)
    page.press()
    return page


def _linked(buy: Page, column: str, row: int, style: str = "money") -> Cell:
    """Return a cell that repeats a cell of the sheet Buy."""
    cell = dict(buy.cells_of(buy.rows[row - 1]))[ord(column) - ord("A") + 1]
    if cell.value is None:  # until it is filled in there
        formula = f'=IF(COUNT(Buy!{column}{row})=1,Buy!{column}{row},"")'
        return Cell(value="", style=style, formula=formula)
    return Cell(value=cell.value, style=style, formula=f"=Buy!{column}{row}")


def _add_wood(page: Page, content: Content, buy: Page) -> None:
    """Append what each yard is paid, in its parts."""
    bought = [row["where"] for row in records(content.frames.boards) if row["bought"]]
    yards = tuple(dict.fromkeys(bought))
    if not yards:
        return
    columns = columns_for(content.unit)
    head = head_row(
        "yard", "wood, sheets", "charges", "tax", "up to smallest order", "trip", "to pay",
        "", height=28.0,
    )  # fmt: skip
    first = len(page.rows) + 3
    rows = []
    for at, yard in enumerate(yards, first):
        goods, total = buy.names[f"boards {yard}"], buy.names[f"yard {yard}"]
        wood = _linked(buy, columns.wood, goods)
        charges = _linked(buy, columns.charges, goods)
        pay = _linked(buy, columns.pay, goods)
        page.names[f"yard {yard}"] = at
        parts = (pay.value, wood.value, charges.value)
        tax, *taken = (float(value or 0) for value in parts)
        rows.append(
            Row(
                cells=(
                    text(yard, "label"),
                    wood,
                    charges,
                    Cell(
                        value=tax - sum(taken), style="money",
                        formula=f"=Buy!{columns.pay}{goods}-B{at}-C{at}",
                    ),
                    _linked(buy, columns.pay, goods + 1),
                    _linked(buy, columns.pay, goods + 2),
                    _linked(buy, columns.pay, total),
                    Cell(value="see Buy", style="link", link=f"Buy!A{total}"),
                )
            )
        )  # fmt: skip
    page.block([heading_row("Wood, by yard", len(_WIDTHS)), head, *rows])
    page.names["wood"] = _add_sums(page, "all yards", (first, len(page.rows)), "BCDEFG")


def _add_sums(page: Page, label: str, span: tuple[int, int], columns: str) -> int:
    """Append the sums of columns that follow each other up to the sixth or seventh."""
    first, last = span
    sums = []
    for column in columns:
        place = ord(column) - ord("A") + 1
        cells = [
            dict(page.cells_of(page.rows[at - 1]))[place] for at in range(first, last + 1)
        ]
        value = sum(float(cell.value or 0) for cell in cells)
        formula = f"=SUM({column}{first}:{column}{last})"
        sums.append(Cell(value=value, style="total money", formula=formula))
    before = ord(columns[0]) - ord("A")
    row = page.add(
        text(label, "total text", span=before), *sums, Cell(style="total text"), height=ROW
    )
    page.add(height=GAP)
    return row


def _add_supplies(page: Page, content: Content, buy: Page) -> None:
    """Append the supplies in whole packs, as the sheet Buy has them."""
    needs = tuple(needs_for(content.project, content.plan))
    if not needs:
        return
    last = buy.names["supplies"] - 1
    start = last - len(needs) + 1
    pay = columns_for(content.unit).pay
    head = head_row(
        "item", "quantity", "unit", "pack", "packs", "price", "to pay", "remark"
    )
    first = len(page.rows) + 3
    rows = [
        Row(
            cells=(
                text(need.supply.item, "label"),
                _linked(buy, "C", at, "general"),
                text(need.supply.unit),
                number(float(need.supply.pack), "general"),
                _linked(buy, "F", at, "count"),
                _linked(buy, "G", at),
                _linked(buy, pay, at),
                text(None if need.packs is not None else "CHECK: amount not known",
                     "text" if need.packs is not None else "check"),
            )
        )
        for at, need in enumerate(needs, start)
    ]  # fmt: skip
    page.block([heading_row("Supplies, in whole packs", len(_WIDTHS)), head, *rows])
    page.names["supplies"] = _add_sums(page, "supplies", (first, len(page.rows)), PAY)


def _add_owned(page: Page, content: Content) -> None:
    """Append the wood from the rack at the value it is counted at."""
    owned = tuple(owned_for(content.project, content.plan))
    if not owned:
        return
    unit = "board feet" if content.unit is Unit.INCH else "m3"
    head = head_row(
        "from the rack", unit, "price of one", "counted at", ("", 2), "value", ""
    )
    first = len(page.rows) + 3
    share = float(content.project.shop.rack_value / 100)
    rows = [_owned_row(content, one, at, share) for at, one in enumerate(owned, first)]
    page.block([heading_row("Owned wood", len(_WIDTHS)), head, *rows])
    page.names["owned"] = _add_sums(page, "owned wood", (first, len(page.rows)), PAY)


def _owned_row(content: Content, one: Owned, at: int, share: float) -> Row:
    """Return one board or sheet from the rack."""
    style = "volume" if content.unit is Unit.MM and not one.is_sheet else "feet"
    remark = "one sheet" if one.is_sheet else None
    if one.rate is None:
        remark = "CHECK: nobody names a price"
    return Row(
        cells=(
            text(one.name, "label"),
            number(float(one.amount), style),
            Cell(value=None if one.rate is None else float(one.rate), style="input money"),
            Cell(value=share, style="input percent"),
            text(None, span=2),
            Cell(
                value=float(one.value), style="money",
                formula=f"=ROUND(ROUND(B{at}*C{at}*D{at},8),2)",
            ),
            text(remark, "check" if one.rate is None else "text"),
        )
    )  # fmt: skip


def _add_sawing(page: Page, content: Content, price: Price) -> None:
    """Append the time at the saws; milling, gluing and finishing are not in it."""
    shop = content.project.shop
    cuts = sum(
        len(one.cuts) + sum(piece.leaves - 1 for piece in one.pieces)
        for one in (*content.plan.boards, *content.plan.sheets)
    )
    at = len(page.rows) + 3
    hours = float(cuts * shop.cut_time / 3600)
    row = Row(
        cells=(
            text("time at the saws", "label"),
            Cell(value=cuts, style="count"),
            Cell(value=float(shop.cut_time), style="input number"),
            Cell(value=hours, style="feet", formula=f"=B{at}*C{at}/3600"),
            Cell(value=float(shop.shop_rate), style="input money"),
            text(None),
            Cell(
                value=float(price.sawing), style="money",
                formula=f"=ROUNDUP(ROUND(B{at}*C{at}*E{at}/3600,8),2)",
            ),
            text("no milling, no gluing"),
        )
    )  # fmt: skip
    head = head_row(
        "work", "cuts", "seconds a cut", "hours", "an hour", "", "value", "remark"
    )
    page.block([heading_row("Time", len(_WIDTHS)), head, row])
    page.names["sawing"] = at
    page.add(height=GAP)


def _add_spares(page: Page, spares: tuple[Spare, ...]) -> None:
    """Append the pieces made in case of a bad cut; their wood is in the price already."""
    if not spares:
        return
    rows = [
        Row(
            cells=(
                text(one.part, "label"),
                Cell(value=one.asked, style="count"),
                Cell(value=one.spares, style="count"),
                Cell(value=one.made, style="count"),
                number(float(one.feet) or None, "feet"),
                text(_spare_words(one), "text", span=3),
            )
        )
        for one in spares
    ]
    head = head_row(
        "part", "asked for", "to spare", "spares made", "board feet in them", ("remark", 3),
        height=28.0,
    )  # fmt: skip
    title = "Spare pieces, in case of a bad cut (their wood is in the price above)"
    page.table(rows, [heading_row(title, len(_WIDTHS)), head])


def _spare_words(one: Spare) -> str | None:
    """Say if a plan makes fewer spares than wanted."""
    return None if one.made == one.spares else f"{one.spares - one.made} not made"
