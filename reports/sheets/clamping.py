"""The sheet for a day of gluing: what is in clamps together, and what each takes."""

from __future__ import annotations

from collections.abc import Iterator

from reports.cautions import weight_words
from reports.clamping import Batch, GlueUp, time_words
from reports.glueups import FILM_ML_PER_M2, GRAMS_PER_M2_PER_LB, GRAMS_PER_ML, LIFT_KG
from reports.plaintext import counted
from reports.sheets.cauls import add_cauls
from reports.sheets.cells import HEAD, TICK_ROW, Cell, head_row, number, text, tick
from reports.sheets.content import Content
from reports.sheets.layers import add_layers
from reports.sheets.page import Page
from stock.measures import Unit

_WIDTHS = (5.0, 8, 33, 9, 11, 11, 11, 10, 12, 28)


def clamping_page(content: Content, glueups: Page | None) -> Page:
    """Describe the sheet; it links to the pages of `glueups`."""
    page = Page(name="Clamping", widths=_WIDTHS, frozen=2)
    page.top(
        "Clamping",
        f"Lengths in {content.unit_name}. What the glue's label says goes before these"
        " figures: open time, clamp time, amount, lowest temperature.",
    )
    _add_batches(page, content)
    _add_glueups(page, content, glueups)
    add_layers(page, content)
    add_cauls(page, content)
    _add_advice(page, content)
    page.press()
    return page


def schedule_words(content: Content) -> str:
    """Return how many batches there are and how long they take."""
    schedule = content.schedule
    words = counted(len(schedule.batches), "batch", "batches")
    return f"{words}, {time_words(schedule.minutes)} in all"


def _add_batches(page: Page, content: Content) -> None:
    """Append what is in clamps together, and when it is done."""
    schedule, shop = content.schedule, content.project.shop
    page.heading(f"Batches: {schedule_words(content)}")
    head = head_row(
        "", "batch", "in clamps together", "clamps", "to spread, min", "in clamps, min",
        "done after, min", ("mind", 3), height=HEAD,
    )  # fmt: skip
    page.put(head)
    page.again = (head,)
    first = page.next_row()
    for batch in schedule.batches:
        at = page.next_row(TICK_ROW)
        done = Cell(value=batch.done, style="one decimal", formula=f"=SUM(E{first}:F{at})")
        page.add(
            tick(),
            Cell(value=batch.number, style="count"),
            text("; ".join(one.name for one in batch.glueups)),
            Cell(value=batch.clamps, style="count"),
            number(batch.minutes, "one decimal"),
            number(float(shop.clamp_time), "one decimal"),
            done,
            _mind_batch(batch, content),
            height=TICK_ROW,
            ticked=True,
        )
    page.again = ()
    page.paragraph(_proof(content))


def _mind_batch(batch: Batch, content: Content) -> Cell:
    """Return what to mind about a batch."""
    owned = content.project.shop.clamps_owned
    if batch.clamps > owned:
        words = f"CHECK: more clamps than the shop owns ({float(owned):g})"
        return text(words, "check", span=3)
    waits = [name for one in batch.glueups for name in one.after]
    return text(f"joins {'; '.join(waits)}" if waits else None, span=3)


def _proof(content: Content) -> str:
    """Say how the time is counted, and that fewer batches would not do."""
    schedule = content.schedule
    count = len(schedule.batches)
    words = "Glue is spread and clamped one glue-up after another; laying out, tightening"
    words += " and cleaning up are not counted. "
    if count == schedule.least:
        return f"{words}Proven: with these clamps no fewer batches would do."
    return f"{words}At least {counted(schedule.least, 'batch', 'batches')} are needed."


