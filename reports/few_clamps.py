"""What a shop can do whose clamps are too few for a glue-up."""

from __future__ import annotations

from nesting.plan import PanelPlan
from reports.glueups import (
    MPA_PER_PSI,
    clamping_for,
    outer_stave,
    pounds_force,
    pressures_for,
    square_inches,
)
from stock.measures import Unit, format_measure, steps_per_unit
from stock.shop import Shop


def few_clamps(panel: PanelPlan, thickness: int, density: float | None, shop: Shop) -> str:
    """Return what the shop's own clamps do for a panel, and what would help, in words."""
    words = own_clamps(thickness * panel.length, density, shop)
    if shop.clamps_owned < 2:
        return words
    strip = strip_for(panel, thickness, density, shop)
    if strip is None:
        return f"{words}; they can't reach everywhere: borrow clamps"
    if strip:
        wide = format_measure(strip, shop.unit, 64)
        words += f"; a strip {wide} wide along either edge lets so few reach everywhere"
    return words


def own_clamps(area: int, density: float | None, shop: Shop) -> str:
    """Return how hard all the shop's clamps press `area` square grid steps, in words."""
    owned = int(shop.clamps_owned)
    if owned < 2:
        return "Borrow clamps"
    least, _ = pressures_for(density)
    pressure = pressure_of(owned, area, shop)
    words = f"All {owned} press {_pressure(pressure, shop.unit)};"
    words += f" usual are {_pressure(least, shop.unit)} or more"
    if pressure >= least:
        return words
    return f"{words}: borrow clamps, or fit the joints most closely"


def pressure_of(clamps: int, area: int, shop: Shop) -> float:
    """Return the pressure of clamps on `area` square grid steps, in psi."""
    return clamps * pounds_force(shop) / square_inches(area, shop.unit)


def strip_for(
    panel: PanelPlan, thickness: int, density: float | None, shop: Shop
) -> int | None:
    """Return how wide strips along the edges let the shop's clamps reach everywhere.

    In whole 1/2 in or 10 mm, 0 if none are needed; None if no strip is wide enough.
    """
    unit = steps_per_unit(shop.unit)
    step = unit // 2 if shop.unit is Unit.INCH else 10 * unit
    widest = max(0, shop.clamp_spacing // 2 - outer_stave(panel)) + step
    for strip in range(0, widest + 1, step):
        clamping = clamping_for(panel, thickness, density, shop, strip)
        if clamping.by_spacing <= shop.clamps_owned:
            return strip
    return None


def _pressure(psi: float, unit: Unit) -> str:
    """Return a pressure in the project's system."""
    return f"{psi:.0f} psi" if unit is Unit.INCH else f"{psi * MPA_PER_PSI:.1f} MPa"
