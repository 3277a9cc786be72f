"""Moisture of wood at rest with air, against a printed table, and its inverse.

EMC-T: a copy of the Wood Handbook's table of equilibrium moisture content.
"""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from stock.measures import Unit
from stock.moisture import (
    CELSIUS,
    FAHRENHEIT,
    humidity_for,
    is_checked,
    moisture_at,
    scale_of,
)

humidities = st.floats(min_value=0, max_value=100)
scales = st.sampled_from((FAHRENHEIT, CELSIUS))


@pytest.mark.parametrize(
    ("fahrenheit", "humidity", "printed"),
    [
        # WP-09, EMC-T
        (70, 30, 6.2), (70, 50, 9.2), (70, 65, 12.0), (70, 80, 16.0),
        # WP-10, EMC-T
        (30, 50, 9.5), (90, 50, 8.9), (130, 50, 7.9),
        # more cells of the same table
        (30, 20, 4.6), (50, 65, 12.3), (90, 80, 15.4), (110, 70, 12.0), (110, 30, 5.6),
    ],
)  # fmt: skip
def test_the_equation_gives_the_printed_table(fahrenheit, humidity, printed):
    assert moisture_at(humidity, fahrenheit, FAHRENHEIT) == pytest.approx(printed, abs=0.1)


def test_the_constants_for_celsius_give_the_worked_value():
    # WP-11: the equation worked out at 20 C and 50 %
    assert moisture_at(50, 20, CELSIUS) == pytest.approx(9.271, abs=0.01)


@given(humidities, st.floats(min_value=0, max_value=54))
def test_both_scales_of_temperature_agree(humidity, celsius):
    # WP-12: two printed sets of constants for one equation
    other = moisture_at(humidity, celsius * 9 / 5 + 32, FAHRENHEIT)
    assert moisture_at(humidity, celsius, CELSIUS) == pytest.approx(other, abs=0.1)


@given(humidities, humidities, scales)
def test_damper_air_makes_damper_wood(one, other, scale):
    low, high = sorted((one, other))
    at_low, at_high = (moisture_at(h, scale.usual, scale) for h in (low, high))
    assert at_low <= at_high
    if high - low > 1e-6:
        assert at_low < at_high


@given(humidities, scales)
def test_the_humidity_of_a_moisture_is_found_back(humidity, scale):
    moisture = moisture_at(humidity, scale.usual, scale)
    assert humidity_for(moisture, scale.usual, scale) == pytest.approx(humidity, abs=1e-4)


def test_bone_dry_air_makes_bone_dry_wood_and_no_air_keeps_wood_green():
    assert moisture_at(0, 70, FAHRENHEIT) == 0
    assert humidity_for(40, 70, FAHRENHEIT) is None


@pytest.mark.parametrize(
    ("humidity", "temperature", "words"),
    [
        (-1, 70, "from 0 to 100 percent, got -1"),
        (101, 70, "from 0 to 100 percent, got 101"),
        (float("nan"), 70, "from 0 to 100 percent, got nan"),
        (50, 29, "from 30 to 130 degrees F, got 29"),
        (50, 131, "from 30 to 130 degrees F, got 131"),
        (50, float("nan"), "from 30 to 130 degrees F, got nan"),
    ],
)
def test_air_beyond_the_equation_is_refused(humidity, temperature, words):
    with pytest.raises(ValueError, match=words):
        moisture_at(humidity, temperature, FAHRENHEIT)


@pytest.mark.parametrize("moisture", [-0.1, float("inf"), float("nan")])
def test_a_moisture_that_no_wood_has_is_refused(moisture):
    with pytest.raises(ValueError, match="0 percent or more"):
        humidity_for(moisture, 70, FAHRENHEIT)


def test_a_unit_of_length_goes_with_its_scale():
    assert (scale_of(Unit.INCH), scale_of(Unit.MM)) == (FAHRENHEIT, CELSIUS)


def test_the_range_of_the_table_is_known():
    # the copy has cells from 5 to 85 % relative humidity
    assert [is_checked(h) for h in (4, 5, 50, 85, 86)] == [False, True, True, True, False]
