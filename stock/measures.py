"""Text to grid steps and back; the only module that knows the grid.

A measure is an exact whole number of grid steps: 1/64 in, or 0.1 mm. What is needed is
rounded up to the grid, what is there is rounded down.
"""

from __future__ import annotations

import enum
import math
from fractions import Fraction

MM_PER_INCH = Fraction(254, 10)
BOARD_FEET_PER_M3 = Fraction(10**9) / (MM_PER_INCH**3 * 144)


class Unit(enum.Enum):
    """The unit a project is written in."""

    INCH = "in"
    MM = "mm"


def steps_per_unit(unit: Unit) -> int:
    """Return how many grid steps make one inch or one millimetre."""
    return 64 if unit is Unit.INCH else 10


def need_steps(size: Fraction, unit: Unit) -> int:
    """Return `size` (in the project's unit) in grid steps, rounded up."""
    return math.ceil(size * steps_per_unit(unit))


def supply_steps(size: Fraction, unit: Unit) -> int:
    """Return `size` (in the project's unit) in grid steps, rounded down."""
    return math.floor(size * steps_per_unit(unit))
