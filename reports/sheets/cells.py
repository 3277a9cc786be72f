"""What a sheet is made of, without any file format: cells, rows, pictures."""

from __future__ import annotations

from dataclasses import dataclass

from reports.drawings import Drawing
from stock.measures import Unit, to_unit

Value = str | int | float | None

EMPTY_BOX = "\N{BALLOT BOX}"
TICKED_BOX = "\N{BALLOT BOX WITH X}"

# Heights of rows in points.
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


def tick(*, done: bool = False) -> Cell:
    """Return a tick box, empty unless it is `done` already."""
    return Cell(value=TICKED_BOX if done else EMPTY_BOX, style="tick")
