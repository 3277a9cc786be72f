"""The sheet to take to the yard: boards to buy, prices to correct, sums that follow."""

from __future__ import annotations

from fractions import Fraction

from reports.frames import Record, records
from reports.sheets.board_rows import board_head, measured_cells
from reports.sheets.carrying import add_carrying
from reports.sheets.cells import (
    HEAD,
    HEADING,
    ROW,
    TICK_ROW,
    Cell,
    Row,
    head_row,
    text,
    tick,
)
from reports.sheets.choices import add_spare
from reports.sheets.content import Content, amount
from reports.sheets.found import (
    SPARE_ROW,
    add_blank_rows,
    add_found_head,
    found_row,
    spare_rows,
)
from reports.sheets.page import LEAST, Page
from reports.sheets.rack import add_rack
from reports.sheets.sums import (
    Sums,
    Terms,
    add_amount,
    charges_of,
    columns_for,
    services,
)
from reports.sheets.supplies import add_supplies
from stock.measures import BOARD_FEET_PER_M3, Unit
from stock.yards import Yard

_FIRST_TRIP = (
    "Tick what is in the cart; write over a size, grade or price that is not as listed. The"
    " command plan reads this sheet back with --tally."
)
_ANOTHER_TRIP = (
    "What was taken and is cut is ticked: leave it so. Write what comes with it on another"
    " trip into the rows of what was found, and what all trips cost into the trip cost. The"
    " command plan reads this sheet back with --tally."
)

_INCH_WIDTHS = (5.0, 14, 16, 8, 10, 9, 8, 10, 10, 9, 10, 10, 9, 10)
_MM_WIDTHS = (5.0, 13, 13, 8, 10, 9, 7, 10, 9, 8, 8, 10, 10, 8, 10)


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
        f" and the sums follow. {_ANOTHER_TRIP if content.taken else _FIRST_TRIP}",
    )
    yards = _yards(content)
    for yard in yards:
        _add_yard(page, content, yard)
    if not yards:
        page.paragraph("Nothing has to be bought: the rack holds everything.", "plain bold")
    _add_wood_total(page, content, yards)
    add_spare(page, content)
    add_rack(page, content)
    add_supplies(page, content, columns_for(content.unit).pay)
    page.press()
    return page


def _yards(content: Content) -> list[Yard]:
    """Return the yards that the plan buys from, in the order of the plan."""
    known = {yard.name: yard for yard in content.project.yards}
    rows = records(content.frames.boards)
    names = dict.fromkeys(row["where"] for row in rows if row["bought"])
    return [known.get(name, Yard(name=name)) for name in names]


def _add_yard(page: Page, content: Content, yard: Yard) -> None:
    """Append one yard: terms, boards, spare rows, sums; on one page if it has room."""
    rows = [
        row
        for row in records(content.frames.boards)
        if row["bought"] and row["where"] == yard.name
    ]
    notes = content.taken.notes if content.taken else {}
    found = [row for row in rows if row["board"] in notes]
    listed = [row for row in rows if row["board"] not in notes]
    head = board_head(content.unit, "price", "wood", "charges", "to pay")
    above = HEADING + HEAD + TICK_ROW + page.height_of(head)
    spares = spare_rows(len(rows))
    # points below the boards
    sums = 2 * ROW + HEAD + (len(found) + spares) * SPARE_ROW + 5 * ROW
    whole = above + len(listed) * TICK_ROW + sums
    page.keep(whole if whole <= page.fresh else above + LEAST * TICK_ROW)
    page.heading(yard.name)
    terms = _add_terms(page, yard)
    page.put(head)
    page.again = (head,)
    first = len(page.rows) + 1
    for row in listed:
        at = page.next_row(TICK_ROW)
        page.put(_board_row(content, row, terms, yard, at))
    last = len(page.rows)
    page.keep(min(sums, page.fresh))
    add_found_head(page, content.unit)
    for row in found:
        at = page.next_row(SPARE_ROW)
        board = _board_row(content, row, terms, yard, at)
        last = page.put(found_row(board, notes[row["board"]]))
    spare = add_blank_rows(page, content.unit, terms, spares)
    ticked = rows if content.taken else []
    total = Sums(page, content.unit, terms).add(yard, rows, ticked, (first, last, spare))
    page.names[f"yard {yard.name}"] = total
    page.add(height=8)
    add_carrying(page, content, yard.name)


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


def _board_row(content: Content, row: Record, terms: Terms, yard: Yard, at: int) -> Row:
    """Return one board to buy as row `at`, with live sums; ticked if it was taken."""
    columns = columns_for(content.unit)
    is_sheet = row["kind"] == "sheet"
    surfaced, edges = services(row)
    charges = charges_of(row, yard)
    wood = Fraction(row["before_tax"]) - charges
    rate = row["rate"]
    if rate is not None and not is_sheet and content.unit is Unit.MM:
        rate = rate * BOARD_FEET_PER_M3
    priced = "" if is_sheet else f"{columns.priced}{at}*"
    formula = f"={priced}{columns.price}{at}"
    _, *measured = measured_cells(row, content.unit, at)
    cells = (
        tick(done=content.taken is not None),
        *measured,
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
    )  # fmt: skip
    return Row(cells=cells, height=TICK_ROW, is_ticked=True)


def _add_wood_total(page: Page, content: Content, yards: list[Yard]) -> None:
    """Append what is paid for wood at all yards together."""
    column = columns_for(content.unit).pay
    cells = [f"{column}{page.names[f'yard {yard.name}']}" for yard in yards]
    value = amount(content.plan.totals.to_pay) or 0.0
    formula = "=" + ("+".join(cells) or "0")
    label = "to pay for wood, all yards"
    page.keep(ROW)
    page.names["wood"] = add_amount(page, label, value, formula, "total ")
    page.add(height=8)
