"""Wood that a project could get: what its price lists promise, and usual thicknesses."""

from __future__ import annotations

from fractions import Fraction

from nesting.project import Project
from stock.boards import Board, Thickness, dressed_size
from stock.measures import inch_in, steps_per_unit
from stock.shop import Shop
from stock.yards import Price

UNLIMITED = 1_000_000  # grid steps: a price list that names no limit

_QUARTERS = (4, 5, 6, 8, 10, 12, 16)  # usual rough thicknesses, quarters of an inch


def listed_boards(project: Project) -> tuple[Board, ...]:
    """Return the boards of a project; without any, the best its price lists promise."""
    return project.boards or tuple(typical_board(line) for line in project.prices)


def typical_board(line: Price) -> Board:
    """Return the largest board a line of a price list promises."""
    width = line.widest or UNLIMITED
    return Board(
        name=f"{line.species} {line.thickness.label} from {line.yard}",
        where=line.yard,
        species=line.species,
        thickness=line.thickness,
        length=line.longest or UNLIMITED,
        width=width,
        width2=width,
        grade=line.grade,
        sawing=line.sawing,
        surfaced=line.surfaced,
        price=line.price,
    )


def usual_thickness(dressed: int, shop: Shop) -> Thickness:
    """Return the thinnest usual rough thickness that dresses to `dressed` grid steps."""
    inch = inch_in(shop.unit)
    for quarters in (*_QUARTERS, *range(17, 400)):
        thickness = Thickness(Fraction(quarters, 4) * inch, f"{quarters}/4")
        if dressed_size(thickness, "rough", shop) >= dressed:
            return thickness
    size = Fraction(dressed, steps_per_unit(shop.unit))
    return Thickness(size, f"{float(size):g}")
