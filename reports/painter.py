"""Paints described pages into a workbook; nothing here decides what a sheet says."""

from __future__ import annotations

import io
from dataclasses import dataclass, field

from openpyxl.cell import Cell as BookCell
from openpyxl.cell.cell import ILLEGAL_CHARACTERS_RE
from openpyxl.drawing.fill import Blip
from openpyxl.drawing.geometry import PresetGeometry2D
from openpyxl.drawing.image import Image
from openpyxl.drawing.picture import PictureFrame
from openpyxl.drawing.spreadsheet_drawing import AnchorMarker, OneCellAnchor
from openpyxl.drawing.xdr import XDRPositiveSize2D
from openpyxl.formatting.rule import Rule
from openpyxl.styles import Font
from openpyxl.styles.differential import DifferentialStyle
from openpyxl.utils import get_column_letter
from openpyxl.workbook import Workbook
from openpyxl.worksheet.datavalidation import DataValidation
from openpyxl.worksheet.hyperlink import Hyperlink
from openpyxl.worksheet.pagebreak import Break
from openpyxl.worksheet.worksheet import Worksheet

from reports.drawings import Drawing
from reports.png import png
from reports.sheets.cells import EMPTY_BOX, TICKED_BOX, Cell, Value
from reports.sheets.page import Page
from reports.styles import MARGINS, SOFT
from stock.measures import Unit

LONGEST_TEXT = 32_767
_RISKY = ("=", "+", "-", "@", "\t", "\r", "\n")
_EMU_PER_POINT = 12_700
_LETTER, _A4 = 1, 9

Cached = dict[tuple[str, str], Value]


@dataclass(slots=True)
class Painter:
    """Paints pages into a workbook, one sheet each.

    `results` collects what we worked out for each live formula, by sheet and cell.
    """

    book: Workbook
    unit: Unit
    footer: str
    results: Cached = field(default_factory=dict)

    def paint(self, page: Page) -> None:
        """Add one page as a sheet."""
        sheet: Worksheet = self.book.create_sheet(page.name)
        for at, width in enumerate(page.widths, 1):
            sheet.column_dimensions[get_column_letter(at)].width = width
        for at, row in enumerate(page.rows, 1):
            sheet.row_dimensions[at].height = row.height
            for column, cell in page.cells_of(row):
                self._cell(sheet, at, column, cell)
            if row.picture:
                _add_picture(sheet, at, row.picture)
        _add_ticks(sheet, page)
        _set_page(sheet, page, self.unit, self.footer)

    def _cell(self, sheet: Worksheet, row: int, column: int, cell: Cell) -> None:
        """Write one cell; a span is merged, with its border on every cell under it."""
        for under in range(column, column + cell.span):
            sheet.cell(row, under).style = cell.style
        if cell.span > 1:
            sheet.merge_cells(
                start_row=row, start_column=column,
                end_row=row, end_column=column + cell.span - 1,
            )  # fmt: skip
        target = sheet.cell(row, column)
        if not isinstance(target, BookCell):  # pragma: no cover - spans never overlap
            raise TypeError(f"{sheet.title}!{target.coordinate} lies under another cell")
        if cell.formula:
            target.value = cell.formula
            self.results[sheet.title, target.coordinate] = cell.value
        elif isinstance(cell.value, str):
            write_text(target, cell.value)
        else:
            target.value = cell.value
        if cell.link:
            target.hyperlink = Hyperlink(
                ref=target.coordinate, location=cell.link, display=str(cell.value)
            )
            target.style = cell.style


def write_text(cell: BookCell, words: str) -> None:
    """Write words that stay words, whatever they look like.

    The type is set after the value, or `=1+1` becomes a formula and `#N/A` an error; the
    quote prefix comes after the style, which would reset it.
    """
    style = cell.style
    cell.value = ILLEGAL_CHARACTERS_RE.sub("", words)[:LONGEST_TEXT]
    cell.data_type = "s"
    cell.style = style
    if words.startswith(_RISKY):
        cell.quotePrefix = True


def _add_picture(sheet: Worksheet, row: int, drawing: Drawing) -> None:
    """Put a drawing over a row, with its words for those who don't see it."""
    image = Image(io.BytesIO(png(drawing)))
    frame = PictureFrame()
    number = len(sheet._images) + 1  # type: ignore[attr-defined]  # noqa: SLF001
    frame.nvPicPr.cNvPr.id = number
    frame.nvPicPr.cNvPr.name = f"Drawing {number}"
    frame.nvPicPr.cNvPr.descr = ILLEGAL_CHARACTERS_RE.sub("", drawing.alt)
    frame.blipFill.blip = Blip(cstate="print")
    frame.spPr.prstGeom = PresetGeometry2D(prst="rect")
    frame.spPr.ln = None
    image.anchor = OneCellAnchor(
        _from=AnchorMarker(
            col=0, row=row - 1, colOff=4 * _EMU_PER_POINT, rowOff=3 * _EMU_PER_POINT
        ),
        ext=XDRPositiveSize2D(
            round(drawing.width * _EMU_PER_POINT), round(drawing.height * _EMU_PER_POINT)
        ),
        pic=frame,
    )
    sheet.add_image(image)


def _add_ticks(sheet: Worksheet, page: Page) -> None:
    """Let tick boxes be picked from a list, and strike out the rows that are ticked."""
    boxes = [
        f"A{at}"
        for at, row in enumerate(page.rows, 1)
        if row.cells and row.cells[0] and row.cells[0].style == "tick"
    ]
    if not boxes:
        return
    choice = DataValidation(
        type="list", formula1=f'"{EMPTY_BOX},{TICKED_BOX}"', allow_blank=True
    )
    sheet.add_data_validation(choice)
    for box in boxes:
        choice.add(box)
    last = get_column_letter(len(page.widths))
    struck = Rule(
        type="expression",
        formula=[f'$A1="{TICKED_BOX}"'],
        dxf=DifferentialStyle(font=Font(strike=True, color=SOFT)),
    )
    sheet.conditional_formatting.add(f"A1:{last}{len(page.rows)}", struck)


def _set_page(sheet: Worksheet, page: Page, unit: Unit, footer: str) -> None:
    """Set the printed page: landscape, fits Letter and A4, titles on every page."""
    last = f"{get_column_letter(len(page.widths))}{max(1, len(page.rows))}"
    sheet.sheet_view.showGridLines = False
    sheet.page_setup.orientation = "landscape"
    sheet.page_setup.paperSize = _LETTER if unit is Unit.INCH else _A4
    for side, inches in MARGINS.items():
        setattr(sheet.page_margins, side, inches)
    sheet.print_area = f"A1:{last}"
    if page.frozen:
        sheet.freeze_panes = f"A{page.frozen + 1}"
        sheet.print_title_rows = f"1:{page.frozen}"
    sheet.page_setup.scale = page.scale
    for row in page.breaks:
        sheet.row_breaks.append(Break(id=row))
    # A single & starts a code in footers, so the user's own are doubled.
    texts = {"left": footer.replace("&", "&&"), "center": page.name, "right": "&P / &N"}
    for side, words in texts.items():
        getattr(sheet.oddFooter, side).text = words
