"""A project to be completed, made from a drawing: a part for each outline that it holds."""

from __future__ import annotations

import csv
import io
import re
import shutil
import tempfile
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from nesting.contract import PARTS
from nesting.drawing import Drawing, read_drawing
from nesting.outlined import doubts_of
from nesting.outlining import (
    Shapes,
    loose_words,
    nearest_shape,
    outline_of,
    shapes_of,
    size_words,
)
from nesting.project import read_project
from nesting.strokes import DrawingError
from stock.cells import Outline, read_cell
from stock.errors import Fault, InputError
from stock.measures import Unit

HEADS = ("part", "qty", "length", "width", "thickness", "species", "shape")
_COUNT = re.compile(r"\s*(?:qty:?\s*|x\s*)?(\d{1,5})\s*x?\s*", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class FromDrawing:
    """A folder that was made from a drawing, and what to mind about it."""

    folder: Path
    unit: Unit
    lines: tuple[str, ...]


def project_from(
    drawing: Path, species: str, thickness: str, unit: Unit | None, folder: Path
) -> FromDrawing:
    """Write a project with a part for each outline of a drawing, named as the outline.

    A number that stands as a text in an outline or beside it is its quantity. The folder
    is written aside and renamed; one that exists is left alone.

    Raises
    ------
    InputError
        With every fault of the drawing; nothing is written then.
    """
    if folder.exists():
        raise _error(folder, "is there already and is left alone: name another with --into")
    if not folder.absolute().parent.is_dir():
        raise _error(folder, "lies in a folder that is not there: make that first")
    try:
        content = read_drawing(drawing)
    except DrawingError as error:
        raise _error(drawing, str(error)) from None
    unit = unit or content.unit
    if unit is None:
        raise _error(drawing, "names no unit: say --unit in or --unit mm")
    counts, lines = _parts_in(drawing, content, unit)
    doubts = (f"{drawing.name}: {rule}" for rule in doubts_of(content, unit))
    file = drawing.name
    rows = (
        (name, str(count), "", "", thickness, species, _shape(file, name))
        for name, count in counts.items()
    )
    files = {
        "parts.csv": _table([HEADS, *rows]),
        "shop.csv": _table([("setting", "value"), ("unit", unit.value)]),
    }
    _write(folder, files, drawing)
    return FromDrawing(folder, unit, (*lines, *doubts))


def _parts_in(
    path: Path, content: Drawing, unit: Unit
) -> tuple[Mapping[str, int], tuple[str, ...]]:
    """Return the quantity of each outline by name, and a line on each; or raise."""
    shapes = shapes_of(content, unit)
    faults = [f"{name}: {rule}" for name, rule in shapes.faults]
    faults += [
        f"{loose.names[0] if loose.names else 'a line'}: {loose_words(loose)}"
        for loose in shapes.loose
    ]
    if not shapes.found and not faults:
        faults.append("the drawing holds no closed outline")
    texts = _counts(shapes)
    counts: dict[str, int] = {}
    lines: list[str] = []
    for shape in shapes.found:
        try:
            _check_name(path.name, shape.name, counts)
            counts[shape.name] = _quantity(texts[shape.name])
            size = size_words(outline_of(shapes, shape, unit, None), unit)
            lines.append(f"{shape.name}: {counts[shape.name]} of {size}")
        except DrawingError as error:
            faults.append(f"{shape.name or 'an outline'}: {error}")
    if faults:
        raise InputError([_fault(path, rule) for rule in faults])
    return counts, tuple(lines)


def _counts(shapes: Shapes) -> Mapping[str, list[int]]:
    """Return the numbers that stand as texts, by the name of the outline they are for.

    A text on the layer of an outline is for that, any other for the nearest.
    """
    found: dict[str, list[int]] = defaultdict(list)
    for text in shapes.drawing.texts:
        count = _COUNT.fullmatch(text.text)
        own = [shape for shape in shapes.found if set(shape.names) & set(text.names)]
        shape = nearest_shape(own or shapes.found, text.x, text.y)
        if count and shape:
            found[shape.name].append(int(count[1]))
    return found


def _check_name(file: str, name: str, known: Mapping[str, int]) -> None:
    """Refuse a name that a row of Parts can't name an outline by."""
    if not name:
        raise DrawingError("it has no name: give it an id")
    if name in known:
        raise DrawingError("another outline has this name too: give each its own")
    shape: Any = read_cell(_shape(file, name), PARTS.column("shape"), Unit.MM)
    if shape[2] != Outline(file, name):
        raise DrawingError(
            f"{file}#{name} would be read as something else: use plain words for file and "
            "name, without 'grain' and a number, .dxf, .svg or spaces at the ends"
        )


def _quantity(found: Sequence[int]) -> int:
    """Return how many of an outline are wanted: 1 if nothing says so."""
    if len(found) > 1:
        numbers = " and ".join(map(str, found))
        raise DrawingError(f"{numbers} stand beside it: one number says how many")
    if found and found[0] == 0:
        raise DrawingError("0 stands beside it: a part is made once at least")
    return found[0] if found else 1


def _shape(file: str, name: str) -> str:
    """Return the shape of a part whose outline is drawn."""
    return f"outline {file}#{name}"


def _table(rows: Iterable[Sequence[str]]) -> str:
    file = io.StringIO()
    csv.writer(file, lineterminator="\n").writerows(rows)
    return file.getvalue()


def _write(folder: Path, files: Mapping[str, str], drawing: Path) -> None:
    """Write the folder aside, read it back, and rename it."""
    try:
        with tempfile.TemporaryDirectory(
            prefix=f".{folder.name}-", dir=folder.absolute().parent
        ) as beside:
            aside = Path(beside) / folder.name
            aside.mkdir()
            for name, text in files.items():
                (aside / name).write_text(text, encoding="utf-8")
            shutil.copyfile(drawing, aside / drawing.name)
            read_project(aside)
            aside.rename(folder)
    except OSError as problem:
        raise _error(folder, f"can't be written: {problem.strerror}") from None


def told(made: FromDrawing) -> Iterator[str]:
    """Yield what was made, as lines for the screen."""
    yield f"written to {made.folder}: parts.csv, shop.csv, the drawing"
    yield from made.lines
    yield "Complete it: faces and grain in parts.csv, boards.csv, what the shop does."


def _error(path: Path, rule: str) -> InputError:
    return InputError([_fault(path, rule)])


def _fault(path: Path, rule: str) -> Fault:
    return Fault(str(path), None, None, rule)
