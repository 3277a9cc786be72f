"""The arithmetic of a glue-up: clamps and their places, glue, time, weight, ring sides.

Formulas and figures: spread of pressure at about 45 degrees (trade press), pressures by
density of the wood and spacing limits (adhesive makers), wet film of 6 mil (PVA makers,
from memory), lifting limit 23 kg (NIOSH). What is our own choice says so. The glue's own
label comes before all of it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction

from nesting.plan import PanelPlan
from stock.measures import MM_PER_INCH, Unit, inch_in, steps_per_unit
from stock.shop import Shop

# A film of 6 mil of wet glue is 152.4 ml on a square metre of joint; half as much again
# for squeeze-out and the brush (common practice says 25 to 50 %).
FILM_ML_PER_M2 = Fraction(1524, 10)
WASTE = Fraction(3, 2)
ML_PER_FL_OZ = Fraction("29.5735295625")
GRAMS_PER_ML = Fraction("1.1")  # of a white or yellow glue (makers' data, from memory)
# Labels in pounds per 1000 square feet: 0.45359237 kg on 1000 x 0.3048^2 m2.
GRAMS_PER_M2_PER_LB = Fraction("453.59237") / (1000 * Fraction("0.3048") ** 2)

# Pressures that an adhesive maker gives, of which the middle is taken: softwood 100 to
# 150 psi, medium 150 to 200, dense 200 to 300. Where light ends (specific gravity 0.45)
# and dense begins (0.60) is our choice; at 12 % moisture the density is 1120 kg/m3 times
# specific gravity.
RANGES = ((1120 * 0.45, (100, 150)), (1120 * 0.60, (150, 200)), (math.inf, (200, 300)))
USUAL_RANGE = (150, 200)
MPA_PER_PSI = 0.00689476
NEWTONS_PER_LBF = 4.4482216

LIFT_KG = 23.0
KG_PER_LB = 0.45359237


@dataclass(frozen=True, kw_only=True, slots=True)
class Clamp:
    """One clamp: its place along the panel in grid steps, and which side it goes."""

    number: int
    at: int
    is_above: bool


@dataclass(frozen=True, kw_only=True, slots=True)
class Clamping:
    """How many clamps a panel asks for, and why.

    Attributes
    ----------
    by_spacing, by_pressure
        Clamps so that the pressure reaches everywhere, and so that it is enough.
    spacing
        Widest spacing allowed, in grid steps.
    pressure
        Pressure on the joints, in pounds per square inch.
    """

    by_spacing: int
    by_pressure: int
    spacing: int
    pressure: int
    clamps: tuple[Clamp, ...]


def clamping_for(
    panel: PanelPlan, thickness: int, density: float | None, shop: Shop, strip: int = 0
) -> Clamping:
    """Return the clamps of a panel, a `strip` of that width along either edge.

    `thickness` in grid steps, `density` in kg/m3 or None where the wood is not known.
    Spacing: as `reach_at` says, and no wider than the shop's setting. Pressure: one
    joint's force, since in a stack of joints the force is shared, not added.
    """
    margin = end_distance(panel.length, shop.unit)
    spacing = min(shop.clamp_spacing, reach_at(outer_stave(panel) + strip))
    by_spacing = spacing_count(panel.length, margin, spacing)
    pressure = pressure_for(density)
    area = square_inches(thickness * panel.length, shop.unit)
    by_pressure = force_count(pressure, area, pounds_force(shop))
    count = max(by_spacing, by_pressure)
    return Clamping(
        by_spacing=by_spacing,
        by_pressure=by_pressure,
        spacing=spacing,
        pressure=pressure,
        clamps=_placed(count, panel.length, margin, shop.unit),
    )


def reach_at(depth: int) -> int:
    """Return how wide a clamp presses under `depth` of wood: it spreads at 45 degrees."""
    return 2 * depth


def outer_stave(panel: PanelPlan) -> int:
    """Return the net width of the narrower outer stave, in grid steps."""
    return min(panel.staves[0].net_width, panel.staves[-1].net_width)


def spacing_count(length: int, margin: int, spacing: int) -> int:
    """Return `ceil((length - 2 margin) / spacing) + 1`, two clamps at least."""
    return max(2, -(-(length - 2 * margin) // max(1, spacing)) + 1)


def force_count(pressure: float, area: float, force: float) -> int:
    """Return the clamps (lbf) that press `area` square inches at `pressure` psi."""
    return max(2, math.ceil(pressure * area / force - 1e-9))


def pressures_for(density: float | None) -> tuple[int, int]:
    """Return the least and the greatest pressure for a wood of `density` kg/m3, in psi."""
    if density is None:
        return USUAL_RANGE
    return next(pressures for limit, pressures in RANGES if density < limit)


def pressure_for(density: float | None) -> int:
    """Return the middle of the pressures for a wood of `density` kg/m3, in psi."""
    return sum(pressures_for(density)) // 2


def end_distance(length: int, unit: Unit) -> int:
    """Return how far the outer clamps stand from the ends: 2 in or 50 mm, or less."""
    usual = 2 if unit is Unit.INCH else 50
    return min(usual * steps_per_unit(unit), length // 4)


def glue_ml(panel: PanelPlan, thickness: int, unit: Unit) -> float:
    """Return the glue for the joints of a panel in millilitres, waste and all."""
    return film_ml(thickness * panel.length * (len(panel.staves) - 1), unit)


def film_ml(area: int, unit: Unit) -> float:
    """Return the glue for `area` square grid steps in millilitres, waste and all."""
    metre = 1000 * steps_per_unit(Unit.MM) if unit is Unit.MM else _metre_in_steps()
    return float(Fraction(area) / metre**2 * FILM_ML_PER_M2 * WASTE)


def spread_minutes(panel: PanelPlan, shop: Shop) -> float:
    """Return the minutes that spreading glue on every joint of a panel takes."""
    return (len(panel.staves) - 1) * float(shop.spread_time) / 60


def panel_name(panel: PanelPlan) -> str:
    """Return the name of a panel: its part and copy, and the layer if there are more."""
    name = f"{panel.part} {panel.copy}"
    return f"{name}, layer {panel.layer}" if panel.layer > 1 else name


def weight_kg(volume: float, density: float, unit: Unit) -> float:
    """Return the weight of `volume` cubic grid steps of wood of `density` kg/m3."""
    metre = float(1000 * steps_per_unit(Unit.MM) if unit is Unit.MM else _metre_in_steps())
    return volume / metre**3 * density


def ring_sides(panel: PanelPlan, ring: str, *, is_plain: bool) -> tuple[str, ...]:
    """Return for each stave which side goes up: `heart`, `bark` or `any`.

    What the plan settles stays. Else the shop's habit: `alternate` or all the `same`
    (heart side up). Quarter and rift staves need neither (common practice).
    """
    settled = next((s.face for s in panel.staves if s.face), None)
    first = settled or "heart"
    sides: list[str] = []
    for at, stave in enumerate(panel.staves):
        if stave.face:
            sides.append(stave.face)
        elif ring == "any" or not is_plain:
            sides.append("any")
        elif ring == "same":
            sides.append(first)
        else:
            sides.append(_other(sides[-1]) if at else first)
    return tuple(sides)


def _other(side: str) -> str:
    """Return the side across."""
    return "bark" if side == "heart" else "heart"


def _placed(count: int, length: int, margin: int, unit: Unit) -> tuple[Clamp, ...]:
    """Return clamps evenly spread, to the nearest 1/8 in or mm, sides alternating."""
    grid = steps_per_unit(unit) if unit is Unit.MM else steps_per_unit(unit) // 8
    gap = Fraction(length - 2 * margin, count - 1)
    return tuple(
        Clamp(
            number=at + 1,
            at=math.floor((margin + gap * at) / grid + Fraction(1, 2)) * grid,
            is_above=at % 2 == 0,
        )
        for at in range(count)
    )


def pounds_force(shop: Shop) -> float:
    """Return the force of one clamp in pounds-force (the setting is newtons in metric)."""
    force = float(shop.clamp_force)
    return force / NEWTONS_PER_LBF if shop.unit is Unit.MM else force


def square_inches(area: int, unit: Unit) -> float:
    """Return an area in square grid steps as square inches."""
    inch = float(inch_in(unit)) * steps_per_unit(unit)
    return area / inch**2


def _metre_in_steps() -> Fraction:
    """Return how many steps of 1/64 in make a metre."""
    return 1000 / MM_PER_INCH * steps_per_unit(Unit.INCH)
