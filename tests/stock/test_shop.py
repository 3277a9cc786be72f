"""The shop's defaults are those that the documentation states, and its rounding is safe."""

from __future__ import annotations

from dataclasses import fields, replace
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from stock.measures import Unit
from stock.shop import SETTINGS, Shop, default_shop

INCH_DEFAULTS = {
    "kerf": Fraction(1, 8),
    "end trim": Fraction(1),
    "crosscut allowance": Fraction(1),
    "rip allowance": Fraction(1, 4),
    "joint allowance": Fraction(1, 8),
    "panel allowance": Fraction(1, 2),
    "resaw allowance": Fraction(1, 8),
    "narrowest stave": Fraction(5, 2),
    "widest stave": Fraction(6),
    "widest solid": Fraction(8),
    "shortest machined": Fraction(12),
    "jointer width": Fraction(8),
    "planer width": Fraction(15),
    "keep length": Fraction(12),
    "keep width": Fraction(5, 2),
    "clamp spacing": Fraction(8),
}
NUMBER_DEFAULTS = {
    "offcut value": 50,
    "rack value": 30,
    "shop rate": 0,
    "set premium": 10,
    "figure premium": 5,
    "panel premium": 1,
    "clamp force": 1000,
    "clamps owned": 12,
    "open time": 10,
    "spread time": 20,
    "clamp time": 60,
    "confidence": 90,
    "humidity low": 35,
    "humidity high": 65,
}


@pytest.mark.parametrize(("name", "size"), INCH_DEFAULTS.items())
def test_default_lengths_are_the_documented_ones(name, size):
    assert getattr(default_shop(Unit.INCH), name.replace(" ", "_")) == size * 64


@pytest.mark.parametrize(("name", "number"), NUMBER_DEFAULTS.items())
def test_default_numbers_are_the_documented_ones(name, number):
    assert getattr(default_shop(Unit.INCH), name.replace(" ", "_")) == number


def test_blank_settings_stay_blank():
    shop = default_shop(Unit.INCH)
    assert shop.thickness_allowance is None
    assert shop.longest_carried is None
    assert shop.heaviest_carried is None
    assert (shop.aim, shop.ring) == ("money", "alternate")


def test_every_setting_has_a_place_in_the_shop_and_none_is_left_out():
    assert [setting.field for setting in SETTINGS] == [one.name for one in fields(Shop)]


def test_a_metric_shop_has_round_millimetres():
    shop = default_shop(Unit.MM)
    assert (shop.kerf, shop.end_trim, shop.widest_stave) == (30, 250, 1500)


@given(st.integers(0, 10**6), st.integers(0, 64))
def test_rounding_to_saw_steps_never_cheats(size, step):
    shop = replace(default_shop(Unit.INCH), saw_step=step)
    step = max(1, step)
    up, down = shop.up(size), shop.down(size)
    assert down <= size <= up
    assert up % step == down % step == 0
    assert max(up - size, size - down) < step
