"""The first sheet: does it fit, what to mind, what to buy, what it costs, what to do."""

from __future__ import annotations

from fractions import Fraction

from nesting.plan import COMPLETE
from reports.cautions import CHECK, NOTE, STOP, Caution
from reports.costs import price_for
from reports.frames import Record, records
from reports.from_offcuts import not_from_offcuts
from reports.plaintext import named
from reports.sheets.cauls import cauls_of
from reports.sheets.cells import (
    HEADING,
    ROW,
    TICK_ROW,
    TICKED_BOX,
    Cell,
    Row,
    Value,
    head_row,
    heading_row,
    number,
    text,
    tick,
)
from reports.sheets.choices import add_choices
from reports.sheets.clamping import schedule_words
from reports.sheets.content import Content, amount
from reports.sheets.notes import add_cautions
from reports.sheets.page import Page
from reports.sheets.set_ups import set_up_words
from reports.sheets.sums import columns_for
from reports.tally_answer import back_words, missing_words, taken_words
from reports.thickness import thickness_words
from stock.measures import BOARD_FEET_PER_M3, Unit

_WIDTHS = (11.0, 30, 13, 15, 15, 15, 39)
_SHOWN = 10


def overview_page(content: Content, buy: Page, pages: tuple[Page, ...]) -> Page:
    """Describe the sheet; it links to `buy` and to the other `pages`."""
    page = Page(name="Overview", widths=_WIDTHS, frozen=2)
    page.top(content.plan.project, f"Plan of the wood. Lengths in {content.unit_name}.")
    _add_verdict(page, content)
    _add_tally(page, content)
    _add_cautions(page, content)
    _add_buying(page, content, buy)
    _add_cost(page, content, buy)
    _add_price(page, content, pages)
    _add_work(page, content, (buy, *pages))
    add_choices(page, content)
    page.press()
    return page


def _add_verdict(page: Page, content: Content) -> None:
    """Append whether the wood makes everything, in one loud line."""
    left_out = sum(not_from_offcuts(content.project, content.plan).values())
    pieces = sum(part.copies for part in content.project.parts) - left_out
    if content.plan.status == COMPLETE:
        words = f"Everything fits: the wood below makes all {pieces} parts."
        if left_out:
            words += f" Wanted from offcuts and not made: {left_out}, see Parts."
        page.add(text("FITS", "fine word"), text(words, "fine", span=6), height=20.0)
        return
    missing = sum(row["copies"] for row in records(content.frames.short))
    words = (
        f"NOT ENOUGH WOOD: {missing} of {pieces} parts can't be made from it. What is"
        " short, and what would help, stands below; the rest of this plan can be cut."
    )
    page.add(text("SHORT", "stop word"), text(words, "stop", span=6), height=24.0)


def _add_tally(page: Page, content: Content) -> None:
    """Append what was taken at the yards, what can go back and what is missing."""
    taken = content.taken
    if not taken:
        return
    rows = [("TAKEN", taken_words(taken)), ("PUT BACK", back_words(taken, content.plan))]
    for word, words in rows:
        page.add(text(word, "note word"), text(words, "note", span=6))
    for words in missing_words(content.project, content.plan):
        page.add(text("MISSING", "check word"), text(words, "check", span=6))


def _add_cautions(page: Page, content: Content) -> None:
    """Append what to mind before anything else, and notes on what to buy."""
    urgent = tuple(one for one in content.cautions if one.level in {STOP, CHECK})
    if content.plan.status != COMPLETE:
        help_notes = (Caution(NOTE, "What would help", note) for note in content.plan.notes)
        urgent += tuple(help_notes)
    if content.project.warnings:
        where = "the project file" + (" or on the tally sheet" if content.taken else "")
        words = f"{len(content.project.warnings)} odd things in {where}: see Notes."
        urgent += (Caution(CHECK, "Project file", words),)
    if urgent:
        add_cautions(page, "Mind first", urgent[:_SHOWN])
    if len(urgent) > _SHOWN:
        page.paragraph(f"and {len(urgent) - _SHOWN} more on the sheet Notes")


