"""A plan as a workbook for the yard, the saw and the glue-up bench."""

from __future__ import annotations

import io
import os
from pathlib import Path

from openpyxl.workbook import Workbook

from nesting.plan import Plan
from nesting.project import Project
from reports.advice import NO_ADVICE, Advice
from reports.closing import closed
from reports.painter import Painter
from reports.sheets.boards import boards_page, sheets_page
from reports.sheets.buy import buy_page
from reports.sheets.content import Content, content_for
from reports.sheets.glueups import glueups_page
from reports.sheets.notes import notes_page
from reports.sheets.offcuts import offcuts_page
from reports.sheets.overview import overview_page
from reports.sheets.page import Page
from reports.sheets.parts import parts_page
from reports.styles import add_styles
from stock.species import density, species_named


def write_workbook(
    path: Path, project: Project, plan: Plan, advice: Advice = NO_ADVICE
) -> None:
    """Write the report of a plan to `path`; the same plan gives the same bytes.

    The file is written aside in the same folder and renamed, so that nobody ever finds
    half a workbook.
    """
    path = Path(path)
    content = content_for(project, plan, _density, advice)
    data = workbook_bytes(content)
    aside = path.with_name(f".{path.name}.{os.getpid()}.part")
    try:
        aside.write_bytes(data)
        os.replace(aside, path)  # noqa: PTH105 - the rename that may overwrite
    finally:
        aside.unlink(missing_ok=True)


def workbook_bytes(content: Content) -> bytes:
    """Return the report as the bytes of an xlsx file."""
    book = Workbook()
    book.remove(book.worksheets[0])
    add_styles(book, content.unit)
    book.properties.title = "Plan of wood"
    book.properties.creator = "stavewright"
    painter = Painter(book, content.unit, content.plan.project[:120])
    pages = pages_for(content)
    for page in pages:
        painter.paint(page)
    book.calculation.fullCalcOnLoad = True
    raw = io.BytesIO()
    book.save(raw)
    return closed(raw.getvalue(), painter.results, [page.name for page in pages])


def pages_for(content: Content) -> tuple[Page, ...]:
    """Return every sheet of the report in order, without those that are empty."""
    buy = buy_page(content)
    pages = [boards_page(content)] if content.plan.boards else []
    if content.plan.sheets:
        pages.append(sheets_page(content))
    if content.plan.panels:
        pages.append(glueups_page(content))
    pages += [parts_page(content), offcuts_page(content), notes_page(content)]
    return (overview_page(content, buy, tuple(pages)), buy, *pages)


def _density(name: str) -> float | None:
    """Return kg/m3 of a species as the maker names it, None for a wood we don't know."""
    species = species_named(name)
    return density(species) if species else None
