"""Cells to values: one small reader per kind of column, and records that collect faults.

A reader takes what stood in the cell and gives a value, or raises `ValueError` with the
rule that was broken. Sizes are exact, in the project's unit; rounding to the grid comes
later, since what is needed rounds up and what is there rounds down.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from fractions import Fraction
from typing import Any

from stock.boards import DEFECTS, SAWINGS, Thickness
from stock.measures import MeasureError, Unit, parse_measure, parse_thickness
from stock.rows import Column, Findings, Row, Table, folded
from stock.tables import Unusable


@dataclass(frozen=True, slots=True)
class Record:
    """A row read by its contract; `values` lacks the columns that had faults."""

    row: Row
    values: Mapping[str, Any]
    is_whole: bool

    def __getitem__(self, column: str) -> Any:  # noqa: ANN401 (each kind has its own type)
        return self.values[column]

    def get(self, column: str) -> Any:  # noqa: ANN401
        """Return a value, or None if it is blank or had a fault."""
        return self.values.get(column)

    def fault(self, column: str | None, rule: str) -> Any:  # noqa: ANN401
        """Return a fault in this row that quotes the cell."""
        cell = self.row.cells.get(column) if column else None
        return self.row.fault(column, rule, None if cell is None else shown(cell))


def records_of(
    rows: Iterable[Row], table: Table, unit: Unit, findings: Findings
) -> tuple[Record, ...]:
    """Read every row by the table's contract; faults are added to `findings`."""
    return tuple(_record(row, table, unit, findings) for row in rows)


def read_cell(cell: object, column: Column, unit: Unit) -> object:
    """Return the value of a cell, the column's default if it is blank.

    Raises
    ------
    ValueError
        With the rule that the cell breaks.
    """
    if isinstance(cell, Unusable):
        raise ValueError(cell.rule)
    if (
        isinstance(cell, str)
        and column.otherwise
        and folded(cell) == folded(column.otherwise)
    ):
        cell = None
    if cell is None:
        if column.needed:
            raise ValueError("every row needs this")
        cell = column.default
    if cell is None:
        return None
    if isinstance(cell, bool) and column.kind != "flag":
        raise ValueError("a truth value stands here: type a number or a text")
    return KINDS[column.kind](cell, column, unit)


def shown(cell: object) -> str:
    """Return a cell as the maker sees it."""
    if isinstance(cell, float) and cell.is_integer() and abs(cell) < 1e15:
        return str(int(cell))
    return str(cell)


def _record(row: Row, table: Table, unit: Unit, findings: Findings) -> Record:
    values: dict[str, Any] = {}
    for column in table.columns:
        if column.needed and column.name not in row.cells:
            continue  # the missing heading has been reported
        cell = row.cells.get(column.name)
        try:
            values[column.name] = read_cell(cell, column, unit)
        except ValueError as error:
            got = None if cell is None else shown(cell)
            findings.faults.append(row.fault(column.name, str(error), got))
    return Record(row, values, len(values) == len(table.columns))


def _name(cell: object, _column: Column, _unit: Unit) -> str:
    """Read a name: one line, single spaces; a number counts as its digits."""
    return " ".join(shown(cell).split())


def _text(cell: object, _column: Column, _unit: Unit) -> str:
    return shown(cell)


def _tag(cell: object, column: Column, unit: Unit) -> str:
    """Read a tag: a name in lower case."""
    return _name(cell, column, unit).casefold()


def _tags(cell: object, column: Column, unit: Unit) -> tuple[str, ...]:
    """Read tags parted by commas."""
    tags = (_tag(part, column, unit) for part in shown(cell).replace(";", ",").split(","))
    return tuple(dict.fromkeys(tag for tag in tags if tag))


def _word(cell: object, column: Column, _unit: Unit) -> str:
    """Read one of the accepted words."""
    by_fold = {folded(word): word for word in column.words}
    try:
        return by_fold[folded(shown(cell))]
    except KeyError:
        raise ValueError(f"use one of {_listed(column.words)}") from None


