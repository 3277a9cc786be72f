"""The sheet for the machines: the order of work of each part, and set-ups in order."""

from __future__ import annotations

from reports.cautions import SET_UP_RULES
from reports.machining import STEPS, works_for
from reports.sheets.cells import Cell, Row, head_row, heading_row, text
from reports.sheets.content import Content
from reports.sheets.page import Page
from reports.sheets.set_ups import add_set_ups

_WIDTHS = (5.0, 6, 9, 11, 7, 52, 23, 25)


def machining_page(content: Content) -> Page:
    """Describe the sheet."""
    page = Page(name="Machining", widths=_WIDTHS, frozen=2)
    page.top(
        "Machining",
        f"Lengths in {content.unit_name}. The manuals of the machines, local codes and a"
        " competent person come before anything here.",
    )
    for words in SET_UP_RULES:
        page.add(text("CHECK", "check word", span=2), text(words, "check", span=6))
    _add_works(page, content)
    _add_steps(page, content)
    add_set_ups(page, content)
    page.press()
    return page


def _add_works(page: Page, content: Content) -> None:
    """Append the order of work of each part."""
    works = works_for(content.project, content.plan)
    rows = [
        Row(
            cells=(
                text(work.part.name, "label", span=3),
                text(work.made_as),
                Cell(value=work.copies, style="count"),
                text(" \N{RIGHTWARDS ARROW} ".join(work.steps), span=3),
            )
        )
        for work in works
    ]
    head = head_row(("part", 3), "made as", "copies", ("steps in order", 3))
    page.table(rows, [heading_row("Order of work, part by part", len(_WIDTHS)), head])


def _add_steps(page: Page, content: Content) -> None:
    """Append how each step is done."""
    used = {
        step for work in works_for(content.project, content.plan) for step in work.steps
    }
    rows = [
        Row(cells=(text(step, "label", span=4), text(words, span=4)))
        for step, words in STEPS.items()
        if step in used
    ]
    page.table(rows, [heading_row("How each step is done", len(_WIDTHS))])
