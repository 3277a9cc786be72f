"""Offcuts worth keeping, to label and put back in the rack."""

from __future__ import annotations

from fractions import Fraction

from reports.frames import records
from reports.sheets.cauls import cauls_of
from reports.sheets.cells import TICK_ROW, Cell, head_row, length, text, tick
from reports.sheets.content import Content, amount
from reports.sheets.page import Page

_WIDTHS = (5.0, 20, 16, 20, 11, 13, 12, 12, 12, 17)


def offcuts_page(content: Content) -> Page:
    """Describe the sheet; waste is not listed."""
    page = Page(name="Offcuts", widths=_WIDTHS, frozen=3)
    page.top(
        "Offcuts",
        f"Lengths in {content.unit_name}. Pieces big enough to keep; the credit is what"
        " the plan counts them as worth. Waste is not listed.",
    )
    page.put(
        head_row("", "offcut", "from board", "species", "thick", "length", "width",
                 "board feet", "credit", "place in the rack")
    )  # fmt: skip
    rows = list(records(content.frames.offcuts))
    for row in rows:
        feet = row["board_feet"]
        page.add(
            tick(),
            text(row["offcut"], "label"),
            text(row["board"]),
            text(row["species"]),
            text(row["thickness"]),
            length(row["length"], content.unit),
            length(row["width"], content.unit),
            Cell(value=float(feet) if feet else None, style="feet"),
            Cell(value=amount(row["credit"]), style="money"),
            Cell(style="input text"),
            height=TICK_ROW,
            ticked=True,
        )
    if not rows:
        page.paragraph("None of the offcuts is big enough to keep.", "plain")
        return page
    first, last = 4, len(page.rows)
    feet = sum((Fraction(row["board_feet"]) for row in rows), Fraction(0))
    credit = sum(amount(row["credit"]) or 0.0 for row in rows)
    page.names["credit"] = page.add(
        Cell(style="total text"),
        text("together", "total text", span=6),
        Cell(value=float(feet), style="total feet", formula=f"=SUM(H{first}:H{last})"),
        Cell(
            value=round(credit, 2), style="total money", formula=f"=SUM(I{first}:I{last})"
        ),
        Cell(style="total text"),
    )
    named = {strip.name for strip in cauls_of(content).strips if strip.name}
    if named:
        words = f"Cauls may be cut from {', '.join(sorted(named))}: see the sheet Clamping."
        page.paragraph(words, "plain")
    page.press()
    return page
