"""Outlines of finished parts, as they lie inside a glued blank."""

from __future__ import annotations

import math

from nesting.drawn import Ring
from nesting.parts import Part
from reports.drawings import Point


def finished_outline(part: Part, length: int, width: int) -> tuple[Point, ...]:
    """Return the finished shape as points, centred in a blank of `length` x `width`."""
    return _placed(part, length, width, _shape_points(part))


def finished_windows(part: Part, length: int, width: int) -> tuple[tuple[Point, ...], ...]:
    """Return the windows of a part that is drawn, in the same place."""
    windows = part.drawn.windows if part.drawn else ()
    return tuple(
        _placed(part, length, width, _drawn_points(part, window)) for window in windows
    )


def _placed(
    part: Part, length: int, width: int, points: tuple[Point, ...]
) -> tuple[Point, ...]:
    """Return points of a square of side 1 where the part lies in its blank."""
    along, across = finished_size(part, length, width)
    left, low = (length - along) / 2, (width - across) / 2
    if part.drawn and part.grain == "either" and along != part.length:
        points = tuple((1 - y, x) for x, y in points)  # it lies a quarter turn round
    return tuple((left + along * x, low + across * y) for x, y in points)


def finished_size(part: Part, length: int, width: int) -> tuple[int, int]:
    """Return the finished size along and across the grain of a blank."""
    turned = (part.width, part.length)
    if part.grain == "width":
        return turned
    as_drawn = (part.length, part.width)
    fits = part.length <= length and part.width <= width
    return as_drawn if fits or part.grain == "length" else turned


def _shape_points(part: Part) -> tuple[Point, ...]:
    """Return the outline of a part in a square of side 1."""
    if part.drawn:
        return _drawn_points(part, part.drawn.rim)
    if part.shape == "disc":
        turns = [2 * math.pi * at / 72 for at in range(72)]
        return tuple((0.5 + math.cos(t) / 2, 0.5 + math.sin(t) / 2) for t in turns)
    if part.shape == "octagon":
        cut = 1 / (2 + math.sqrt(2))
        return (
            (cut, 0), (1 - cut, 0), (1, cut), (1, 1 - cut),
            (1 - cut, 1), (cut, 1), (0, 1 - cut), (0, cut),
        )  # fmt: skip
    if part.shape == "taper" and part.ends:
        widest = max(part.ends)
        first, last = (end / widest for end in part.ends)
        return ((0, 0), (1, 0), (1, last), (0, first))
    return ((0, 0), (1, 0), (1, 1), (0, 1))


def _drawn_points(part: Part, ring: Ring) -> tuple[Point, ...]:
    """Return a ring of a part's drawing in a square of side 1."""
    drawn = part.drawn
    return tuple((x / drawn.length, y / drawn.width) for x, y in ring) if drawn else ()