def _add_buying(page: Page, content: Content, buy: Page) -> None:
    """Append where the wood comes from, a row per place."""
    page.keep(HEADING + ROW + 3 * TICK_ROW)
    page.heading("What to buy")
    measures = ("board feet", "m3") if content.unit is Unit.MM else (("board feet", 2),)
    page.put(head_row("", "where", "boards, sheets", *measures, "to pay", "list"))
    rows = list(records(content.frames.boards))
    for place in dict.fromkeys(row["where"] for row in rows if row["bought"]):
        own = [row for row in rows if row["bought"] and row["where"] == place]
        at = buy.names[f"yard {place}"]
        pay = buy.last_value(at)
        column = columns_for(content.unit).pay
        _place_row(page, content, place, own, (pay, f"=Buy!{column}{at}", f"Buy!A{at}"))
    owned = [row for row in rows if not row["bought"]]
    if owned:
        _place_row(page, content, "the shop's own rack", owned, (None, None, "Buy!A1"))
    if "supplies" in buy.names:
        at = buy.names["supplies"]
        page.add(
            tick(),
            text("supplies (glue, hardware, finish)", "label"),
            Cell(style="count"),
            *((text(None),) * 2 if content.unit is Unit.MM else (text(None, span=2),)),
            Cell(
                value=buy.last_value(at), style="money",
                formula=f"=Buy!{columns_for(content.unit).pay}{at}",
            ),
            Cell(value="see the list", style="link", link=f"Buy!A{at}"),
            height=TICK_ROW, ticked=True,
        )  # fmt: skip


def _place_row(
    page: Page,
    content: Content,
    place: str,
    rows: list[Record],
    money: tuple[Value, str | None, str],
) -> None:
    """Append one place that wood comes from."""
    feet = sum((Fraction(row["board_feet"]) for row in rows), Fraction(0))
    measures: tuple[Cell, ...] = (Cell(value=float(feet), style="feet", span=2),)
    if content.unit is Unit.MM:
        volume = float(feet / BOARD_FEET_PER_M3)
        measures = (number(float(feet), "feet"), number(volume, "volume"))
    pay, formula, link = money
    page.add(
        tick(),
        text(place, "label"),
        Cell(value=len(rows), style="count"),
        *measures,
        Cell(value=pay, style="money", formula=formula),
        Cell(value="see the list", style="link", link=link),
        height=TICK_ROW,
        ticked=True,
    )


def _add_cost(page: Page, content: Content, buy: Page) -> None:
    """Append what the plan costs, and how good it is known to be."""
    totals = content.plan.totals
    by_feet = content.project.tariff.by_feet
    page.keep(HEADING + 9 * ROW)
    page.heading(
        "What it costs" + (" (counted in board feet, not money)" if by_feet else "")
    )
    rack = f"owned wood, counted at {float(content.project.shop.rack_value):g} %"
    lines = (
        ("boards bought, charges and tax in", totals.boards),
        ("trips to the yards", totals.trips),
        ("up to the yards' smallest orders", totals.top_ups),
        ("owned wood" if by_feet else rack, totals.owned_wood),
        ("time at the saws", totals.sawing),
        ("less offcuts that go back to the rack", -totals.credit),
    )
    remarks = _remarks(content)
    first = len(page.rows) + 1
    for at, (label, money) in enumerate(lines):
        remark = remarks[at] if at < len(remarks) else None
        page.add(
            text(label, span=2), number(amount(money), "money"), text(remark, "aside", 4)
        )
    last = len(page.rows)
    page.names["cost"] = page.add(
        text("cost, which the plan makes small", "total text", span=2),
        Cell(
            value=amount(totals.cost),
            style="total money",
            formula=f"=SUM(C{first}:C{last})",
        ),
        text(bound_words(content), "note", 4),
    )
    at = buy.names["wood"]
    page.names["to pay"] = page.add(
        text("to pay for wood, in money", "total text", span=2),
        Cell(
            value=amount(totals.to_pay), style="total money",
            formula=f"=Buy!{columns_for(content.unit).pay}{at}",
        ),
        text("what the yards are paid, as the sheet Buy adds it up", "note", 4),
    )  # fmt: skip


def _add_price(page: Page, content: Content, pages: tuple[Page, ...]) -> None:
    """Append the price of the whole project, if a sheet adds it up."""
    costs = next((one for one in pages if one.name == "Costs"), None)
    if costs is None:
        return
    at = costs.names["price"]
    value = dict(costs.cells_of(costs.rows[at - 1]))[7].value
    words = "wood, supplies, owned wood, time at the saws: see the sheet Costs"
    missing = price_for(content.project, content.plan, content.hauls).not_counted
    if missing:
        words += f"; amount not known and not in it: {named(missing)}"
    page.names["price"] = page.add(
        text("price of the whole project", "total text", span=2),
        Cell(value=value, style="total money", formula=f"=Costs!G{at}"),
        text(words, "note", 4),
    )


def bound_words(content: Content) -> str:
    """Say in plain words how good the plan is known to be."""
    totals = content.plan.totals
    of_what = " for what this plan makes" if content.plan.status != COMPLETE else ""
    if totals.gap is None:
        return (
            "No useful lower bound was found, so nobody knows how far this plan is from"
            " the best one."
        )
    if totals.cost <= totals.bound:
        return f"Proven best{of_what}: under the same cutting rules no plan costs less."
    return (
        f"Proven{of_what}: under the same cutting rules no plan can cost less than"
        f" {totals.bound:,.2f}; this one is at most {100 * totals.gap:.1f} % above that."
    )


