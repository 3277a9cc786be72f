"""What a sheet is made of, without any file format: cells, rows, pictures, pages."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace

from reports.drawings import Drawing
from reports.styles import PAGE_HEIGHT
from stock.measures import Unit, to_unit

Value = str | int | float | None

EMPTY_BOX = "\N{BALLOT BOX}"
TICKED_BOX = "\N{BALLOT BOX WITH X}"

ROW, HEAD, HEADING, TITLE, SUBTITLE, TICK_ROW = 15.0, 28.0, 21.0, 27.0, 15.0, 19.0


@dataclass(frozen=True, kw_only=True, slots=True)
class Cell:
    """One cell: what it shows and how.

    Attributes
    ----------
    value
        What the cell holds; for a formula the result that we worked out ourselves.
    style
        Name of a style in `styles.py`.
    formula
        A live formula (starting with `=`), or None. Never made from words of the user.
    link
        A place in the workbook to jump to, `Sheet!A1`.
    span
        How many columns the cell takes up.
    """

    value: Value = None
    style: str = "text"
    formula: str | None = None
    link: str | None = None
    span: int = 1


@dataclass(frozen=True, kw_only=True, slots=True)
class Row:
    """One row; cells follow each other from the first column, spans counted."""

    cells: tuple[Cell | None, ...] = ()
    height: float = ROW
    picture: Drawing | None = None
    is_ticked: bool = False


@dataclass(kw_only=True, slots=True)
class Page:
    """One sheet, built row by row from the top.

    Attributes
    ----------
    widths
        Column widths in the units of a spreadsheet; `styles.PAGE_UNITS` fill a page.
    scale
        Percent of a sheet that breaks pages itself, between blocks; 0 for a sheet that is
        scaled to one page wide. Spreadsheets ignore set page breaks when they scale.
    frozen
        How many rows stay in sight and are repeated on every printed page.
    ticks
        Rows that carry a tick box in the first column.
    """

    name: str
    widths: tuple[float, ...]
    scale: int = 0
    frozen: int = 0
    rows: list[Row] = field(default_factory=list)
    breaks: list[int] = field(default_factory=list)
    names: dict[str, int] = field(default_factory=dict)
    _filled: float = 0.0

    def add(self, *cells: Cell | None, height: float = ROW, ticked: bool = False) -> int:
        """Append one row of cells and return its number; wrapped text makes it taller."""
        return self.put(Row(cells=cells, height=height, is_ticked=ticked))

    def put(self, row: Row) -> int:
        """Append a row and return its number, 1 being the first."""
        tall = replace(row, height=self.height_of(row))
        self.rows.append(tall)
        self._filled += tall.height
        return len(self.rows)

    def block(self, rows: Sequence[Row], again: Row | None = None) -> int:
        """Append rows that belong together, on a new page if this one is too full.

        A block higher than a page goes on under `again`, the head of its table. Returns
        the number of the first row.
        """
        height = sum(self.height_of(row) for row in rows)
        if self._filled + height > self.room and len(self.rows) > self.frozen:
            self.turn()
        first = len(self.rows) + 1
        for row in rows:
            if self._filled + self.height_of(row) > self.room:
                self.turn()
                if again and row.is_ticked:
                    self.put(again)
            self.put(row)
        return first

    @property
    def room(self) -> float:
        """Height of a printed page in points; no end where pages aren't set by us."""
        return PAGE_HEIGHT * 100 / self.scale if self.scale else math.inf

    def height_of(self, row: Row) -> float:
        """Return the height of a row, its longest text wrapped."""
        return max(row.height, self._wrapped(row))

    def turn(self) -> None:
        """Start a new printed page."""
        self.breaks.append(len(self.rows))
        self._filled = sum(row.height for row in self.rows[: self.frozen])

    def top(self, title: str, subtitle: str) -> None:
        """Write the title of the sheet."""
        span = len(self.widths)
        self.add(Cell(value=title, style="title", span=span), height=TITLE)
        self.add(Cell(value=subtitle, style="subtitle", span=span), height=SUBTITLE)

    def heading(self, text: str) -> int:
        """Write a heading across the sheet and return its row."""
        return self.put(heading_row(text, len(self.widths)))

    def paragraph(self, text: str, style: str = "soft") -> int:
        """Write a text across the sheet and return its row."""
        return self.add(Cell(value=text, style=style, span=len(self.widths)))

    def cells_of(self, row: Row) -> Iterable[tuple[int, Cell]]:
        """Yield the cells of a row with their columns, 1 being the first."""
        column = 1
        for cell in row.cells:
            if cell is not None:
                yield column, cell
            column += cell.span if cell is not None else 1

    def pages_high(self) -> int:
        """Return into how many pages to press a scaled sheet; 0 leaves it as it falls.

        A few rows alone on a last page are pressed into the page before.
        """
        pages = sum(row.height for row in self.rows) / PAGE_HEIGHT
        whole = max(1, math.floor(pages))
        return whole if pages <= whole * 1.3 else 0

    def last_value(self, row: int) -> Value:
        """Return what the last cell of a row holds."""
        cell = self.rows[row - 1].cells[-1]
        return cell.value if cell else None

    def _wrapped(self, row: Row) -> float:
        """Return the height that the longest text of a row needs."""
        return max(
            (self._text_height(at, cell) for at, cell in self.cells_of(row)), default=0
        )

    def _text_height(self, column: int, cell: Cell) -> float:
        """Return the height a cell needs when its text wraps."""
        if not isinstance(cell.value, str) or cell.style in {
            "title",
            "subtitle",
            "heading",
        }:
            return 0.0
        units = sum(self.widths[column - 1 : column - 1 + cell.span]) - 2.0
        return 12.0 * lines_of(cell.value, units) + 3.5