def _sawing(cell: object, column: Column, unit: Unit) -> tuple[str, ...]:
    """Read `any`, or sawings joined by `/`; any is read as no wish at all."""
    words = [_word(part, column, unit) for part in shown(cell).split("/")]
    return () if "any" in words else tuple(dict.fromkeys(words))


def _flag(cell: object, _column: Column, _unit: Unit) -> bool:
    """Read yes or no; a spreadsheet's own truth value will do."""
    if isinstance(cell, bool):
        return cell
    try:
        return {"yes": True, "no": False}[folded(shown(cell))]
    except KeyError:
        raise ValueError("use one of yes, no") from None


def _number(cell: object, column: Column, _unit: Unit) -> Fraction:
    """Read a plain number within the column's range."""
    number = _exact(shown(cell) if isinstance(cell, str) else repr(cell))
    _check_range(number, column)
    return number


def _percent(cell: object, column: Column, unit: Unit) -> Fraction:
    """Read a percentage, with or without its sign: `50` or `50%`."""
    if isinstance(cell, str):
        cell = cell.strip().removesuffix("%").rstrip()
    return _number(cell, column, unit)


def _count(cell: object, column: Column, unit: Unit) -> int:
    """Read a whole number within the column's range."""
    number = _number(cell, column, unit)
    if number.denominator != 1:
        raise ValueError("use a whole number")
    return int(number)


def _money(cell: object, column: Column, unit: Unit) -> Fraction:
    """Read an amount of money, exact; a currency sign before or after it is ignored."""
    if isinstance(cell, str):
        cell = "".join(char for char in cell if unicodedata.category(char) != "Sc").strip()
    return _number(cell, column, unit)


def _angle(cell: object, column: Column, unit: Unit) -> float:
    """Read an angle in degrees."""
    if isinstance(cell, str):
        cell = cell.strip().removesuffix("\N{DEGREE SIGN}").rstrip()
    return float(_number(cell, column, unit))


def _measure(cell: object, column: Column, unit: Unit) -> Fraction:
    """Read a size; `low` 0 admits nothing, without it a size is more than 0."""
    size = parse_measure(cell, unit)
    if column.low is None and size == 0:
        raise ValueError("a size is more than 0")
    return size


def _thickness(cell: object, _column: Column, unit: Unit) -> Thickness:
    return Thickness(*parse_thickness(cell, unit))


def _spare(cell: object, column: Column, unit: Unit) -> tuple[Fraction, bool]:
    """Read a count of spares, or a percentage; the flag says it is one."""
    if isinstance(cell, str) and cell.rstrip().endswith("%"):
        return _percent(cell, column, unit), True
    return Fraction(_count(cell, column, unit)), False


def _supply(cell: object, column: Column, unit: Unit) -> Fraction | None:
    """Read a quantity; `auto` is None."""
    if isinstance(cell, str) and folded(cell) == "auto":
        return None
    try:
        return _number(cell, column, unit)
    except ValueError as error:
        raise ValueError(f"{error}, or auto") from None


def _mark(cell: object, _column: Column, _unit: Unit) -> tuple[str, str | None]:
    """Read a kind of mark."""
    return mark_kind(shown(cell))


def mark_kind(text: str) -> tuple[str, str | None]:
    """Return a kind of mark: a defect, or `figure: TAG` or `sawing: WORD` for a zone.

    Raises
    ------
    ValueError
        If it is neither.
    """
    kind, colon, tag = (" ".join(part.split()) for part in text.casefold().partition(":"))
    if not colon and kind in DEFECTS:
        return kind, None
    if kind == "figure" and tag:
        return kind, tag
    if kind == "sawing" and tag in SAWINGS:
        return kind, tag
    zones = ", ".join(f"sawing: {word}" for word in SAWINGS)
    raise ValueError(f"use one of {_listed(sorted(DEFECTS))}, figure: TAG, {zones}")


