"""From a drawing to the outlines of parts: which lines bound which, and on the grid.

Straight lines are kept, curves become straight stretches that stray from them by half a
grid step at most, their corners on the curve. Then every corner is rounded up to the grid,
which moves it by less than a step. So the outline lies within 1 1/2 steps (0.15 mm or
3/128 in) of what is drawn, and its length and width are the drawing's, rounded up.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from nesting.drawing import Drawing, Spot
from nesting.drawn import Drawn
from nesting.joining import Loop, Loose, joined
from nesting.rings import distance, first_crossing, holds, on_grid
from nesting.strokes import DrawingError, Points
from stock.measures import LARGEST, MM_PER_INCH, Unit, inch_in, steps_per_unit, to_unit
from stock.rows import suggestion

STRAY = 0.5  # grid steps between a curve and the stretches that stand for it, at most
JOIN = 0.5  # grid steps between ends that count as one, at most
MOST_CORNERS = 5000  # of one outline with its windows
_NOISE = 0.02  # of a grid step: what decimals of a file may add to an exact size


@dataclass(frozen=True, slots=True, eq=False)
class Shape:
    """An outline of the drawing, with its windows, in units of the drawing.

    Attributes
    ----------
    names
        Those of its edge; see `Line`.
    ring
        Its edge flattened, to find what lies inside it.
    """

    names: tuple[str, ...]
    rim: Loop
    windows: tuple[Loop, ...]
    ring: Points

    @property
    def name(self) -> str:
        """Its name, empty if it has none."""
        return self.names[0] if self.names else ""


@dataclass(frozen=True, slots=True, eq=False)
class Shapes:
    """All outlines of a drawing, what is open in it, and what can't be told apart."""

    drawing: Drawing
    found: tuple[Shape, ...]
    loose: tuple[Loose, ...]
    faults: tuple[tuple[str, str], ...] = ()  # name, what is wrong

    def called(self, name: str | None) -> Shape:
        """Return the only outline, or the only one of a name.

        Raises
        ------
        DrawingError
            If there is none, or several, or it is faulty.
        """
        for one, rule in self.faults:
            if name is None or _is_called((one,), name):
                raise DrawingError(rule)
        fits = [shape for shape in self.found if _is_called(shape.names, name)]
        for loose in self.loose:
            if [loose.names] == [shape.names for shape in fits] or (
                not fits and _is_called(loose.names, name)
            ):
                raise DrawingError(loose_words(loose))
        if len(fits) != 1:
            raise DrawingError(self._choice(name, len(fits)))
        return fits[0]

    def _choice(self, name: str | None, count: int) -> str:
        """Say why `count` outlines of a name are not the one that was asked for."""
        known = tuple(dict.fromkeys(shape.name for shape in self.found if shape.name))
        listed = ", ".join(repr(one) for one in known)
        if count == 0 and name is not None and known:
            hint = suggestion(name, known)
            return f"the drawing holds no outline {name!r}, only {listed}{hint}"
        if count == 0:
            return "; ".join(["the drawing holds no closed outline", *self.drawing.doubts])
        if name is not None:
            return f"{count} outlines are called {name!r}: give each a name of its own"
        rule = f"the drawing holds {count} outlines: name one behind its file and a #"
        return f"{rule}, of {listed}" if known else f"{rule}; they have no names yet"


def shapes_of(drawing: Drawing, unit: Unit) -> Shapes:
    """Return the outlines of a drawing; `unit` is the project's."""
    scale = steps_in(drawing, unit)
    near = JOIN / scale
    loops, loose = joined(drawing.lines, near)
    sets: dict[str, list[Loop]] = {}
    for loop in loops:
        sets.setdefault(loop.names[0] if drawing.is_layered else "", []).append(loop)
    found: list[Shape] = []
    faults: list[tuple[str, str]] = []
    for name, together in sets.items():
        shapes, deep = _nested(together, near)
        if deep:
            faults.append((deep[0].names[0] if deep[0].names else name, _DEEP))
        elif drawing.is_layered and len(shapes) > 1:
            rule = f"the layer {name!r} holds {len(shapes)} outlines beside each other: "
            faults.append((name, rule + "draw each on a layer of its own"))
        else:
            found += shapes
    return Shapes(drawing, tuple(found), loose, tuple(faults))


_DEEP = "a closed line lies inside a window: draw each part on its own"


