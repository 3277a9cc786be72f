"""A plan as a workbook for the yard, the saw and the glue-up bench."""

from __future__ import annotations

import io
import os
from collections.abc import Sequence
from pathlib import Path

from openpyxl.workbook import Workbook

from nesting.estimating import Answer
from nesting.plan import Plan
from nesting.project import Project
from nesting.taken import Taken
from reports.advice import NO_ADVICE, Advice
from reports.closing import closed
from reports.painter import Painter
from reports.sheets.boards import boards_page, sheets_page
from reports.sheets.buy import buy_page
from reports.sheets.clamping import clamping_page
from reports.sheets.content import Content, content_for
from reports.sheets.costs import costs_page
from reports.sheets.estimate import add_charts, estimate_page, points_page
from reports.sheets.glueups import glueups_page
from reports.sheets.machining import machining_page
from reports.sheets.movement import movement_page
from reports.sheets.notes import notes_page
from reports.sheets.offcuts import offcuts_page
from reports.sheets.overview import overview_page
from reports.sheets.page import Page
from reports.sheets.parts import parts_page
from reports.styles import add_styles
from stock.measures import Unit
from stock.species import density, species_named


def write_workbook(
    path: Path,
    project: Project,
    plan: Plan,
    taken: Taken | None = None,
    advice: Advice = NO_ADVICE,
) -> None:
    """Write the report of a plan to `path`; the same plan gives the same bytes.

    `taken` is what lay in the cart, if the plan was made from a tally sheet.

    The file is written aside in the same folder and renamed, so that nobody ever finds
    half a workbook.
    """
    content = content_for(project, plan, _density, taken, advice)
    write_aside(Path(path), workbook_bytes(content))


def write_estimate(
    path: Path, project: Project, answers: Sequence[Answer], *, piles: int
) -> None:
    """Write what to buy unseen to `path`, aside and renamed as `write_workbook` does."""
    book, painter = _book(project.unit, "Wood to buy unseen", project.name)
    page, points = estimate_page(project, answers, piles=piles), points_page(answers)
    painter.paint(page)
    painter.paint(points)
    add_charts(book, page, points, answers)
    write_aside(Path(path), _finished(book, painter, [page.name, points.name]))


def write_pages(
    path: Path, pages: Sequence[Page], unit: Unit, title: str, footer: str
) -> None:
    """Write pages of their own to `path`, aside and renamed as `write_workbook` does."""
    book, painter = _book(unit, title, footer)
    for page in pages:
        painter.paint(page)
    write_aside(Path(path), _finished(book, painter, [page.name for page in pages]))


def write_aside(path: Path, data: bytes) -> None:
    """Write a file so that nobody ever finds half of it."""
    aside = path.with_name(f".{path.name}.{os.getpid()}.part")
    try:
        aside.write_bytes(data)
        os.replace(aside, path)  # noqa: PTH105 - the rename that may overwrite
    finally:
        aside.unlink(missing_ok=True)


def workbook_bytes(content: Content) -> bytes:
    """Return the report as the bytes of an xlsx file."""
    book, painter = _book(content.unit, "Plan of wood", content.plan.project)
    pages = pages_for(content)
    for page in pages:
        painter.paint(page)
    return _finished(book, painter, [page.name for page in pages])


def _book(unit: Unit, title: str, project: str) -> tuple[Workbook, Painter]:
    """Return an empty workbook and what paints into it."""
    book = Workbook()
    book.remove(book.worksheets[0])
    add_styles(book, unit)
    book.properties.title = title
    book.properties.creator = "stavewright"
    return book, Painter(book, unit, project[:120])


def _finished(book: Workbook, painter: Painter, names: list[str]) -> bytes:
    """Return a painted workbook as the bytes of a file."""
    book.calculation.fullCalcOnLoad = True
    raw = io.BytesIO()
    book.save(raw)
    return closed(raw.getvalue(), painter.results, names)


def pages_for(content: Content) -> tuple[Page, ...]:
    """Return every sheet of the report in order, without those that are empty."""
    buy = buy_page(content)
    pages = [boards_page(content)] if content.plan.boards else []
    if content.plan.sheets:
        pages.append(sheets_page(content))
    if content.set_ups:
        pages.append(machining_page(content))
    glueups = glueups_page(content) if content.plan.panels else None
    if content.schedule.batches:
        pages.append(clamping_page(content, glueups))
    pages += [glueups] if glueups else []
    offcuts = offcuts_page(content)
    pages += [parts_page(content), offcuts]
    costs = costs_page(content, buy, offcuts)
    movement = movement_page(content)
    pages += [one for one in (costs, movement) if one]
    pages.append(notes_page(content))
    return (overview_page(content, buy, tuple(pages)), buy, *pages)


def _density(name: str) -> float | None:
    """Return kg/m3 of a species as the maker names it, None for a wood we don't know."""
    species = species_named(name)
    return density(species) if species else None
