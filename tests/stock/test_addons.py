"""Add-on and loss: two meanings of one percentage."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from stock.addons import RULES, loss_of, with_add_on, with_loss

PERCENTS = st.fractions(0, 99, max_denominator=8)


def test_thirty_percent_lost_is_not_thirty_percent_added():
    # a trade page's example: 100 net and 30 % loss, printed 142.85; 130 with an add-on
    assert float(with_loss(Fraction(100), Fraction(30))) == pytest.approx(142.857, abs=1e-3)
    assert with_add_on(Fraction(100), Fraction(30)) == 130


def test_half_as_much_again_allows_for_a_third():
    # a seller's advice puts it so: order 50 % more, a third is lost
    assert float(loss_of(Fraction(50))) == pytest.approx(33.33, abs=1e-2)


@given(st.fractions(1, 500, max_denominator=16), PERCENTS)
def test_an_add_on_buys_what_its_loss_asks_for(net, percent):
    assert with_loss(net, loss_of(percent)) == with_add_on(net, percent)


def test_everything_lost_has_no_answer():
    with pytest.raises(ValueError, match="less than 100"):
        with_loss(Fraction(10), Fraction(100))


def test_the_rules_go_from_little_to_much():
    assert [rule.percent for rule in RULES] == sorted(rule.percent for rule in RULES)
