"""The look of the report: palette, number formats, named styles, the printed page.

Lightness steps are chosen so that a grey print tells the colours apart; nothing is said
by colour alone. Ink on each fill keeps a contrast of 7:1 or more.
"""

from __future__ import annotations

from dataclasses import dataclass

from openpyxl.styles import (
    Alignment,
    Border,
    Font,
    NamedStyle,
    PatternFill,
    Protection,
    Side,
)
from openpyxl.workbook import Workbook

from stock.measures import Unit

INK = "1E1B18"
SOFT = "6B645C"
RULE = "B9B1A6"
BAND = "F3EFE8"
INPUT = "FFF8D6"
WARN = "F6C9B8"
FINE = "D8E6D2"
STOP = "8C2F1B"
WHITE = "FFFFFF"
LOOSE = "FBF0DA"
PANELS = ("C4DDEB", "E3B98F", "8FAF8B")

FACE = "Arial"
BASE_SIZE = 9.5

# A page that fits Letter and A4, landscape; margins in inches, room in points.
MARGINS = {
    "left": 0.4,
    "right": 0.4,
    "top": 0.45,
    "bottom": 0.6,
    "header": 0.2,
    "footer": 0.3,
}
PAGE_HEIGHT = 7.2 * 72
PAGE_UNITS = 138.0


@dataclass(frozen=True, kw_only=True, slots=True)
class Look:
    """How one named style looks; anything left out is as in plain text."""

    size: float = BASE_SIZE
    bold: bool = False
    ink: str = INK
    fill: str | None = None
    boxed: bool = True
    across: str | None = None
    wrap: bool = False
    form: str = "General"
    underlined: bool = False
    open: bool = False


def length_form(unit: Unit, *, tenths: bool = False) -> str:
    """Return the number format of a length: reduced fractions, or (tenths of) mm."""
    if unit is Unit.INCH:
        return "# ??/??"
    return "0.0" if tenths else "0"


def looks_for(unit: Unit) -> dict[str, Look]:
    """Return every named style of the report by name."""
    length = length_form(unit)
    tenths = length_form(unit, tenths=True)
    change = "0.000" if unit is Unit.INCH else "0.0"
    return _words() | _numbers(length, tenths, change) | _inputs(length, tenths) | _totals()


def _words() -> dict[str, Look]:
    return {
        "title": Look(size=18, bold=True, boxed=False, wrap=True),
        "subtitle": Look(ink=SOFT, boxed=False, wrap=True),
        "heading": Look(size=12, bold=True, boxed=False, wrap=True),
        "head": Look(size=9, bold=True, fill=BAND, across="center", wrap=True),
        "text": Look(wrap=True),
        "label": Look(bold=True, wrap=True),
        "soft": Look(size=9, ink=SOFT, boxed=False, wrap=True),
        "plain": Look(boxed=False, wrap=True),
        "aside": Look(boxed=False, wrap=True, across="left"),
        "plain bold": Look(boxed=False, bold=True, wrap=True),
        "link": Look(underlined=True, wrap=True),
        "tick": Look(size=13, across="center", fill=INPUT, open=True),
        "stop": Look(bold=True, ink=WHITE, fill=STOP, wrap=True),
        "check": Look(fill=WARN, wrap=True),
        "fine": Look(fill=FINE, wrap=True),
        "note": Look(fill=BAND, wrap=True),
        "stop word": Look(bold=True, ink=WHITE, fill=STOP, across="center"),
        "check word": Look(bold=True, fill=WARN, across="center"),
        "fine word": Look(bold=True, fill=FINE, across="center"),
        "note word": Look(bold=True, fill=BAND, across="center"),
    }


def _numbers(length: str, tenths: str, change: str) -> dict[str, Look]:
    return {
        "count": Look(form="0", across="center"),
        "length": Look(form=length, across="right"),
        "tenths": Look(form=tenths, across="right"),
        "feet": Look(form="#,##0.00", across="right"),
        "volume": Look(form="0.0000", across="right"),
        "money": Look(form="#,##0.00", across="right"),
        "percent": Look(form="0.0%", across="right"),
        "general": Look(form="General", across="right"),
        "one decimal": Look(form="0.0", across="right"),
        "change": Look(form=change, across="right"),
        "coefficient": Look(form="0.00000", across="right"),
    }


def _inputs(length: str, tenths: str) -> dict[str, Look]:
    # "@" keeps what is typed a text: no name and no mark becomes a date
    return {
        "input text": Look(fill=INPUT, wrap=True, form="@", open=True),
        "input length": Look(fill=INPUT, form=length, across="right", open=True),
        "input tenths": Look(fill=INPUT, form=tenths, across="right", open=True),
        "input number": Look(fill=INPUT, form="General", across="right", open=True),
        "input money": Look(fill=INPUT, form="#,##0.00", across="right", open=True),
        "input percent": Look(fill=INPUT, form="0.00%", across="right", open=True),
    }


def _totals() -> dict[str, Look]:
    return {
        "total text": Look(bold=True, fill=BAND, wrap=True),
        "total money": Look(bold=True, fill=BAND, form="#,##0.00", across="right"),
        "total feet": Look(bold=True, fill=BAND, form="#,##0.00", across="right"),
        "total volume": Look(bold=True, fill=BAND, form="0.0000", across="right"),
        "total weight": Look(bold=True, fill=BAND, form="0.0", across="right"),
        "total count": Look(bold=True, fill=BAND, form="0", across="center"),
    }


def add_styles(book: Workbook, unit: Unit) -> None:
    """Set the workbook's base font and register every named style once."""
    # The base font fixes the width of a column unit, so it is set before any cell.
    book._fonts[0] = Font(name=FACE, size=BASE_SIZE, color=INK)  # type: ignore[attr-defined]  # noqa: SLF001
    for name, look in looks_for(unit).items():
        book.add_named_style(_named(name, look))


def _alignment(look: Look) -> Alignment:
    """Return how a look sits in its cell: words stand off its border, figures shrink."""
    across = look.across or ("left" if look.boxed else None)
    return Alignment(
        horizontal=across,
        vertical="center",
        wrap_text=look.wrap,
        indent=1 if across == "left" else 0,
        shrink_to_fit=across == "right",
    )


def _named(name: str, look: Look) -> NamedStyle:
    """Return a look as a named style of openpyxl."""
    side = Side(style="thin", color=RULE)
    return NamedStyle(
        name=name,
        font=Font(
            name=FACE, size=look.size, bold=look.bold, color=look.ink,
            underline="single" if look.underlined else None,
        ),
        fill=PatternFill("solid", fgColor=look.fill) if look.fill else PatternFill(),
        border=Border(side, side, side, side) if look.boxed else Border(),
        alignment=_alignment(look),
        number_format=look.form,
        protection=Protection(locked=not look.open),
    )  # fmt: skip
