"""Router templates: more parts, cut from the sheet that the shop names for them.

A template is the finished part with its joinery and a margin all round, in which clamps,
fences and stops find room (common practice, no source for the amount).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from nesting.goods import Sheet
from nesting.parts import Part
from nesting.reading import spelled
from stock.cells import Record
from stock.errors import Fault
from stock.measures import format_measure
from stock.rows import Findings, Row, folded, suggestion
from stock.shop import Shop

SETTING = "template sheet"


def templates_for(
    listed: tuple[tuple[Part, ...], tuple[Sheet, ...]],
    shop: Shop,
    records: Iterable[Record],
    settings: Iterable[Row],
    findings: Findings,
) -> tuple[Part, ...]:
    """Return a part for every template that parts want; `listed` are parts and sheets.

    A sheet that is not listed is a fault of its setting; without a setting, templates are
    left out with a warning.
    """
    parts, sheets = listed
    wanted = [part for part in parts if part.template]
    name = spelled(shop.template_sheet, (one for sheet in sheets for one in sheet.names))
    rows = {record.get("part"): record for record in records}
    fit = [sheet for sheet in sheets if name in sheet.names]
    if shop.template_sheet and not fit:
        findings.faults += _unknown(sheets, shop.template_sheet, settings)
    if wanted and not shop.template_sheet and wanted[0].name in rows:
        findings.warnings.append(_not_named(rows[wanted[0].name]))
    if not fit:
        return ()
    made = [template_of(part, fit[0], name or "", shop) for part in wanted]
    known = {part.name for part in parts}
    findings.warnings += _listed(made, known, rows)
    return tuple(part for part in made if part.name not in known)


def template_of(part: Part, sheet: Sheet, name: str, shop: Shop) -> Part:
    """Return the template of a part: a piece of the sheet called so, the grain any way."""
    margin = shop.template_margin
    size = format_measure(margin, shop.unit)
    return Part(
        name=f"{part.name} template",
        qty=1,
        length=part.length + part.add_length + 2 * margin,
        width=part.width + part.add_width + 2 * margin,
        thickness=sheet.thickness,
        species=name,
        grain="either",
        face="hidden",
        build="solid",
        note=f"router template of {part.name}, {size} {shop.unit.value} more all round",
        row=part.row,
    )


def _unknown(
    sheets: Iterable[Sheet], name: str, settings: Iterable[Row]
) -> Iterable[Fault]:
    """Yield the fault of a setting that names no sheet."""
    known = dict.fromkeys(one for sheet in sheets for one in sheet.names)
    rule = f"{SETTING}: use a sheet of the table Sheets{suggestion(name, known)}"
    for row in settings:
        if folded(str(row.cells.get("setting"))) == folded(SETTING):
            yield row.fault("value", rule, name)


def _not_named(record: Record) -> Fault:
    rule = (
        "templates are wanted and left out: name what they are cut from, a sheet of the "
        f"table Sheets, as {SETTING} in Shop"
    )
    fault: Fault = record.fault("template", rule)
    return fault


def _listed(
    made: Iterable[Part], known: set[str], rows: Mapping[str | None, Record]
) -> Iterable[Fault]:
    """Yield a warning for every template that the table of parts has already."""
    for part in made:
        record = rows.get(part.name.removesuffix(" template"))
        if part.name in known and record is not None:
            rule = f"the part {part.name!r} is listed: it is taken for the template"
            yield record.fault("template", rule)
