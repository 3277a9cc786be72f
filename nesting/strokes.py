"""Pieces of drawn lines, exact until they are flattened to straight stretches.

A piece is moved by a matrix [[a, b, c], [d, e, f]] that takes (x, y) to
(a x + b y + c, d x + e y + f), and flattened within a tolerance. Corners of what comes
out lie on the piece, and its ends and its extremes along x and y are among them, so that
extents are those of the drawing.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

Points: TypeAlias = NDArray[np.float64]  # a row per point: x, y
_SAME = 1e-9  # of a parameter: stops that are as good as one
FARTHEST = 1e15  # units of a drawing: beyond it sums of sizes lose their digits
MOST_CORNERS = 20_000  # of one piece


class DrawingError(ValueError):
    """A drawing that can't be used; the message says what is wrong and what would do."""


@dataclass(frozen=True, slots=True, eq=False)
class Bezier:
    """A Bezier curve by its control points: two make a straight line, four a cubic."""

    points: Points

    @property
    def ends(self) -> Points:
        """First and last point."""
        return self.points[[0, -1]]

    def moved(self, matrix: Points) -> Bezier:
        """Return the curve moved by a matrix, which takes its control points along."""
        return Bezier(moved(self.points, matrix))

    def flat(self, tolerance: float) -> Points:
        """Return points on the curve; it strays no farther than this from the chords.

        A chord over a stretch h of the parameter strays by h^2 / 8 times the greatest
        second derivative at most (error of linear interpolation), and that of a Bezier
        curve is bounded by the differences of its control points.
        """
        degree = len(self.points) - 1
        bends = np.diff(self.points, n=2, axis=0)
        bend = degree * (degree - 1) * float(np.max(np.hypot(*bends.T), initial=0))
        stops = [0.0, 1.0]
        for axis in (0, 1):
            stops += _turns(self.points[:, axis])
        return _pinned(self.at(_steps(stops, bend, tolerance)), self.ends)

    def at(self, places: Points) -> Points:
        """Return the points at these parameters, by de Casteljau's scheme."""
        rows = [np.outer(np.ones_like(places), point) for point in self.points]
        along = places[:, None]
        while len(rows) > 1:
            rows = [before + along * (after - before) for before, after in pairwise(rows)]
        return rows[0]


@dataclass(frozen=True, slots=True, eq=False)
class Arc:
    """Part of an ellipse: middle + first * cos(t) + second * sin(t), for t in radians."""

    middle: Points
    first: Points
    second: Points
    start: float
    end: float

    @property
    def ends(self) -> Points:
        """First and last point."""
        return self.at(np.array([self.start, self.end]))

    def moved(self, matrix: Points) -> Arc:
        """Return the arc moved by a matrix; turned, stretched and slanted it stays one."""
        turn = matrix[:, :2]
        return Arc(
            middle=moved(self.middle, matrix),
            first=turn @ self.first,
            second=turn @ self.second,
            start=self.start,
            end=self.end,
        )

    def flat(self, tolerance: float) -> Points:
        """Return points on the arc; see `Bezier.flat`.

        The second derivative is as long as the longer half axis at most, which is the
        greatest singular value of the two vectors.
        """
        bend = float(np.linalg.norm(np.column_stack([self.first, self.second]), ord=2))
        low, high = sorted((self.start, self.end))
        stops = [low, high]
        for axis in (0, 1):
            turn = math.atan2(self.second[axis], self.first[axis])
            first = math.ceil((low - turn) / math.pi)
            last = math.floor((high - turn) / math.pi)
            stops += [turn + k * math.pi for k in range(first, min(last, first + 8) + 1)]
        places = _steps(stops, bend, tolerance)
        return _pinned(
            self.at(places if self.start <= self.end else places[::-1]), self.ends
        )

    def at(self, places: Points) -> Points:
        """Return the points at these parameters."""
        turned = np.outer(np.cos(places), self.first) + np.outer(
            np.sin(places), self.second
        )
        return np.asarray(self.middle + turned, dtype=np.float64)


@dataclass(frozen=True, slots=True, eq=False)
class Chain:
    """A curve given by many points on it, closer together than any tolerance asks for."""

    points: Points

    @property
    def ends(self) -> Points:
        """First and last point."""
        return self.points[[0, -1]]

    def moved(self, matrix: Points) -> Chain:
        """Return the points moved by a matrix."""
        return Chain(moved(self.points, matrix))

    def flat(self, tolerance: float) -> Points:
        """Return as few of the points as stay this close to all of them."""
        kept = {0, len(self.points) - 1}
        for axis in (0, 1):
            kept |= {
                int(np.argmin(self.points[:, axis])),
                int(np.argmax(self.points[:, axis])),
            }
        stops = sorted(kept)
        spans = list(pairwise(stops))
        while spans:
            first, last = spans.pop()
            farthest, away = _farthest(self.points[first : last + 1])
            if away > tolerance:
                kept.add(first + farthest)
                spans += [(first, first + farthest), (first + farthest, last)]
        return self.points[sorted(kept)]


Piece: TypeAlias = Bezier | Arc | Chain


def moved(points: Points, matrix: Points) -> Points:
    """Return points moved by a matrix."""
    return np.asarray(points @ matrix[:, :2].T + matrix[:, 2], dtype=np.float64)


def straight(start: tuple[float, float], end: tuple[float, float]) -> Bezier:
    """Return a straight line."""
    return Bezier(np.array([start, end], dtype=np.float64))


def is_finite(piece: Piece) -> bool:
    """Whether a piece lies somewhere: its numbers are some, and can be reckoned with."""
    if isinstance(piece, Arc):
        numbers = np.concatenate([piece.middle, piece.first, piece.second])
        return bool(np.all(np.abs([*numbers, piece.start, piece.end]) < FARTHEST))
    return bool(np.all(np.abs(piece.points) < FARTHEST))


def _turns(heights: Points) -> list[float]:
    """Return where a Bezier curve turns around in one coordinate, between its ends."""
    slopes = np.diff(heights)
    if len(slopes) == 2:
        powers = [slopes[1] - slopes[0], slopes[0]]
    elif len(slopes) == 3:
        first, second, third = slopes
        powers = [first - 2 * second + third, 2 * (second - first), first]
    else:
        return []
    roots = np.roots(powers)
    return [float(root.real) for root in roots if not root.imag and 0 < root.real < 1]


def _steps(stops: list[float], bend: float, tolerance: float) -> Points:
    """Return parameters in order, all stops among them, close enough for a tolerance."""
    step = math.sqrt(8 * tolerance / bend) if bend > 0 else math.inf
    found = [min(stops)]
    for stop in sorted(stops):
        span = stop - found[-1]
        if span <= _SAME:
            continue
        count = math.ceil(span / step) if step < math.inf else 1
        if len(found) + count > MOST_CORNERS:
            raise DrawingError("a curve of the outline is far larger than any part")
        found += list(np.linspace(found[-1], stop, count + 1)[1:])
    return np.array(found)


def _pinned(points: Points, ends: Points) -> Points:
    """Return points whose first and last are the very ends, without noise."""
    points[0], points[-1] = ends
    return points


def _farthest(points: Points) -> tuple[int, float]:
    """Return the point farthest from the chord between the first and the last."""
    chord, off = points[-1] - points[0], points - points[0]
    length = float(np.hypot(*chord))
    if length:
        along = np.clip(off @ chord / length**2, 0, 1)
        off = off - np.outer(along, chord)
    away = np.hypot(*off.T)
    place = int(np.argmax(away))
    return place, float(away[place])
