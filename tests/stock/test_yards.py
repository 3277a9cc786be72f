"""What boards cost: every sum is worked out beside the number; yards are invented."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from stock.boards import Board, Thickness
from stock.measures import BOARD_FEET_PER_M3, Unit
from stock.shop import default_shop
from stock.yards import Price, Yard, tariff_for

INCH = default_shop(Unit.INCH)
NORTH = Yard(
    name="North", trip_cost=Fraction(25), smallest_order=Fraction(100), tax=Fraction(10)
)
FOUR = Thickness(Fraction(1), "4/4")


def six_feet(**changes):
    """A board of 1 x 9 x 96 in: 6 board feet."""
    values = {"name": "B", "where": "North", "species": "cherry", "thickness": FOUR}
    size = {"length": 96 * 64, "width": 9 * 64, "width2": 9 * 64}
    return Board(**{**values, **size, **changes})


def line(price, **changes):
    return Price(
        **{
            "yard": "North",
            "species": "cherry",
            "thickness": FOUR,
            "price": Fraction(price),
            **changes,
        }
    )


def tariff(boards=(), yards=(NORTH,), prices=(), shop=INCH):
    return tariff_for(shop, boards, yards, prices)


def test_a_board_s_own_price_comes_before_the_price_list():
    ours = tariff(prices=[line(8)])
    assert ours.rate(six_feet(price=Fraction(12))) == 12
    assert ours.rate(six_feet()) == 8


def test_the_line_that_says_most_about_a_board_prices_it():
    prices = [line(8), line(9, sawing="quarter"), line(10, grade="FAS")]
    ours = tariff(prices=prices)
    assert ours.rate(six_feet()) == 8
    assert ours.rate(six_feet(sawing="quarter")) == 9
    assert ours.rate(six_feet(sawing="quarter", grade="FAS")) == 10


def test_a_board_nobody_prices_has_no_rate():
    ours = tariff(prices=[line(8, species="walnut")])
    assert ours.rate(six_feet()) is None


def test_a_bought_board_costs_wood_charges_and_tax():
    yard = replace(
        NORTH, surfacing_charge=Fraction(1, 2), straight_edge_charge=Fraction(1, 4)
    )
    ours = tariff(yards=[yard], prices=[line(10)])
    assert ours.pay(six_feet()) == 6600  # 6 * 10 * 1.10
    # S4S of 1 in is sold as 5/4, 7.5 feet: 7.5 * (10 + 0.5 + 2 * 0.25) * 1.10 = 90.75
    assert ours.pay(six_feet(surfaced="S4S", price=Fraction(10))) == 9075
    assert (
        ours.pay(six_feet(surfaced="S2S", price=Fraction(10))) == 8663
    )  # 7.5 * 10.5 * 1.1


def test_an_owned_board_is_charged_its_share_of_the_market():
    bought = [
        six_feet(name="X", price=Fraction(10)),
        six_feet(name="Y", price=Fraction(14)),
    ]
    ours = tariff(boards=bought)
    owned = six_feet(where="rack")
    assert ours.pay(owned) == 0
    assert ours.cost(owned) == 2160  # mean price 12, 30 % of it, 6 feet


def test_a_smallest_order_is_topped_up_with_its_tax():
    ours = tariff(prices=[line(10)])
    # one board is 60 of 100: 40 missing, with 10 % tax 44
    assert ours.top_up("North", [six_feet()]) == 4400
    assert ours.top_up("North", [six_feet(), six_feet()]) == 0
    assert ours.trip("North") == 2500


def test_a_kept_offcut_is_worth_half_of_its_wood():
    ours = tariff(prices=[line(10)])
    # 12 x 12 in of 4/4 is one board foot: 10 * 50 %
    assert ours.credit(six_feet(), (12 * 64) ** 2) == 500


def test_without_prices_every_board_foot_counts_alike():
    ours = tariff()
    assert ours.by_feet
    assert ours.cost(six_feet()) == 600
    assert ours.cost(six_feet(where="rack")) == 600
    assert (ours.trip("North"), ours.top_up("North", [])) == (0, 0)


def test_the_aim_board_feet_overrides_prices():
    shop = replace(INCH, aim="board feet")
    assert tariff(prices=[line(10)], shop=shop).cost(six_feet()) == 600


def test_a_metric_price_is_per_cubic_metre():
    shop = default_shop(Unit.MM)
    thickness = Thickness(Fraction(27))
    board = six_feet(thickness=thickness, length=24000, width=1800, width2=1800)
    ours = tariff(prices=[line(2000, thickness=thickness)], shop=shop)
    assert ours.rate(board) == 2000 / BOARD_FEET_PER_M3
    assert ours.pay(board) == 2566  # 0.011664 m3 * 2000 * 1.10 = 25.6608


@given(
    st.fractions(0, 100, max_denominator=100), st.integers(1, 1200), st.integers(1, 1200)
)
def test_credit_never_exceeds_the_worth_of_the_wood(price, length, width):
    board = six_feet(price=price, length=length, width=width, width2=width)
    ours = tariff(boards=[board])
    assert ours.credit(board, length * width) <= max(ours.cost(board), 0) + 1


def test_a_yard_nobody_knows_is_an_error_not_a_free_board():
    with pytest.raises(KeyError):
        tariff(yards=[], prices=[line(10)]).pay(six_feet())
