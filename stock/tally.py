"""How the trade counts lumber: surface measure, export tally, kiln-dried conventions.

Three tallies of one board give three numbers, so a report names the one it uses. The
exact tally is in `stock.boards`; these are the rounded ones. Sizes are in inches, exact.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from fractions import Fraction

_HALF = Fraction(1, 2)


def surface_measure(width: Fraction, length: Fraction) -> int:
    """Return the surface measure of one board in square feet, an exact half rounded down.

    Width counts with its fraction, of the length only the whole feet (NHLA rules, and
    the measurement page of the American Hardwood Export Council).
    """
    return surface_measures([(width, length)])[0]


def surface_measures(sizes: Iterable[tuple[Fraction, Fraction]]) -> tuple[int, ...]:
    """Return the surface measures of a tally, exact halves going down and up in turn.

    The turns are a rule of the board-rule textbooks; starting with down is our choice.
    """
    return _rounded(width * (length // 12) / 12 for width, length in sizes)


def surface_feet(surface: int, thickness: Fraction) -> Fraction:
    """Return the board feet of `surface` square feet; stock under 1 in counts as 1 in."""
    return surface * max(Fraction(1), thickness)


def export_tally(sizes: Iterable[tuple[Fraction, Fraction]]) -> tuple[tuple[int, int], ...]:
    """Return width (whole inches) and length (whole feet) as an export tally records them.

    Widths go to the nearest inch, exact halves down and up in turn; lengths go down
    (American Hardwood Export Council, measurement page).
    """
    boards = tuple(sizes)
    widths = _rounded(width for width, _ in boards)
    return tuple(
        (width, int(length // 12))
        for width, (_, length) in zip(widths, boards, strict=True)
    )


def export_feet(width: int, feet: int, thickness: Fraction) -> Fraction:
    """Return the board feet of one line of an export tally."""
    return Fraction(width * feet, 12) * max(Fraction(1), thickness)


def dried_feet(green: Fraction, loss: Fraction = Fraction(8, 100)) -> Fraction:
    """Return what is left of `green` board feet after the kiln.

    The usual loss is about 8 % (trade pages; 3 to 8 % and more by species). Dry hardwood
    is sold on net footage, so nothing is added for it when buying.
    """
    return green * (1 - loss)


def kiln_dried_minimum(nominal: Fraction) -> Fraction:
    """Return the least rough thickness of kiln-dried stock of a nominal thickness.

    1/16 in scant up to 1 3/4 in, 1/8 in from 2 in (NHLA rules 2023, kiln dried rule).
    """
    return nominal - (Fraction(1, 16) if nominal <= Fraction(7, 4) else Fraction(1, 8))


def surfaced_thickness(nominal: Fraction) -> Fraction:
    """Return the surfaced (S2S) thickness of a nominal thickness.

    3/16 in less up to 1 1/2 in, 1/4 in less above: the pattern of the published table
    (10/4 rests on memory of the NHLA rules).
    """
    return nominal - (Fraction(3, 16) if nominal <= Fraction(3, 2) else Fraction(1, 4))


def _rounded(values: Iterable[Fraction]) -> tuple[int, ...]:
    """Round to whole numbers, exact halves going down and up in turn."""
    found: list[int] = []
    goes_up = False
    for value in values:
        if value % 1 == _HALF:
            found.append(math.floor(value) + goes_up)
            goes_up = not goes_up
        else:
            found.append(math.floor(value + _HALF))
    return tuple(found)
