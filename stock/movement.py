"""How wood moves: what its width gains or loses as its moisture changes.

Wood Handbook FPL-GTR-190, chapter 13: between 6 and 14 % moisture a width D changes by
`D C (M2 - M1)`, with the coefficient C of the species for plain-sawn (tangential) or
quarter-sawn (radial) wood. Beyond that range the handbook has a general formula (its
equation 13-3, from memory) from the shrinkage green to oven-dry. The printed coefficients
are that formula at 10 % moisture, so each of the two can be had from the other.

Coefficients are species means; single boards differ, and a Forest Products Laboratory
author holds four decimals to be all that is justified.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from stock.species import Species

DRIEST, DAMPEST = 6.0, 14.0  # percent of moisture: where a coefficient holds
DRAWN_AT = 10.0  # percent of moisture that the printed coefficients belong to
LENGTH_PERCENT = 0.2  # at most, green to oven-dry, of normal wood (American Wood Council)

COEFFICIENT = (
    "width times coefficient times change of moisture, which holds from 6 to 14 % (Wood"
    " Handbook, chapter 13)"
)
SHRINKAGE = (
    "general formula from the shrinkage green to oven-dry, as moisture leaves the range"
    " of 6 to 14 % where a coefficient holds (Wood Handbook, equation 13-3, from memory)"
)

_COS2 = {"plain": 1.0, "rift": 0.5, "quarter": 0.0}
_SOON_SATURATED = frozenset({"Thuja plicata", "Sequoia sempervirens", "Thuja occidentalis"})


@dataclass(frozen=True, kw_only=True, slots=True)
class Rate:
    """How fast a species moves in one direction.

    Attributes
    ----------
    coefficient
        Change of size per percent of moisture, as a fraction of the size.
    is_printed
        Whether it is the handbook's own; else it was worked out from the shrinkage.
    is_verified
        Whether every figure it rests on was seen in print.
    """

    coefficient: float
    is_printed: bool
    is_verified: bool


def rate_for(species: Species, sawing: str | None) -> Rate | None:
    """Return how fast the width of a board moves; None if no figure is known.

    `plain` moves with the tangential coefficient, `quarter` with the radial one, `rift`
    as with rings at 45 degrees to the face. Where the sawing is not known, or mixed, the
    larger counts.
    """
    if sawing in _COS2:
        return rate_at(species, _COS2[sawing])
    known = [rate for cos2 in (0.0, 1.0) if (rate := rate_at(species, cos2))]
    return max(known, key=lambda rate: rate.coefficient, default=None)


def rate_at(species: Species, cos2: float) -> Rate | None:
    """Return how fast a width moves whose rings stand at an angle to the face.

    `cos2` is the squared cosine of that angle: 1 for plain-sawn, 0 for quarter-sawn.
    Rotating the strain gives `CT cos2 + CR sin2`; the curve of the rings is left out.
    """
    radial, tangential = _radial(species), _tangential(species)
    if cos2 in (0.0, 1.0):
        return tangential if cos2 else radial
    if radial is None or tangential is None:
        return None
    return Rate(
        coefficient=tangential.coefficient * cos2 + radial.coefficient * (1 - cos2),
        is_printed=radial.is_printed and tangential.is_printed,
        is_verified=radial.is_verified and tangential.is_verified,
    )


def thickness_rate_for(species: Species, sawing: str | None) -> Rate | None:
    """Return how fast the thickness moves: across the width's own direction."""
    across = {"plain": "quarter", "quarter": "plain"}
    return rate_for(species, across.get(sawing or "", sawing))


def mean_coefficient(rates: Iterable[tuple[float, float]]) -> float:
    """Return the coefficient of staves side by side, from (width, coefficient) each.

    Each stave moves by its own, and what they move by adds up; so each counts by width.
    """
    staves = tuple(rates)
    return sum(width * one for width, one in staves) / sum(width for width, _ in staves)


def change(size: float, coefficient: float, before: float, after: float) -> float:
    """Return by how much a size changes; less than 0 if it shrinks.

    Parameters
    ----------
    size
        At the moisture `before`, in any unit; the answer is in the same.
    before, after
        Moisture contents, percent, not above the fibre saturation (`held_moisture`).
    """
    if holds(before, after):
        return size * coefficient * (after - before)
    # equation 13-3 with the shrinkage that belongs to the coefficient
    return size * coefficient * (after - before) / (1 + coefficient * (before - DRAWN_AT))


def holds(before: float, after: float) -> bool:
    """Whether a coefficient may be used between two moisture contents (percent)."""
    return min(before, after) >= DRIEST and max(before, after) <= DAMPEST


def rule_for(before: float, after: float) -> str:
    """Return which rule gives the change between two moisture contents, in words."""
    return COEFFICIENT if holds(before, after) else SHRINKAGE


def general_change(
    size: float, shrinkage: float, before: float, after: float, saturation: float = 30.0
) -> float:
    """Return the change of a size by the shrinkage (percent, green to oven-dry).

    Wood Handbook equation 13-3 (from memory): `D (M2 - M1) / (100 F / S - F + M1)`, for
    moisture between 0 and the fibre saturation F.
    """
    base = 100 * saturation / shrinkage - saturation + before
    return size * (after - before) / base


def coefficient_from(shrinkage: float, saturation: float = 30.0) -> float:
    """Return the coefficient that belongs to a shrinkage (percent, green to oven-dry)."""
    return general_change(1.0, shrinkage, DRAWN_AT, DRAWN_AT + 1, saturation)


def saturation_of(species: Species) -> float:
    """Return the moisture (percent) above which a species doesn't swell any more.

    30, but 22 for western redcedar, redwood and northern white-cedar (Wood Handbook
    chapters 4 and 13, from memory).
    """
    return 22.0 if species.botanical in _SOON_SATURATED else 30.0


def held_moisture(species: Species, moisture: float) -> float:
    """Return a moisture content (percent) as far as it moves the wood."""
    return min(moisture, saturation_of(species))


def length_change(length: float, before: float, after: float) -> float:
    """Return what a length changes by at most: so little that nobody plans for it."""
    return length * LENGTH_PERCENT / 100 * (after - before) / 30


def _radial(species: Species) -> Rate | None:
    return _rate(species, species.radial_coefficient, species.radial_shrinkage, ("CR", "R"))


def _tangential(species: Species) -> Rate | None:
    return _rate(
        species, species.tangential_coefficient, species.tangential_shrinkage, ("CT", "T")
    )


def _rate(
    species: Species,
    coefficient: float | None,
    shrinkage: float | None,
    figures: tuple[str, str],
) -> Rate | None:
    """Return the printed coefficient, else the one that the shrinkage gives."""
    printed, other = figures
    if coefficient is not None:
        return Rate(
            coefficient=coefficient,
            is_printed=True,
            is_verified=printed not in species.unseen,
        )
    if shrinkage is None:
        return None
    return Rate(
        coefficient=coefficient_from(shrinkage, saturation_of(species)),
        is_printed=False,
        is_verified=other not in species.unseen,
    )
