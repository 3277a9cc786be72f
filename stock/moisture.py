"""How damp wood becomes: moisture content at rest with the air around it.

The equation is Wood Handbook FPL-GTR-190, equation 4-5; its constants are from memory of
Simpson 1998, FPL-RN-0268. Against a copy of the handbook's table (30 to 130
degrees Fahrenheit, 5 to 85 % relative humidity) it errs by 0.061 points of moisture at
most, with the constants for Celsius by 0.052.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from stock.measures import Unit

DRIEST_CHECKED, DAMPEST_CHECKED = 5.0, 85.0  # percent, where a table was at hand

_Powers = tuple[float, float, float]  # factors of 1, T and T squared


@dataclass(frozen=True, kw_only=True, slots=True)
class Scale:
    """A scale of temperature, with what the equation needs on it.

    Attributes
    ----------
    low, high
        Coldest and warmest temperature that the equation is used at.
    usual
        Temperature indoors, where none is named (the column of the table that is nearest
        to a heated room).
    w, k, k1, k2
        Factors of 1, T and T squared that make W, K, K1 and K2 of the equation.
    """

    name: str
    low: float
    high: float
    usual: float
    w: _Powers
    k: _Powers
    k1: _Powers
    k2: _Powers


FAHRENHEIT = Scale(
    name="F", low=30, high=130, usual=70,
    w=(330, 0.452, 0.00415),
    k=(0.791, 0.000463, -0.000000844),
    k1=(6.34, 0.000775, -0.0000935),
    k2=(1.09, 0.0284, -0.0000904),
)  # fmt: skip
CELSIUS = Scale(
    name="C", low=-1, high=54, usual=20,
    w=(349, 1.29, 0.0135),
    k=(0.805, 0.000736, -0.00000273),
    k1=(6.27, -0.00938, -0.000303),
    k2=(1.91, 0.0407, -0.000293),
)  # fmt: skip


def scale_of(unit: Unit) -> Scale:
    """Return the scale of temperature that goes with a unit of length."""
    return CELSIUS if unit is Unit.MM else FAHRENHEIT


def moisture_at(humidity: float, temperature: float, scale: Scale) -> float:
    """Return the moisture content (percent) that wood comes to in air (EMC).

    Parameters
    ----------
    humidity
        Relative humidity, percent.
    temperature
        On the scale.

    Raises
    ------
    ValueError
        If the humidity is not from 0 to 100 %, or the temperature beyond the scale's
        range, where the equation was not compared with anything.
    """
    if not 0 <= humidity <= 100:
        raise ValueError(f"relative humidity is from 0 to 100 percent, got {humidity:g}")
    if not scale.low <= temperature <= scale.high:
        raise ValueError(
            f"the equation holds from {scale.low:g} to {scale.high:g} degrees"
            f" {scale.name}, got {temperature:g}"
        )
    w, k, k1, k2 = constants_at(temperature, scale)
    kh = k * humidity / 100
    bound = k1 * kh * (1 + 2 * k2 * kh) / (1 + k1 * kh * (1 + k2 * kh))
    return 1800 / w * (kh / (1 - kh) + bound)


def constants_at(temperature: float, scale: Scale) -> tuple[float, float, float, float]:
    """Return W, K, K1 and K2 of the equation."""
    w, k, k1, k2 = (
        one + temperature * (first + temperature * second)
        for one, first, second in (scale.w, scale.k, scale.k1, scale.k2)
    )
    return w, k, k1, k2


def humidity_for(moisture: float, temperature: float, scale: Scale) -> float | None:
    """Return the relative humidity (percent) at which wood keeps a moisture content.

    None if no air is damp enough for it. Moisture rises with humidity, so the answer is
    found by halving, to a millionth of a percent.

    Raises
    ------
    ValueError
        If the moisture is less than 0, or the temperature beyond the scale's range.
    """
    if not 0 <= moisture < math.inf:
        raise ValueError(f"a moisture content is 0 percent or more, got {moisture:g}")
    low, high = 0.0, 100.0
    if moisture > moisture_at(high, temperature, scale):
        return None
    while high - low > 1e-6:
        middle = (low + high) / 2
        if moisture_at(middle, temperature, scale) < moisture:
            low = middle
        else:
            high = middle
    return high


def is_checked(humidity: float) -> bool:
    """Whether the equation was compared with a table at this humidity (percent)."""
    return DRIEST_CHECKED <= humidity <= DAMPEST_CHECKED
