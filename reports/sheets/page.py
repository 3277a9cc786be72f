"""One sheet as it is printed: rows from the top, page breaks, heights of wrapped texts."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace

from reports.sheets.cells import ROW, SUBTITLE, TITLE, Cell, Row, Value, heading_row
from reports.styles import BASE_SIZE, PAGE_HEIGHT, looks_for
from reports.wrapping import lines_of
from stock.measures import Unit

SCALE = 95  # percent at which `styles.PAGE_UNITS` fill a page across
SMALLEST = 80  # percent: letters of 7.6 points
LEAST = 3  # rows of a table that no page parts from its head or its end
HIGHEST_ROW = 409.0  # points, as spreadsheets allow

_BORDER, _INDENT = 0.8, 1.3  # column units that they take up in a cell of words
_LOOKS = looks_for(Unit.INCH)  # for the sizes of letters, which are the same in any unit


@dataclass(kw_only=True, slots=True)
class Page:
    """One sheet, built row by row from the top; it sets its page breaks itself.

    Attributes
    ----------
    widths
        Column widths in the units of a spreadsheet; `styles.PAGE_UNITS` fill a page.
    scale
        Percent at which the sheet is printed. Spreadsheets ignore set page breaks when
        they scale a sheet to its page themselves, so they are never asked to.
    frozen
        How many rows stay in sight and are repeated on every printed page.
    again
        What `next_row` repeats at the top of a page: the head of the table at hand.
    breaks
        Rows that end a printed page.
    """

    name: str
    widths: tuple[float, ...]
    scale: int = SCALE
    frozen: int = 0
    again: tuple[Row, ...] = ()
    rows: list[Row] = field(default_factory=list)
    breaks: list[int] = field(default_factory=list)
    names: dict[str, int] = field(default_factory=dict)
    _filled: float = 0.0
    _has_repeats: bool = False

    def add(self, *cells: Cell | None, height: float = ROW, ticked: bool = False) -> int:
        """Append one row of cells and return its number; wrapped text makes it taller."""
        return self.put(Row(cells=cells, height=height, is_ticked=ticked))

    def put(self, row: Row) -> int:
        """Append a row and return its number, 1 being the first."""
        tall = replace(row, height=self.height_of(row))
        if self._filled + tall.height > self.room:
            self.turn()
        self.rows.append(tall)
        self._filled += tall.height
        return len(self.rows)

    def next_row(self, height: float = ROW) -> int:
        """Return the number of the next row, on a new page under `again` if need be."""
        if self._filled + height > self.room:
            self._go_on(self.again)
        return len(self.rows) + 1

    def keep(self, height: float) -> None:
        """Start a new page unless this one has room for `height` points more."""
        if self._filled + height > self.room:
            self.turn()

    def block(self, rows: Sequence[Row], again: Sequence[Row] = ()) -> int:
        """Append rows that belong together, on a new page if this one is too full.

        A block higher than a page goes on under `again`, the head of its table; its last
        rows stay together. Returns the number of the first row.
        """
        self.keep(self._height(rows))
        return self._flow(rows, again)

    def table(self, rows: Sequence[Row], again: Sequence[Row]) -> int:
        """Append a long table that may start on any page with its first rows.

        It begins with the rows `again`, which head every page that it takes up. Returns
        the number of its first row.
        """
        self.keep(self._height([*again, *rows[:LEAST]]))
        return self._flow([*again, *rows], again)

    def _flow(self, rows: Sequence[Row], again: Sequence[Row]) -> int:
        """Append rows over as many pages as they need; return the number of the first."""
        first = len(self.rows) + 1
        for at, row in enumerate(rows):
            last = rows[at:] if at == len(rows) - LEAST else [row]
            if self._filled + self._height(last) > self.room:
                self._go_on(again if at else ())
            self.put(row)
        return first

    def _go_on(self, again: Sequence[Row]) -> None:
        """Start a new page with rows that stood above already."""
        self.turn()
        for row in again:
            self._has_repeats = True
            self.put(row)

    @property
    def room(self) -> float:
        """Height of a printed page in points."""
        return PAGE_HEIGHT * 100 / self.scale

    @property
    def fresh(self) -> float:
        """Room of a page below the rows that every page repeats."""
        return self.room - sum(row.height for row in self.rows[: self.frozen])

    @property
    def left(self) -> float:
        """Room that is left on the page at hand."""
        return self.room - self._filled

    def height_of(self, row: Row) -> float:
        """Return the height of a row, its longest text wrapped."""
        return max(row.height, self._wrapped(row))

    def _height(self, rows: Iterable[Row]) -> float:
        return sum(self.height_of(row) for row in rows)

    def turn(self) -> None:
        """Start a new printed page, unless nothing stands on this one yet."""
        if len(self.rows) > max(self.frozen, *self.breaks, 0):
            self.breaks.append(len(self.rows))
            self._filled = sum(row.height for row in self.rows[: self.frozen])

    def press(self) -> None:
        """Print a sheet that is little more than a page on one page, a little smaller.

        Not if it repeats rows for a second page.
        """
        height = sum(row.height for row in self.rows)
        scale = int(PAGE_HEIGHT * 100 / height)
        if self.breaks and scale >= SMALLEST and not self._has_repeats:
            self.scale, self.breaks = scale, []

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
        if not isinstance(cell.value, str) or cell.formula:
            return 0.0
        look = _LOOKS[cell.style]
        if not look.wrap:
            return 0.0
        units = sum(self.widths[column - 1 : column - 1 + cell.span]) - _BORDER
        if look.across != "center":
            units -= _INDENT
        size = look.size / BASE_SIZE
        lines = lines_of(cell.value, units, scale=size, bold=look.bold)
        return min(HIGHEST_ROW, 12.0 * size * lines + 1.5)