def _add_glueups(page: Page, content: Content, glueups: Page | None) -> None:
    """Append what is glued: joints, glue, time, clamps, weight."""
    page.keep(HEAD + 4 * TICK_ROW)
    page.heading("What is glued")
    head = head_row(
        "", "batch", "glue-up", "joints", "glue per joint, ml", "glue, ml",
        "to spread, min", "clamps", "weight", "mind", height=HEAD,
    )  # fmt: skip
    page.put(head)
    page.again = (head,)
    first = page.next_row()
    for batch in content.schedule.batches:
        for one in batch.glueups:
            page.next_row()
            page.add(*_glueup(batch, one, content, glueups))
    page.again = ()
    last = len(page.rows)
    every = content.schedule.glueups
    page.names["glue"] = page.add(
        text(None, "total text"),
        text("together", "total text", span=2),
        Cell(
            value=sum(one.joints for one in every), style="total count",
            formula=f"=SUM(D{first}:D{last})",
        ),
        text(None, "total text"),
        Cell(
            value=sum(one.glue for one in every), style="total weight",
            formula=f"=SUM(F{first}:F{last})",
        ),
        text(None, "total text", span=4),
    )  # fmt: skip
    page.paragraph(_film_words(content.unit))


def _glueup(
    batch: Batch, one: GlueUp, content: Content, glueups: Page | None
) -> Iterator[Cell]:
    """Yield the cells of one glue-up."""
    at = glueups.names.get(one.page) if glueups else None
    link = f"'Glue-ups'!A{at}" if at else None
    heavy = one.weight is not None and one.weight > LIFT_KG
    weight = weight_words(one.weight, content.unit) if one.weight is not None else None
    yield text(None)
    yield Cell(value=batch.number, style="count")
    yield Cell(value=one.name, style="link" if link else "label", link=link)
    yield Cell(value=one.joints, style="count")
    yield number(one.glue / one.joints, "one decimal")
    yield number(one.glue, "one decimal")
    yield number(one.minutes, "one decimal")
    yield Cell(value=one.clamps, style="count")
    yield text(weight)
    minds = list(_minds(one, content, heavy=heavy))
    yield text("; ".join(minds) or None, "check" if minds else "text")


def _minds(one: GlueUp, content: Content, *, heavy: bool) -> Iterator[str]:
    """Yield what to mind about a glue-up."""
    shop = content.project.shop
    if one.minutes > float(shop.open_time):
        yield f"CHECK: longer than the glue stays open ({float(shop.open_time):.3g} min)"
    if one.clamps > shop.clamps_owned:
        yield f"CHECK: the shop owns {float(shop.clamps_owned):g} clamps"
    if heavy:
        yield "two people"


def _film_words(unit: Unit) -> str:
    """Return how much glue is counted on a joint."""
    grams = float(FILM_ML_PER_M2 * GRAMS_PER_ML)
    amount = f"{grams:.0f} g/m2"
    if unit is Unit.INCH:
        amount = f"{grams / float(GRAMS_PER_M2_PER_LB):.0f} lb per 1000 square feet"
    return (
        f"Counted: a wet film of 6 mil (0.15 mm), about {amount}, and half as much again"
        " for squeeze-out and the brush. If the label asks for more, take that."
    )


def _add_advice(page: Page, content: Content) -> None:
    """Append how to go about it."""
    page.keep(HEAD + 3 * TICK_ROW)
    page.heading("Mind")
    for words in (
        "Try every glue-up dry, with its clamps and cauls, before any glue is opened. Air,"
        " gloves and eye protection as the label says.",
        "Machine the edges the same day; wood at 6 to 8 % moisture, all of it from the same"
        " room. Below about 50 F (10 C) most white and yellow glues do not hold.",
        "Out of the clamps is not cured: no load for 24 hours, and several days before a"
        " panel is planed flush, or its joints sink later.",
    ):
        page.paragraph(words, "plain")
    heavy = [one for one in content.schedule.glueups if one.weight and one.weight > LIFT_KG]
    if heavy:
        limit = weight_words(LIFT_KG, content.unit)
        names = "; ".join(one.name for one in heavy)
        page.add(
            text("CHECK", "check word", span=2),
            text(
                f"{names}: over {limit} (the NIOSH load constant). Clamps come on top:"
                " carry with two people.",
                "check",
                span=8,
            ),
        )
