"""DXF files to drawings: what is drawn in model space, layer by layer.

Read are LINE, ARC, CIRCLE, ELLIPSE, SPLINE, LWPOLYLINE and POLYLINE with their bulges, TEXT
and MTEXT. Layers that are off or frozen are left out; blocks are not looked into.
"""

from __future__ import annotations

import io
import logging
import math
import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace
from itertools import islice
from typing import Any

import numpy as np
from ezdxf import recover
from ezdxf.audit import Auditor
from ezdxf.entities.ellipse import Ellipse
from ezdxf.lldxf.const import DXFError

from nesting.drawing import MOST_THINGS, Drawing, Line, Text
from nesting.strokes import Arc, Bezier, Chain, DrawingError, Piece, is_finite, straight
from stock.measures import Unit

logging.getLogger("ezdxf").addHandler(logging.NullHandler())  # we say what is wrong

GRAIN_LAYER = "grain"
_GUESSED = re.compile(r'invalid \w+(?: point)? value "(.*)" near line (\d+)', re.DOTALL)
MOST_POINTS = 100_000  # of one spline

# $INSUNITS of the DXF Reference (Autodesk): code to millimetres, and the project's unit.
UNITS: Mapping[int, tuple[float, Unit]] = {
    1: (25.4, Unit.INCH),
    2: (304.8, Unit.INCH),
    4: (1.0, Unit.MM),
    5: (10.0, Unit.MM),
    6: (1000.0, Unit.MM),
    10: (914.4, Unit.INCH),
    14: (100.0, Unit.MM),
}
_SPLINE_SHARE = 2e-6  # of a spline's size: how far its points stray from it at most

_BROKEN = (
    DXFError, ArithmeticError, LookupError, ValueError, TypeError, AttributeError,
    AssertionError, EOFError, OSError, RuntimeError, MemoryError, np.linalg.LinAlgError,
)  # fmt: skip


def read_dxf(packed: bytes) -> Drawing:
    """Return what a DXF file draws.

    Raises
    ------
    DrawingError
        If it is no DXF file, or breaks off, or its unit is none for wood.
    """
    if not packed.rstrip().endswith(b"EOF"):
        raise DrawingError("this is no DXF file as text, or it breaks off: save it again")
    try:
        document, auditor = recover.read(io.BytesIO(packed))
        doubts = _doubts(auditor)
        drawing = _drawing(document)
        return replace(drawing, doubts=(*drawing.doubts, *doubts))
    except DrawingError:
        raise
    except _BROKEN as error:
        raise DrawingError(
            f"the file can't be read as DXF: save it again ({type(error).__name__})"
        ) from None


def _doubts(auditor: Auditor) -> tuple[str, ...]:
    """Return what the maker should know of a file that was mended while it was read.

    Raises
    ------
    DrawingError
        If a number in it was guessed: a part of some other size is worse than none.
    """
    mended = [*auditor.fixes, *auditor.errors]
    for one in mended:
        found = _GUESSED.search(one.message)
        if found and not _is_number(found[1]):
            raise DrawingError(
                f"the file holds {found[1]!r} where a number belongs (near line {found[2]})"
            )
    flaws = [one for one in mended if not _GUESSED.search(one.message)]
    return (f"the file has flaws ({flaws[0].message}): compare its sizes",) if flaws else ()


def _is_number(text: str) -> bool:
    try:
        return math.isfinite(float(text))
    except ValueError:
        return False


def _drawing(document: Any) -> Drawing:  # noqa: ANN401 - ezdxf does not export its type
    """Return the drawing of a document that was read."""
    things = list(islice(document.modelspace(), MOST_THINGS + 1))
    if len(things) > MOST_THINGS:
        raise DrawingError(f"a drawing holds at most {MOST_THINGS} lines and curves")
    hidden = {
        layer.dxf.name.casefold()
        for layer in document.layers
        if layer.is_off() or layer.is_frozen()
    }
    seen = [thing for thing in things if thing.dxf.layer.casefold() not in hidden]
    lines = [line for thing in seen for line in _lines(thing)]
    grains = [line for line in lines if line.names[0].casefold() == GRAIN_LAYER]
    mm, unit = _unit(document)
    blocks = sum(thing.dxftype() == "INSERT" for thing in seen)
    return Drawing(
        lines=tuple(line for line in lines if line not in grains),
        texts=tuple(text for thing in seen for text in _texts(thing)),
        grains=tuple(line.ends for line in grains),
        mm=mm,
        unit=unit,
        is_layered=True,
        doubts=("blocks are not looked into: explode them",) if blocks else (),
    )