@dataclass(frozen=True, slots=True)
class Outline:
    """Where an outline is drawn.

    Attributes
    ----------
    file
        The drawing's path, relative to the project.
    name
        What the outline is called in it; None if it is the only one.
    angle
        Way of the grain, degrees counterclockwise from the drawing's x; None if the
        drawing says it.
    """

    file: str
    name: str | None = None
    angle: float | None = None


_OUTLINE = re.compile(
    r"(?P<file>.+?\.(?:dxf|svg))(?:#(?P<name>.+?))?"
    r"(?:\s+grain\s+(?P<angle>-?\d{1,3}(?:\.\d+)?)\N{DEGREE SIGN}?)?",
    re.IGNORECASE,
)


def _outline(text: str) -> Outline:
    """Read `FILE`, `FILE#NAME`, either with ` grain DEGREES` behind it."""
    found = _OUTLINE.fullmatch(text)
    if not found:
        return Outline(text)  # of a kind that is not read: all of it is the file's name
    angle = None if found["angle"] is None else float(found["angle"])
    return Outline(found["file"], found["name"], angle)


def _shape(
    cell: object, column: Column, unit: Unit
) -> tuple[str, tuple[Fraction, Fraction] | None, Outline | None]:
    """Read a shape: its word; the ends of a taper; where an outline is drawn."""
    word, _, rest = shown(cell).strip().partition(" ")
    kind = {shape.split()[0]: shape for shape in column.words}.get(word.casefold())
    rest = rest.strip()
    if kind is None or bool(rest) != (" " in kind):
        raise ValueError(f"use one of {_listed(column.words)}")
    if word.casefold() == "taper":
        return "taper", _two_measures(rest, unit), None
    return word.casefold(), None, _outline(rest) if rest else None


def _two_measures(text: str, unit: Unit) -> tuple[Fraction, Fraction]:
    """Read two sizes one after the other; a space also stands inside `2 1/4`."""
    words = text.split()
    found = []
    for cut in range(1, len(words)):
        try:
            pair = [
                parse_measure(" ".join(half), unit) for half in (words[:cut], words[cut:])
            ]
        except MeasureError:
            continue
        found.append((pair[0], pair[1]))
    if len(found) != 1:
        raise ValueError("a taper names the width at each end, as in 'taper 2 1 1/4'")
    return found[0]


def _exact(text: str) -> Fraction:
    """Return the exact value of a decimal text."""
    if "," in text:
        raise ValueError("write decimals with a point, not a comma, and no thousands mark")
    try:
        number = Decimal(text.strip())
    except InvalidOperation:
        raise ValueError("use a plain number") from None
    if not number.is_finite() or abs(number.adjusted()) > 30:
        raise ValueError("use a plain number")
    return Fraction(number)


def _check_range(number: Fraction, column: Column) -> None:
    """Refuse a number outside the column's range."""
    low = Fraction(0) if column.low is None else column.low
    if number < low or (column.high is not None and number > column.high):
        above = f" to {plain(column.high)}" if column.high is not None else " or more"
        raise ValueError(f"use a number from {plain(low)}{above}")


def plain(number: Fraction) -> str:
    """Return a number without a needless fraction."""
    return str(int(number)) if number.denominator == 1 else f"{float(number):g}"


def _listed(words: Iterable[str]) -> str:
    return ", ".join(words)


KINDS: Mapping[str, Callable[[Any, Column, Unit], object]] = {
    "name": _name,
    "text": _text,
    "tag": _tag,
    "tags": _tags,
    "word": _word,
    "sawing": _sawing,
    "flag": _flag,
    "number": _number,
    "percent": _percent,
    "count": _count,
    "money": _money,
    "angle": _angle,
    "measure": _measure,
    "thickness": _thickness,
    "spare": _spare,
    "supply": _supply,
    "mark": _mark,
    "shape": _shape,
}
