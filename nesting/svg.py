"""SVG files to drawings: what is drawn, with every transform applied, y turned upwards.

Read are path, polygon, polyline, line, rect, circle, ellipse and text. Sizes go by width,
height and viewBox; where these name no unit, 96 user units are an inch (CSS). Clones
(`use`) are refused: they may stand for any number of shapes.
"""

from __future__ import annotations

import io
import math
import re
import xml.etree.ElementTree as ET
from collections.abc import Iterator
from typing import Any

import defusedxml
import defusedxml.ElementTree as DefusedET
import numpy as np
import svgelements

from nesting.drawing import MOST_THINGS, Drawing, Line, Text
from nesting.strokes import (
    Arc,
    Bezier,
    DrawingError,
    Piece,
    Points,
    is_finite,
    moved,
    straight,
)
from stock.measures import Unit

GRAIN = "grain"  # how the id of a line that shows the grain starts
PER_INCH = 96  # user units, by CSS Values and Units (W3C), as SVG 2 asks for
MOST_DEEP = 100  # groups in groups
_MM = {"mm": 1.0, "cm": 10.0, "in": 25.4, "pt": 25.4 / 72, "pc": 25.4 / 6}
_SIZE = re.compile(
    r"\s*(\d+\.?\d*(?:e[+-]?\d+)?|\.\d+)\s*(mm|cm|in|pt|pc)\s*", re.IGNORECASE
)
_NO_SIZE = f"the drawing names no unit: {PER_INCH} of its own units count as one inch"

_BROKEN = (
    ET.ParseError, ArithmeticError, LookupError, ValueError, TypeError, AttributeError,
    AssertionError, EOFError, OSError, RuntimeError, MemoryError,
)  # fmt: skip


def read_svg(packed: bytes) -> Drawing:
    """Return what an SVG file draws.

    Raises
    ------
    DrawingError
        If it is no SVG file, breaks off, or holds what no drawing of a part needs.
    """
    try:
        with np.errstate(all="ignore"):  # `is_finite` looks at what comes
            return _drawing(_safe_root(packed))
    except DrawingError:
        raise
    except defusedxml.DefusedXmlException:
        raise DrawingError(
            "the file declares entities, which are not read: save it as plain SVG"
        ) from None
    except _BROKEN as error:
        raise DrawingError(
            f"the file can't be read as SVG: save it as plain SVG ({type(error).__name__})"
        ) from None


def _safe_root(packed: bytes) -> ET.Element:
    """Return the root of a file that can't hurt: no entities, clones, endless nesting."""
    root: ET.Element = DefusedET.fromstring(packed)
    if root.tag.rpartition("}")[2] != "svg":
        raise DrawingError("this is no SVG file")
    elements = [(root, 0)]
    for element, depth in elements:  # grows while it is walked
        if element.tag.rpartition("}")[2] == "use":
            raise DrawingError("clones (use) are not read: unlink them and save again")
        if depth > MOST_DEEP or len(elements) > MOST_THINGS:
            raise DrawingError(f"a drawing holds at most {MOST_THINGS} lines and curves")
        elements += [(child, depth + 1) for child in element]
    return root


def _drawing(root: ET.Element) -> Drawing:
    """Return the drawing under a root."""
    unit = _pin_size(root)
    text = ET.tostring(root, encoding="unicode")
    content = svgelements.SVG.parse(io.StringIO(text), reify=False, ppi=PER_INCH)
    lines: list[Line] = []
    texts: list[Text] = []
    stack: list[tuple[Any, tuple[str, ...]]] = [(content, ())]
    while stack:
        thing, around = stack.pop()
        names = (thing.id, *around) if getattr(thing, "id", None) else around
        if isinstance(thing, svgelements.Shape):
            lines += _lines(thing, names)
        elif isinstance(thing, svgelements.Text):
            texts += _texts(thing, names)
        elif isinstance(thing, svgelements.Group):
            inner = names if thing is not content else ()
            stack += [(child, inner) for child in reversed(thing)]
    grains = [line for line in lines if _is_grain(line)]
    return Drawing(
        lines=tuple(line for line in lines if line not in grains),
        texts=tuple(texts),
        grains=tuple(line.ends for line in grains),
        mm=25.4 / PER_INCH,
        unit=unit,
        doubts=() if unit else (_NO_SIZE,),
    )


def _pin_size(root: ET.Element) -> Unit | None:
    """Put exact user units for the width and height of a root; return their unit.

    The library turns millimetres to user units by a rounded factor, which is out by
    half a millionth.
    """
    unit = None
    for side in ("width", "height"):
        size = _SIZE.fullmatch(root.get(side, ""))
        if size:
            word = size[2].lower()
            root.set(side, repr(float(size[1]) * _MM[word] * PER_INCH / 25.4))
            unit = Unit.MM if word in ("mm", "cm") else Unit.INCH
    return unit


def _lines(shape: Any, names: tuple[str, ...]) -> Iterator[Line]:  # noqa: ANN401
    """Yield a line for each stretch of a shape that is drawn without lifting the pen."""
    matrix = _upwards(shape.transform)
    pieces: list[Piece] = []
    for segment in [*shape.segments(transformed=False), svgelements.Move()]:
        pieces += [piece.moved(matrix) for piece in _pieces(segment)]
        if not all(is_finite(piece) for piece in pieces):
            raise DrawingError("a curve of the drawing holds no real numbers")
        is_closed = isinstance(segment, svgelements.Close)
        if pieces and (is_closed or isinstance(segment, svgelements.Move)):
            yield Line(names, tuple(pieces), is_closed=is_closed)
            pieces = []


def _pieces(segment: Any) -> Iterator[Piece]:  # noqa: ANN401
    """Yield the piece that a segment draws; none if it goes nowhere."""
    if isinstance(segment, svgelements.Move) or None in (segment.start, segment.end):
        return
    if isinstance(segment, svgelements.Arc):
        middle = _xy(segment.center)
        start = segment.get_start_t()
        yield Arc(
            middle=np.array(middle),
            first=np.array(_xy(segment.prx)) - middle,
            second=np.array(_xy(segment.pry)) - middle,
            start=start,
            end=start + segment.sweep,
        )
    elif isinstance(segment, svgelements.CubicBezier):
        yield _bezier(segment.start, segment.control1, segment.control2, segment.end)
    elif isinstance(segment, svgelements.QuadraticBezier):
        yield _bezier(segment.start, segment.control, segment.end)
    elif _xy(segment.start) != _xy(segment.end):
        yield straight(_xy(segment.start), _xy(segment.end))


def _bezier(*corners: Any) -> Bezier:  # noqa: ANN401
    return Bezier(np.array([_xy(corner) for corner in corners]))


def _upwards(transform: Any) -> Points:  # noqa: ANN401
    """Return a transform as a matrix, with y turned upwards behind it."""
    m = transform
    rows = [[m.a, m.c, m.e], [-m.b, -m.d, -m.f]]
    return np.array([[float(number) for number in row] for row in rows])


def _texts(thing: Any, names: tuple[str, ...]) -> Iterator[Text]:  # noqa: ANN401
    """Yield a text, where it starts."""
    if thing.text and str(thing.text).strip():
        at = np.array([float(thing.x or 0), float(thing.y or 0)])
        x, y = moved(at, _upwards(thing.transform))
        if math.isfinite(x) and math.isfinite(y):
            yield Text(float(x), float(y), str(thing.text), names)


def _is_grain(line: Line) -> bool:
    return any(name.casefold().startswith(GRAIN) for name in line.names)


def _xy(point: Any) -> tuple[float, float]:  # noqa: ANN401
    return float(point.x), float(point.y)
