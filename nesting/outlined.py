"""Parts whose shape is an outline in a file: the file read, its size against the row's."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import Any

from nesting.contract import PARTS
from nesting.drawing import Drawing, is_drawing, read_drawing
from nesting.drawn import Drawn
from nesting.outlining import Shapes, outline_of, shapes_of
from nesting.strokes import DrawingError
from stock.cells import Outline, Record, read_cell, shown
from stock.errors import Fault
from stock.measures import (
    Unit,
    format_measure,
    inch_in,
    need_steps,
    steps_per_unit,
    supply_steps,
)
from stock.rows import Findings, Row

APART = Fraction(1, 32)  # inch: how far a row's size and its drawing's may be apart
_SIDES = ("length", "width")


def drawn_rows(
    rows: Iterable[Row], folder: Path, unit: Unit, findings: Findings
) -> Mapping[int, Drawn]:
    """Return the outline of each row of Parts that names a drawing, by row number.

    Files that are not there are left to `missing_files`, unless sizes are wanted of them;
    what is wrong with those that are is added to the findings.
    """
    opened: dict[str, Shapes | DrawingError] = {}
    found: dict[int, Drawn] = {}
    for row in rows:
        named = _named(row, unit)
        if named is None:
            continue
        if not is_file(folder / named.file):
            if any(row.cells.get(side) is None for side in _SIDES):
                rule = f"there is no file {named.file!r} beside the project to size it by"
                findings.faults.append(_fault(row, rule))
            continue
        if not is_drawing(named.file):
            rule = "only drawings in DXF and SVG are read: the part counts as a rectangle"
            findings.warnings.append(_fault(row, rule))
            continue
        if named.file not in opened:
            opened[named.file] = _opened(folder / named.file, unit)
            findings.warnings += _doubts(row, opened[named.file], unit)
        try:
            found[row.number] = _drawn(opened[named.file], named, unit)
        except DrawingError as error:
            findings.faults.append(_fault(row, f"{named.file}: {error}"))
    return found


def filled(rows: Iterable[Row], drawn: Mapping[int, Drawn], unit: Unit) -> tuple[Row, ...]:
    """Return the rows of Parts with blank sizes of outlines taken from their drawings."""
    return tuple(
        _filled(row, drawn[row.number], unit) if row.number in drawn else row
        for row in rows
    )


def sides(drawn: Drawn, grain: str) -> dict[str, int]:
    """Return length and width of a part in grid steps, by the side its grain runs along."""
    along, across = drawn.length, drawn.width
    sizes = (across, along) if grain == "width" else (along, across)
    return dict(zip(_SIDES, sizes, strict=True))


def size_faults(record: Record, drawn: Drawn, unit: Unit) -> Iterator[Fault]:
    """Yield where a row's size is not its drawing's."""
    apart = supply_steps(APART * inch_in(unit), unit)
    for column, steps in sides(drawn, record.get("grain") or "length").items():
        size = record.get(column)
        if size is not None and abs(need_steps(size, unit) - steps) > apart:
            drawing = f"{format_measure(steps, unit, 64)} {unit.value}"
            rule = f"the drawing's {column} is {drawing}: write that, or leave it blank"
            yield record.fault(column, rule)


def is_file(path: Path) -> bool:
    """Whether there is such a file; a name that no file system takes is none."""
    try:
        return path.is_file()
    except (OSError, ValueError):
        return False


def _filled(row: Row, drawn: Drawn, unit: Unit) -> Row:
    """Return a row with its blank sizes filled in."""
    grain = shown(row.cells.get("grain") or "").strip().casefold()
    blank = {
        column: Fraction(steps, steps_per_unit(unit))
        for column, steps in sides(drawn, grain).items()
        if column in row.cells and row.cells[column] is None
    }
    return replace(row, cells={**row.cells, **blank})


def _named(row: Row, unit: Unit) -> Outline | None:
    """Return the outline that a row names, if its shape is one and can be read."""
    try:
        shape: Any = read_cell(row.cells.get("shape"), PARTS.column("shape"), unit)
    except ValueError:
        return None  # told where all cells are read
    return shape[2] if isinstance(shape[2], Outline) else None


def _opened(path: Path, unit: Unit) -> Shapes | DrawingError:
    """Return the outlines in a file, or what is wrong with it."""
    try:
        return shapes_of(read_drawing(path), unit)
    except DrawingError as error:
        return error


def _drawn(shapes: Shapes | DrawingError, named: Outline, unit: Unit) -> Drawn:
    """Return the outline that is meant, on the grid."""
    if isinstance(shapes, DrawingError):
        raise shapes
    return outline_of(shapes, shapes.called(named.name), unit, named.angle)


def _doubts(row: Row, shapes: Shapes | DrawingError, unit: Unit) -> Iterator[Fault]:
    """Yield what the maker should know about how a file was read."""
    if isinstance(shapes, Shapes):
        yield from (_fault(row, rule) for rule in doubts_of(shapes.drawing, unit))


def doubts_of(drawing: Drawing, unit: Unit) -> Sequence[str]:
    """Return what the maker should know about how a drawing was read."""
    if drawing.mm is not None:
        return drawing.doubts
    return (*drawing.doubts, f"the drawing names no unit: it counts as {unit.value}")


def _fault(row: Row, rule: str) -> Fault:
    return row.fault("shape", rule, shown(row.cells.get("shape")))
