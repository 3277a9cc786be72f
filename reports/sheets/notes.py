"""Cautions, the rules the plan keeps, and the settings it was made with."""

from __future__ import annotations

from fractions import Fraction

from reports.cautions import STANDING, Caution
from reports.sheets.content import Content
from reports.sheets.page import Cell, Page, head_row, length, text
from stock.shop import SETTINGS, Setting

_WIDTHS = (11.0, 24, 103)


def notes_page(content: Content) -> Page:
    """Describe the sheet."""
    page = Page(name="Notes", widths=_WIDTHS, frozen=2)
    page.top(
        "Notes and cautions",
        "The machine's manual, local law and codes, and a competent person come first.",
    )
    if content.cautions:
        page.heading("What this plan gives rise to")
        add_cautions(page, content.cautions)
    page.heading("At every job")
    add_cautions(page, STANDING)
    _add_rules(page, content)
    _add_warnings(page, content)
    _add_settings(page, content)
    return page


def add_cautions(page: Page, cautions: tuple[Caution, ...]) -> None:
    """Append cautions, a row each: word, topic, what to do."""
    rest = len(page.widths) - 2
    for caution in cautions:
        style = caution.level.lower()
        page.add(
            text(caution.level, f"{style} word"),
            text(caution.topic, "label"),
            text(caution.words, span=rest),
            height=18.0,
        )


def _add_rules(page: Page, content: Content) -> None:
    """Append the rules of cutting that the bound holds for, and the plan's notes."""
    page.heading("How the plan was made")
    bound = content.plan.totals.bound_name
    lines = [("rule", rule) for rule in content.plan.rules]
    lines.append(("bound", f"the cost is compared with a proven lower bound: {bound}"))
    lines += [("note", note) for note in content.plan.notes]
    for label, words in lines:
        page.add(text(label, "note word"), text(words, span=2))


def _add_warnings(page: Page, content: Content) -> None:
    """Append what the reader of the project file found odd."""
    if not content.project.warnings:
        return
    page.heading("What looked odd in the project file")
    for fault in content.project.warnings:
        page.add(text("CHECK", "check word"), text(str(fault), span=2))


def _add_settings(page: Page, content: Content) -> None:
    """Append the shop's settings in force."""
    page.heading("Settings in force")
    page.put(head_row("value", "setting", "meaning"))
    for setting in SETTINGS:
        unit = setting.unit or (content.unit.value if setting.kind == "length" else "")
        meaning = f"{setting.meaning} ({unit})" if unit else setting.meaning
        page.add(_value(content, setting), text(setting.name, "label"), text(meaning))


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