def lines_of(text: str, units: float) -> int:
    """Return how many lines a text takes in a cell `units` wide (measured at 9.5 points).

    An average letter of running text takes about 0.85 units; words are not broken, so a
    narrow cell wastes about a third of a word per line.
    """
    fits = max(4.0, units * 1.17)
    return sum(_lines_of_words(line.split(), fits) for line in text.split("\n"))


def _lines_of_words(words: Sequence[str], fits: float) -> int:
    """Return the lines that words take when filled one after the other."""
    lines, filled = 1, 0.0
    for word in words:
        if filled and filled + 1 + len(word) > fits:
            lines, filled = lines + 1, 0.0
        filled += len(word) + (1 if filled else 0)
        if filled > fits:
            extra = math.ceil(filled / fits) - 1
            lines, filled = lines + extra, filled - extra * fits
    return lines


def heading_row(text: str, span: int) -> Row:
    """Return a heading across `span` columns."""
    return Row(cells=(Cell(value=text, style="heading", span=span),), height=HEADING)


def head_row(*names: str | tuple[str, int], height: float = ROW) -> Row:
    """Return the head of a table; a name with a number spans that many columns."""
    cells = tuple(
        Cell(value=name, style="head")
        if isinstance(name, str)
        else Cell(value=name[0], style="head", span=name[1])
        for name in names
    )
    return Row(cells=cells, height=height)


def picture_row(drawing: Drawing) -> Row:
    """Return a row that holds a drawing."""
    return Row(height=drawing.height + 6, picture=drawing)


def text(value: object, style: str = "text", span: int = 1) -> Cell:
    """Return a cell of words; None stays empty."""
    return Cell(value=None if value is None else str(value), style=style, span=span)


def length(steps: int | None, unit: Unit) -> Cell:
    """Return a cell with a measure given in grid steps."""
    if steps is None:
        return Cell(style="length")
    style = "tenths" if unit is Unit.MM and steps % 10 else "length"
    return Cell(value=to_unit(steps, unit), style=style)


def number(value: float | None, style: str) -> Cell:
    """Return a cell with a number."""
    return Cell(value=value, style=style)


def tick() -> Cell:
    """Return an empty tick box."""
    return Cell(value=EMPTY_BOX, style="tick")