def _unit(document: Any) -> tuple[float | None, Unit | None]:  # noqa: ANN401
    """Return what one unit of the drawing means, as far as its header says."""
    code = int(document.header.get("$INSUNITS", 0))
    if code == 0:
        return None, None
    if code not in UNITS:
        raise DrawingError(
            f"the drawing's unit ($INSUNITS {code}) is none for wood: use mm"
        )
    return UNITS[code]


def _lines(thing: Any) -> Iterator[Line]:  # noqa: ANN401
    """Yield the line that an entity draws, if it is of a kind that is read."""
    read = _READERS.get(thing.dxftype())
    if read is None:
        return
    pieces = tuple(read(thing))
    if not all(is_finite(piece) for piece in pieces):
        raise DrawingError(f"a {thing.dxftype()} of the drawing holds no real numbers")
    closed = thing.dxftype() == "CIRCLE" or bool(getattr(thing, "is_closed", False))
    if pieces:
        yield Line((thing.dxf.layer,), pieces, is_closed=closed)


def _straight(thing: Any) -> Iterator[Piece]:  # noqa: ANN401
    start, end = thing.dxf.start, thing.dxf.end
    if start.vec2 != end.vec2:
        yield straight((start.x, start.y), (end.x, end.y))


def _round(thing: Any) -> Iterator[Piece]:  # noqa: ANN401
    """Yield an arc, circle or ellipse, wherever its plane looks."""
    ellipse = thing if thing.dxftype() == "ELLIPSE" else Ellipse.from_arc(thing)
    tool = ellipse.construction_tool()
    start, end = tool.start_param, tool.end_param
    if end <= start:
        end += math.tau
    yield Arc(
        middle=np.array([tool.center.x, tool.center.y]),
        first=np.array([tool.major_axis.x, tool.major_axis.y]),
        second=np.array([tool.minor_axis.x, tool.minor_axis.y]),
        start=start,
        end=min(end, start + math.tau),
    )


def _spline(thing: Any) -> Iterator[Piece]:  # noqa: ANN401
    """Yield the cubics of a plain cubic spline, points very close together of another."""
    tool = thing.construction_tool()
    if tool.degree == 3 and not tool.is_rational and tool.is_clamped:
        for points in tool.bezier_decomposition():
            yield Bezier(np.array([(point.x, point.y) for point in points]))
        return
    corners = np.array([(point.x, point.y) for point in tool.control_points])
    size = float(np.hypot(*np.ptp(corners, axis=0)))
    if not (size > 0 and math.isfinite(size)):
        raise DrawingError("a spline of the drawing has no size")
    points = list(islice(tool.flattening(size * _SPLINE_SHARE), MOST_POINTS + 1))
    if len(points) > MOST_POINTS:
        raise DrawingError("a spline of the drawing turns too often")
    yield Chain(np.array([(point.x, point.y) for point in points]))


def _polyline(thing: Any) -> Iterator[Piece]:  # noqa: ANN401
    """Yield the stretches and bulges of a polyline."""
    if thing.dxftype() == "POLYLINE" and not (thing.is_2d_polyline or thing.is_3d_polyline):
        return  # a mesh
    pieces: list[Piece] = []
    for part in thing.virtual_entities():
        pieces += (_straight if part.dxftype() == "LINE" else _round)(part)
    yield from _one_way(pieces)


@np.errstate(invalid="ignore", over="ignore")  # sizes without end are refused later on
def _one_way(pieces: list[Piece]) -> list[Piece]:
    """Return the pieces of a polyline, each arc run through the way the polyline does.

    Arcs come counterclockwise, whichever way the polyline runs along them.
    """
    found = list(pieces)
    for place, piece in enumerate(pieces):
        if place:
            before = found[place - 1].ends[1]
            away, back = (float(np.hypot(*(end - before))) for end in piece.ends)
        else:
            after = pieces[1 % len(pieces)].ends
            back, away = (float(np.hypot(*(after - end).T).min()) for end in piece.ends)
        if isinstance(piece, Arc) and back < away:
            found[place] = Arc(
                piece.middle, piece.first, piece.second, piece.end, piece.start
            )
    return found


_READERS: Mapping[str, Callable[[Any], Iterator[Piece]]] = {
    "LINE": _straight,
    "ARC": _round,
    "CIRCLE": _round,
    "ELLIPSE": _round,
    "SPLINE": _spline,
    "LWPOLYLINE": _polyline,
    "POLYLINE": _polyline,
}


def _texts(thing: Any) -> Iterator[Text]:  # noqa: ANN401
    """Yield the text that an entity writes."""
    if thing.dxftype() in ("TEXT", "MTEXT"):
        at = thing.dxf.insert
        if math.isfinite(at.x) and math.isfinite(at.y):
            yield Text(at.x, at.y, thing.plain_text(), (thing.dxf.layer,))
