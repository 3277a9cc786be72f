"""The part of the first sheet that says what else could be bought: other yards, a spare."""

from __future__ import annotations

from nesting.alternatives import Alternative, Comparison
from reports.advice import kind_words, spare_words
from reports.sheets.cells import Row, head_row, heading_row, number, text
from reports.sheets.content import Content, amount
from reports.sheets.page import Page

SHORT = (
    "Found in short searches after the plan: a longer one may find less, but not less than"
    " the column says."
)
SPARE = (
    "A spare is worth most for the board whose loss would cost most to make good, counted"
    " double if it has marks; each was tried in its place, cut for all that it gives."
)


def add_choices(page: Page, content: Content) -> None:
    """Append what other choices of yards would cost, and the spare worth taking."""
    if content.advice.yards is not None:
        _add_yards(page, content.advice.yards)
    if content.advice.spares is not None:
        words = spare_words(content.advice.spares)
        span = len(page.widths)
        told = text(words[:1].upper() + words[1:] + ".", span=span)
        page.block([heading_row("A spare board", span), Row(cells=(told,))])
        page.paragraph(SPARE)


def add_spare(page: Page, content: Content) -> None:
    """Append the spare worth taking, if there is one, in a line."""
    spares = content.advice.spares
    if spares is not None and spares.worst is not None:
        page.paragraph(f"A spare worth taking: {spare_words(spares)}.")
        page.add(height=8)


def _add_yards(page: Page, comparison: Comparison) -> None:
    """Append a row per other choice of yards."""
    rows = [
        heading_row("Other choices of yards", len(page.widths)),
        head_row("", "instead", "cost", "more", "no less than", ("buys at", 2)),
        *(_row(comparison, one) for one in comparison.others),
    ]
    page.block(rows)
    page.paragraph(SHORT)
    if comparison.is_best:
        page.paragraph("Proven: no other choice of yards costs less.", "plain bold")


def _row(comparison: Comparison, one: Alternative) -> Row:
    """Return what one other choice of yards would cost, and what it can't go below."""
    words = ", ".join(one.yards) or "the rack alone"
    if one.cannot:
        words = f"can't make everything {kind_words(one)}"
    elif one.cost is None:
        words = f"no plan was found {kind_words(one)}"
    more = None if one.cost is None else one.cost - comparison.cost
    return Row(
        cells=(
            text("next best" if one is comparison.second else None, "label"),
            text(kind_words(one), "label"),
            number(amount(one.cost), "money"),
            number(amount(more), "money"),
            number(None if one.cannot else amount(one.bound), "money"),
            text(words, span=2),
        )
    )
