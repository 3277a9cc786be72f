"""Finish from the show area of a project: how much of it all coats take."""

from __future__ import annotations

import math
from fractions import Fraction

from nesting.parts import Part
from nesting.project import Project, Supply
from reports.glueups import ML_PER_FL_OZ
from stock.cells import plain
from stock.measures import Unit, inch_in, steps_per_unit

# Millilitres in one unit of volume; a bare `oz` is read as a fluid ounce.
_ML = {
    "ml": Fraction(1), "cl": Fraction(10), "l": Fraction(1000), "litre": Fraction(1000),
    "liter": Fraction(1000), "oz": ML_PER_FL_OZ, "fl oz": ML_PER_FL_OZ,
    "pint": 16 * ML_PER_FL_OZ, "quart": 32 * ML_PER_FL_OZ, "qt": 32 * ML_PER_FL_OZ,
    "gallon": 128 * ML_PER_FL_OZ, "gal": 128 * ML_PER_FL_OZ,
}  # fmt: skip
_PER = {Unit.INCH: ("gallon", "square feet"), Unit.MM: ("litre", "square metres")}


def ml_in(unit: str) -> Fraction | None:
    """Return the millilitres in a unit of volume as a maker writes it, or None."""
    return _ML.get(unit.strip().lower())


def show_area(project: Project) -> Fraction:
    """Return the area to finish in square feet, in a metric project square metres.

    All six sides of every finished part but the hidden ones, each counted as a box: a
    part that is finished on one side only moves with the seasons (common practice).
    """
    side = 1000 if project.unit is Unit.MM else 12 * inch_in(project.unit)
    per_side = side * steps_per_unit(project.unit)
    seen = (part for part in project.parts if part.face != "hidden")
    return Fraction(sum(part.qty * _surface(part) for part in seen)) / per_side**2


def finish_needed(supply: Supply, project: Project) -> tuple[Fraction | None, str]:
    """Return how much of a finish all coats take, in its unit, and whence the figure.

    Rounded up to a tenth of the unit. None where neither the supply nor the shop says how
    far it goes.
    """
    per, square = _PER[project.unit]
    area, shop = show_area(project), project.shop
    coats = shop.finish_coats if supply.coats is None else supply.coats
    words = f"show area about {float(area):.1f} {square}, {plain(coats)} coats"
    words = words.removesuffix("s") if coats == 1 else words
    coverage, in_unit = supply.coverage, ml_in(supply.unit)
    if coverage is not None:
        words += f", {plain(coverage)} {square} a {supply.unit}"
    elif not shop.finish_coverage:
        return None, f"{words}; the label says how far it goes"
    elif in_unit is None:
        rule = f"say in the column coverage how far one {supply.unit!r} goes"
        return None, f"{words}; {rule}"
    else:
        coverage = shop.finish_coverage * in_unit / _ML[per]
        words += f", {plain(shop.finish_coverage)} {square} a {per}; see the label"
    return Fraction(math.ceil(area * coats / coverage * 10), 10), words


def _surface(part: Part) -> int:
    """Return the surface of one finished part as a box, in square grid steps."""
    long, wide, thick = part.length, part.width, part.thickness
    return 2 * (long * wide + long * thick + wide * thick)
