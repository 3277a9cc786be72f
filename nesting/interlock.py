"""Copies of one outline in one blank: head to tail, turned, mirrored, a saw cut apart.

Where a copy may lie beside another is told by their no-fit polygon, the Minkowski sum of
one outline and the other's mirror image in the origin: a shift is sound if it lies as far
from that polygon as the gap is wide. The room that both take is a product of two terms,
each linear between a few lines, so the least is met in a corner of where shifts are sound,
or where its border crosses one of those lines (Adamowicz and Albano 1976 nest pairs so, in
*Computer-Aided Design* 8(1); from memory).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import cache

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon, affinity
from shapely.geometry.base import BaseGeometry

from nesting.drawn import Ring

MOST_COPIES = 4  # in one blank: more make it as large as a board
BEAM = 8  # nests of one copy less that are grown further
ARC = 16  # straight stretches that stand for a quarter of a circle round a corner
MOST_TRIED = 4000  # places of a copy that are looked at
CLOSE = 1e-9
FEW = 64  # corners from which on an outline is nested by a coarser one around it
COARSEST = 4.0  # grid steps that this one may lie outside of it, about

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, order=True)
class Laid:
    """Where one copy lies in a nest: its bounding rectangle's low corner, in grid steps.

    Attributes
    ----------
    is_turned
        End for end, by half a turn in the plane.
    is_mirrored
        Face down, rolled over its length.
    """

    x: int
    y: int
    is_turned: bool = False
    is_mirrored: bool = False


@dataclass(frozen=True, slots=True)
class Nest:
    """Copies of an outline in one rectangle, whose low corner is (0, 0); in grid steps."""

    length: int
    width: int
    places: tuple[Laid, ...]

    @property
    def copies(self) -> int:
        """How many copies lie in it."""
        return len(self.places)


def nests_of(
    ring: Ring,
    gap: int,
    *,
    beyond: int,
    beside: int,
    step: int,
    may_mirror: bool,
    most: int,
) -> tuple[Nest, ...]:
    """Return the least room found for 2, 3, ... copies of an outline, `most` at most.

    Parameters
    ----------
    ring
        The outline, its grain along x.
    gap
        Width of the saw cut between copies, in grid steps.
    beyond, beside
        What the blank is longer and wider than its copies take.
    step
        What its sizes are rounded up to.
    may_mirror
        Whether copies may lie face down.
    """
    length, width = (max(corner[k] for corner in ring) for k in (0, 1))
    lies = [(turned, False) for turned in (False, True)]
    if may_mirror:
        lies += [(turned, True) for turned in (False, True)]
    nester = _Nester(ring, gap, (beyond, beside), step)
    found: list[Nest] = []
    grown = [Nest(length, width, (Laid(0, 0),))]
    for _ in range(2, min(most, MOST_COPIES) + 1):
        grown = nester.least(nest for one in grown for nest in nester.grow(one, lies))
        if not grown:
            break
        found.append(grown[0])
    return tuple(found)


def laid_ring(ring: Ring, laid: Laid) -> Ring:
    """Return the corners of a copy where it lies in its nest."""
    length, width = (max(corner[k] for corner in ring) for k in (0, 1))
    flip_x = laid.is_turned
    flip_y = laid.is_turned != laid.is_mirrored
    points = tuple(
        (laid.x + (length - x if flip_x else x), laid.y + (width - y if flip_y else y))
        for x, y in ring
    )
    return points if flip_x == flip_y else points[::-1]


class _Nester:
    """Grows nests of one outline copy by copy."""

    def __init__(self, ring: Ring, gap: int, more: tuple[int, int], step: int) -> None:
        self.ring, self.gap, self.more, self.step = ring, gap, more, step
        self.length, self.width = (max(corner[k] for corner in ring) for k in (0, 1))

    def room(self, extents: Floats) -> Floats:
        """Return the areas of blanks that copies of these extents are sawn from.

        Of blanks that come to the same in whole steps, that counts a little less whose
        copies take less.
        """
        sizes = np.ceil((extents + self.more) / self.step) * self.step
        area: Floats = sizes.prod(axis=-1) + 1e-6 * extents.prod(axis=-1)
        return area

    def least(self, nests: Iterable[Nest]) -> list[Nest]:
        """Return the few nests that take the least room."""

        def rank(one: Nest) -> tuple[float, tuple[Laid, ...]]:
            return float(self.room(np.array([one.length, one.width]))), one.places

        return sorted(set(nests), key=rank)[:BEAM]

    def grow(self, nest: Nest, lies: list[tuple[bool, bool]]) -> Iterator[Nest]:
        """Yield a nest with one copy more, for each way in which that may lie."""
        for turned, mirrored in lies:
            shift = self._shift(nest, turned=turned, mirrored=mirrored)
            if shift is not None:
                yield _from_corner(nest, Laid(*shift, turned, mirrored), self)

    def _shift(self, nest: Nest, *, turned: bool, mirrored: bool) -> tuple[int, int] | None:
        """Return where one copy more leaves the least room taken."""
        bodies = [
            affinity.translate(
                _no_fit(self.ring, (one.is_turned, one.is_mirrored), (turned, mirrored)),
                one.x,
                one.y,
            )
            for one in nest.places
        ]
        barred = shapely.union_all(
            [shapely.buffer(one, self.gap, quad_segs=ARC) for one in bodies]
        )
        spots = self._spots(nest, barred)
        cost = self._room_with(nest, spots)
        order = np.lexsort((spots[:, 1], spots[:, 0], cost))[:MOST_TRIED]
        points = shapely.points(spots[order])
        is_sound = np.ones(len(order), dtype=bool)
        for body in bodies:
            is_sound &= shapely.distance(body, points) >= self.gap - CLOSE
        if not is_sound.any():
            return None
        x, y = spots[order[int(is_sound.argmax())]]
        return int(x), int(y)

    def _spots(self, nest: Nest, barred: BaseGeometry) -> Floats:
        """Return grid points about the places where the least room may be met."""
        border = shapely.boundary(barred)
        lines = [
            *(
                [(x, -self.width - self.gap), (x, nest.width + self.gap)]
                for x in (0, nest.length - self.length)
            ),
            *(
                [(-self.length - self.gap, y), (nest.length + self.gap, y)]
                for y in (0, nest.width - self.width)
            ),
        ]
        crossed = [shapely.intersection(border, shapely.LineString(one)) for one in lines]
        points = np.concatenate(
            [shapely.get_coordinates(one) for one in (border, *crossed)]
        )
        about = np.floor(points)[:, None, :] + np.array(
            [(x, y) for x in (-1, 0, 1, 2) for y in (-1, 0, 1, 2)]
        )
        return np.unique(about.reshape(-1, 2), axis=0)

    def _room_with(self, nest: Nest, spots: Floats) -> Floats:
        """Return the room that a nest takes with one copy more at each spot."""
        low = np.minimum(spots, 0)
        own = np.array([self.length, self.width])
        high = np.maximum(spots + own, [nest.length, nest.width])
        return self.room(high - low)


def _from_corner(nest: Nest, added: Laid, nester: _Nester) -> Nest:
    """Return a nest with one copy more, its low corner moved to (0, 0) again."""
    left, low = min(0, added.x), min(0, added.y)
    length = max(nest.length, added.x + nester.length) - left
    width = max(nest.width, added.y + nester.width) - low
    places = tuple(
        Laid(one.x - left, one.y - low, one.is_turned, one.is_mirrored)
        for one in (*nest.places, added)
    )
    return Nest(length, width, tuple(sorted(places)))


@cache
def _no_fit(
    ring: Ring, fixed: tuple[bool, bool], moving: tuple[bool, bool]
) -> BaseGeometry:
    one, other = (laid_ring(ring, Laid(0, 0, *lie)) for lie in (fixed, moving))
    return no_fit(outer_of(Polygon(one)), outer_of(Polygon(other)))


def outer_of(body: Polygon) -> Polygon:
    """Return an area of fewer corners that covers a body of many; else the body itself.

    The work grows with the square of how many corners there are. Simplified by Douglas
    and Peucker's rule no point strays farther than the tolerance, so that what is grown by
    the tolerance covers all: copies that keep clear of it keep clear of the body.
    """
    tolerance = 1.0
    outer = body
    while len(outer.exterior.coords) > FEW and tolerance <= COARSEST:
        grown = shapely.buffer(
            shapely.simplify(body, tolerance), tolerance, join_style="mitre"
        )
        if grown.covers(body):
            outer = Polygon(grown.exterior)
        tolerance *= 2
    return outer


def no_fit(body: BaseGeometry, other: BaseGeometry) -> BaseGeometry:
    """Return the shifts of the other area at which it would overlap a body."""
    bodies, others = _convex_parts(body), _convex_parts(other)
    sums = [
        shapely.MultiPoint((a[:, None, :] - b[None, :, :]).reshape(-1, 2))
        for a in bodies
        for b in others
    ]
    return shapely.union_all(shapely.convex_hull(np.array(sums, dtype=object)))


def _convex_parts(body: BaseGeometry) -> list[Floats]:
    """Return the corners of convex pieces that make up an area.

    Triangles are joined while what they make stays convex: the work grows with the square
    of how many pieces there are.
    """
    pieces = list(shapely.get_parts(shapely.constrained_delaunay_triangles(body)))
    place = 0
    while place < len(pieces):
        joined = _joined(pieces, place)
        if joined is None:
            place += 1
        else:
            pieces = joined
    return [shapely.get_coordinates(one)[:-1] for one in pieces]


def _joined(pieces: list[Polygon], place: int) -> list[Polygon] | None:
    """Return the pieces with one joined to a later neighbour; None if none will do."""
    one, later = pieces[place], np.array(pieces[place + 1 :], dtype=object)
    if not len(later):
        return None
    hulls = shapely.convex_hull(shapely.union(one, later))
    is_convex = shapely.area(hulls) <= shapely.area(later) + one.area + CLOSE
    if not is_convex.any():
        return None
    other = int(is_convex.argmax())
    rest = [*later[:other], *later[other + 1 :]]
    return [*pieces[:place], hulls[other], *rest]
