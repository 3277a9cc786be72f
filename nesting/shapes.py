"""Geometry of parts that are not plain rectangles, and of bevels; no shop habits here.

Lengths may be in any unit, the answers are in the same. Sources: plane geometry.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

from nesting.parts import Part

_NOISE = 1e-9  # of a grid step: what floating point may add to an exact size


@dataclass(frozen=True, slots=True)
class Octagon:
    """A regular octagon cut from a square.

    Attributes
    ----------
    side
        Length of each of the eight sides.
    leg
        What each corner of the square loses along either side.
    corners
        Distance across opposite corners.
    """

    side: float
    leg: float
    corners: float


def octagon_in(square: float) -> Octagon:
    """Return the octagon that fills a square: `side + 2 * leg` is the square's side."""
    return Octagon(
        side=(math.sqrt(2) - 1) * square,
        leg=(1 - 1 / math.sqrt(2)) * square,
        corners=square / math.cos(math.radians(22.5)),
    )


def disc_square(diameter: float, allowance: float) -> float:
    """Return the side of the square a disc is sawn from, with an allowance all round."""
    return diameter + 2 * allowance


def bevel_width(thickness: float, angle: float) -> float:
    """Return how much a bevel of `angle` degrees from square runs over `thickness`."""
    return thickness * math.tan(math.radians(angle))


def bevel_steps(thickness: int, angle: float) -> int:
    """Return the run of a bevel in whole grid steps, rounded up."""
    return math.ceil(bevel_width(thickness, abs(angle)) - _NOISE)


def taper_angle(wide: float, narrow: float, length: float) -> float:
    """Return the angle of a one-sided taper in degrees."""
    return math.degrees(math.atan2(wide - narrow, length))


def nested_width(wide: float, narrow: float, length: float, kerf: float) -> float:
    """Return the width that two one-sided tapers need, nested head to tail.

    The saw runs along the slope, so across the board its kerf is wider than the blade:
    `kerf / cos(angle)`.
    """
    slope = math.radians(taper_angle(wide, narrow, length))
    return wide + narrow + kerf / math.cos(slope)


def left_over(stick: float, lengths: Iterable[float], kerf: float) -> float:
    """Return what is left of a stick once `lengths` and a kerf after each are cut off."""
    return stick - sum(length + kerf for length in lengths)


def resaw_thickness(leaves: int, thickness: int, lost: int, kerf: int) -> int:
    """Return how thick the wood is that `leaves` of a thickness are resawn from.

    `lost` is what each leaf loses on both of its faces to be dressed after the saw.
    """
    return leaves * (thickness + lost) + (leaves - 1) * kerf


def bounding_size(part: Part) -> tuple[int, int]:
    """Return length and width of the rectangle a part is cut out of, in grid steps.

    An octagon or disc fills the size in its columns, an outline lies within it, and a
    taper comes from its wide end.
    """
    return part.length, max(part.width, *(part.ends or (0,)))
