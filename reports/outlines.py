"""Outlines of finished parts, as they lie inside a glued blank."""

from __future__ import annotations

import math

from nesting.parts import Part
from reports.drawings import Point


def finished_outline(part: Part, length: int, width: int) -> tuple[Point, ...]:
    """Return the finished shape as points, centred in a blank of `length` x `width`."""
    along, across = finished_size(part, length, width)
    left, low = (length - along) / 2, (width - across) / 2
    unit_points = _shape_points(part)
    return tuple((left + along * x, low + across * y) for x, y in unit_points)


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
