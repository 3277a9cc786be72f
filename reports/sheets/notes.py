"""Cautions, the rules the plan keeps, and the settings it was made with."""

from __future__ import annotations

from fractions import Fraction

from reports.cautions import STANDING, Caution
from reports.glueups import panel_name
from reports.matching import panel_words, set_words
from reports.sheets.cells import Cell, Row, head_row, heading_row, length, text
from reports.sheets.content import Content
from reports.sheets.page import Page
from stock.measures import Unit
from stock.shop import SETTINGS, Setting

_WIDTHS = (11.0, 24, 103)
_SCALE = 88  # the settings are then one page


def notes_page(content: Content) -> Page:
    """Describe the sheet."""
    page = Page(name="Notes", widths=_WIDTHS, frozen=2, scale=_SCALE)
    page.top(
        "Notes and cautions",
        "The machine's manual, local law and codes, and a competent person come first.",
    )
    if content.cautions:
        add_cautions(page, "In this plan", content.cautions)
    add_cautions(page, "At every job", STANDING)
    _add_rules(page, content)
    _add_matching(page, content)
    _add_warnings(page, content)
    _add_settings(page, content)
    page.press()
    return page


def add_cautions(page: Page, heading: str, cautions: tuple[Caution, ...]) -> None:
    """Append cautions under a heading, a row each: word, topic, what to do."""
    rows = [_caution_row(caution, len(page.widths) - 2) for caution in cautions]
    page.table(rows, [heading_row(heading, len(page.widths))])


def _caution_row(caution: Caution, rest: int) -> Row:
    """Return one caution; its words take up the `rest` of the columns."""
    style = caution.level.lower()
    return Row(
        cells=(
            text(caution.level, f"{style} word"),
            text(caution.topic, "label"),
            text(caution.words, span=rest),
        ),
        height=18.0,
    )


def _add_rules(page: Page, content: Content) -> None:
    """Append the rules of cutting that the bound holds for, and the plan's notes."""
    bound = content.plan.totals.bound_name
    lines = [("rule", rule) for rule in content.plan.rules]
    lines.append(("bound", f"the cost is compared with a proven lower bound: {bound}"))
    lines += [("note", note) for note in content.plan.notes]
    rows = [
        Row(cells=(text(label, "note word"), text(words, span=2))) for label, words in lines
    ]
    page.table(rows, [heading_row("How the plan was made", len(_WIDTHS))])


def _add_matching(page: Page, content: Content) -> None:
    """Append how alike sets are, and what panels count for not looking like one piece."""
    lines = [("set", one.name, set_words(one)) for one in content.plan.sets]
    lines += [
        ("panel", panel_name(panel), panel_words(panel)) for panel in content.plan.panels
    ]
    rows = [
        Row(cells=(text(kind, "note word"), text(name, "label"), text(words)))
        for kind, name, words in lines
    ]
    if rows:
        heading = "How sets and panels match (points: 0 looks like one piece)"
        page.table(rows, [heading_row(heading, len(_WIDTHS))])


def _add_warnings(page: Page, content: Content) -> None:
    """Append what the reader of the project file found odd."""
    if not content.project.warnings:
        return
    rows = [
        Row(cells=(text("CHECK", "check word"), text(str(fault), span=2)))
        for fault in content.project.warnings
    ]
    where = " or on the tally sheet" if content.taken else ""
    heading = f"What looked odd in the project file{where}"
    page.table(rows, [heading_row(heading, len(_WIDTHS))])


def _add_settings(page: Page, content: Content) -> None:
    """Append the shop's settings in force."""
    rows = [_setting_row(content, setting) for setting in SETTINGS]
    head = head_row("value", "setting", "meaning")
    page.table(rows, [heading_row("Settings in force", len(_WIDTHS)), head])


def _setting_row(content: Content, setting: Setting) -> Row:
    """Return one setting: value, name, meaning."""
    unit = setting.unit or (content.unit.value if setting.kind == "length" else "")
    if " or " in unit:  # inch and metric projects count it differently
        unit = unit.split(" or ")[content.unit is Unit.MM]
    meaning = f"{setting.meaning} ({unit})" if unit else setting.meaning
    cells = (_value(content, setting), text(setting.name, "label"), text(meaning))
    return Row(cells=cells, height=14.0)


def _value(content: Content, setting: Setting) -> Cell:
    """Return a setting's value as a cell."""
    value = getattr(content.project.shop, setting.field)
    if setting.kind == "length":
        return length(value, content.unit)
    if setting.name == "unit":
        return text(content.unit_name)
    if isinstance(value, Fraction):
        return Cell(value=float(value), style="general")
    return text(value)