def outline_of(shapes: Shapes, shape: Shape, unit: Unit, angle: float | None) -> Drawn:
    """Return an outline on the grid, the grain along x.

    The grain runs at `angle` degrees, counterclockwise from the drawing's x; without one
    along the line that shows it, without that along x.

    Raises
    ------
    DrawingError
        If it crosses or touches itself, has no size, or more corners than any part.
    """
    way = grain_angle(shapes, shape) if angle is None else angle
    scale = steps_in(shapes.drawing, unit)
    turn = _frame(way, scale)
    rings = [loop.ring(turn, STRAY) for loop in (shape.rim, *shape.windows)]
    extent = np.ptp(np.concatenate(rings), axis=0)
    if not float(extent.max()) <= LARGEST * steps_per_unit(unit):
        raise DrawingError(f"the outline is larger than {LARGEST} {unit.value}")
    if sum(map(len, rings)) > MOST_CORNERS:
        raise DrawingError(
            f"an outline has at most {MOST_CORNERS} corners, curves included"
        )
    least = rings[0].min(axis=0)
    rim, *windows = (on_grid(ring, least, _NOISE) for ring in rings)
    if len(rim) < 3:
        raise DrawingError("the outline has no area")
    windows = [window for window in windows if len(window) > 2]
    crossing = first_crossing([rim, *windows])
    if crossing:
        spot = np.linalg.solve(turn[:, :2], np.array(crossing) + least)
        rule = f"the outline crosses or touches itself at {_at(tuple(spot))}"
        raise DrawingError(rule)
    return Drawn(rim=rim, windows=tuple(windows))


def grain_angle(shapes: Shapes, shape: Shape) -> float:
    """Return the way of the grain that lines show, in degrees from the drawing's x.

    Lines inside of the outline count; without any, those that lie in no outline at all.

    Raises
    ------
    DrawingError
        If these lines run several ways.
    """
    lines = shapes.drawing.grains
    middles = [((a[0] + b[0]) / 2, (a[1] + b[1]) / 2) for a, b in lines]
    own = [
        line for line, at in zip(lines, middles, strict=True) if holds(shape.ring, *at)
    ] or [
        line
        for line, at in zip(lines, middles, strict=True)
        if not any(holds(other.ring, *at) for other in shapes.found)
    ]
    ways = [math.degrees(math.atan2(b[1] - a[1], b[0] - a[0])) for a, b in own if a != b]
    if not ways:
        return 0.0
    apart = [abs((way - ways[0] + 90) % 180 - 90) for way in ways]
    if max(apart) > 0.1:
        raise DrawingError("lines show the grain of this outline in several ways: keep one")
    return 90 - (90 - ways[0]) % 180


def nearest_shape(shapes: Iterable[Shape], x: float, y: float) -> Shape | None:
    """Return the outline that holds a point, or else the one that it lies nearest to."""
    shapes = tuple(shapes)
    inside = [shape for shape in shapes if holds(shape.ring, x, y)]
    return min(inside or shapes, key=lambda shape: distance(shape.ring, x, y), default=None)


def steps_in(drawing: Drawing, unit: Unit) -> float:
    """Return how many grid steps one unit of a drawing is.

    A drawing that doesn't say is in the project's unit.
    """
    if drawing.mm is None:
        return float(steps_per_unit(unit))
    return drawing.mm * float(inch_in(unit) / MM_PER_INCH) * steps_per_unit(unit)


def size_words(drawn: Drawn, unit: Unit) -> str:
    """Return length along and width across the grain, in words."""
    return f"{to_unit(drawn.length, unit):g} x {to_unit(drawn.width, unit):g} {unit.value}"


def _nested(loops: list[Loop], near: float) -> tuple[list[Shape], list[Loop]]:
    """Return outlines with their windows, and the loops that lie inside a window."""
    plain = np.array([[1.0, 0.0, 0.0], [0.0, 1.0, 0.0]])
    rings = [loop.ring(plain, near) for loop in loops]
    around = [
        [
            other
            for other, ring in enumerate(rings)
            if other != one and holds(ring, *rings[one][0])
        ]
        for one in range(len(loops))
    ]
    shapes = [
        Shape(
            names=loop.names,
            rim=loop,
            windows=tuple(loops[n] for n, outer in enumerate(around) if outer == [one]),
            ring=rings[one],
        )
        for one, loop in enumerate(loops)
        if not around[one]
    ]
    return shapes, [loops[n] for n, outer in enumerate(around) if len(outer) > 1]


def _frame(angle: float, scale: float) -> Points:
    """Return the matrix to grid steps with the grain along x; right angles are exact."""
    quarter, rest = divmod(angle, 90)
    cos, sin = math.cos(math.radians(rest)), math.sin(math.radians(rest))
    for _ in range(round(quarter) % 4):
        cos, sin = -sin, cos
    return scale * np.array([[cos, sin, 0.0], [-sin, cos, 0.0]])


def _is_called(names: tuple[str, ...], name: str | None) -> bool:
    return name is None or name.casefold() in (one.casefold() for one in names)


def loose_words(loose: Loose) -> str:
    """Return what is wrong with an open line, and where."""
    places = " and ".join(_at(spot) for spot in dict.fromkeys(loose.at))
    return f"{loose.rule} at {places}"


def _at(spot: Spot) -> str:
    """Return a place of the drawing in words, in its own units."""
    return f"({spot[0]:.6g}, {spot[1]:.6g})"