def _remarks(content: Content) -> tuple[str, ...]:
    """Return how much wood the plan uses, in a few lines."""
    totals = content.plan.totals
    kept = len(content.frames.offcuts)
    made = thickness_words(content.project, content.plan)
    return (
        f"Boards bought: {totals.boards_bought},"
        f" {_wood(content, totals.board_feet_bought)}.",
        f"Wood cut up, owned boards too: {_wood(content, totals.board_feet_used)}.",
        f"Of that {100 * totals.yield_:.1f} % ends in rough blanks.",
        f"Panels to glue up: {len(content.plan.panels)}. Offcuts to keep: {kept}.",
        *([f"Resawn or in layers: {named(made)}; see Parts."] if made else ()),
    )


def _wood(content: Content, feet: Fraction) -> str:
    """Return an amount of wood as words."""
    words = f"{float(feet):.2f} board feet"
    if content.unit is Unit.MM:
        words += f" ({float(feet / BOARD_FEET_PER_M3):.4f} m3)"
    return words


def _add_work(page: Page, content: Content, pages: tuple[Page, ...]) -> None:
    """Append the order of work, each step with a link and what is ticked off there."""
    rows = [
        heading_row("Order of work", len(_WIDTHS)),
        head_row("", "step", "sheet", "ticked there", "of", ("how", 2)),
    ]
    there = {one.name: one for one in pages}
    ganged = any(cut.gangs for cut in content.plan.boards)
    for name, step, how in _steps(content, ganged=ganged):
        if name not in there:
            continue
        boxes = [at for at, row in enumerate(there[name].rows, 1) if row.is_ticked]
        if name in {"Boards", "Sheets", "Glue-ups", "Offcuts"} and not boxes:
            continue
        rows.append(_step_row(there[name], boxes, (step, how)))
    page.block(rows)


def _step_row(there: Page, boxes: list[int], words: tuple[str, str]) -> Row:
    """Return one step of the work."""
    step, how = words
    done = Cell(style="count")
    if boxes:
        area = f"'{there.name}'!$A${boxes[0]}:$A${boxes[-1]}"
        formula = f'=COUNTIF({area},"{TICKED_BOX}")'
        rows = there.rows[boxes[0] - 1 : boxes[-1]]
        first = (next(iter(row.cells), None) for row in rows)
        ticked = sum(1 for cell in first if cell and cell.value == TICKED_BOX)
        done = Cell(value=ticked, style="count", formula=formula)
    return Row(
        cells=(
            tick(),
            text(step, "label"),
            Cell(value=there.name, style="link", link=f"'{there.name}'!A1"),
            done,
            Cell(value=len(boxes) or None, style="count"),
            text(how, span=2),
        ),
        height=TICK_ROW,
        is_ticked=True,
    )


def _steps(content: Content, *, ganged: bool) -> tuple[tuple[str, str, str], ...]:
    """Return the steps of the work: sheet, step, how."""
    gangs = " Pieces in gangs stay in one length until planed." if ganged else ""
    if any(not strip.name for strip in cauls_of(content).strips):
        gangs += " Waste that the sheet Clamping names gives cauls."
    cuts = (*content.plan.boards, *content.plan.sheets)
    resaw = ""
    if any(piece.leaves > 1 for cut in cuts for piece in cut.pieces):
        resaw = (
            " Dress what is resawn, resaw it, name each leaf; plane leaves once settled."
        )
    return (
        ("Notes", "Read the cautions", "Manuals of the machines and local rules first."),
        ("Buy", "Buy, and fetch from the rack",
         "Tick what is in the cart; if a board is missing, take one that is at least as"
         " big as the smallest size that would do, and write it in."),
        ("Boards", "Cut up the boards",
         "Mark out a whole board before its first cut; cut in order, or by set-up as"
         f" Machining lists it.{gangs}"),
        ("Sheets", "Cut up the sheet goods", "In order; watch the grain."),
        ("Machining", "Set the machines, one set-up after another",
         f"{set_up_words(content)}; the order of work of each part stands there."),
        ("Parts", "Mill and check the pieces",
         "Write its name on each piece; joint, plane, then cut ganged pieces apart."
         f"{resaw}"),
        ("Clamping", "Glue in batches",
         f"{schedule_words(content)}; cauls first."),
        ("Glue-ups", "Glue up the panels", "Dry first, triangle mark, then glue."),
        ("Parts", "Cut to finished size", "Finished sizes stand on the sheet Parts."),
        ("Movement", "Leave wide parts room to move",
         "Length of slots and gaps of grooves stand there."),
        ("Offcuts", "Label offcuts and put them back", "Name, size, species."),
    )  # fmt: skip
