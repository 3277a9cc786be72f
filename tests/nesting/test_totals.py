"""The bound that a plan states: never above its cost, and no wrong one passed over."""

from decimal import Decimal

import pytest

from nesting.totals import totals_for
from tests.samples import bench_plan, bench_project

COST = Decimal("105.70")  # the arithmetic stands at `bench_plan`


def under(bound: str):
    plan = bench_plan()
    proven = (Decimal(bound), "by hand")
    return totals_for(bench_project(), plan.boards, plan.sheets, proven, 0.0)


def test_a_bound_above_the_cost_is_an_error_that_names_both():
    with pytest.raises(AssertionError, match=r"bound 105\.72 is above the cost 105\.70"):
        under("105.72")


def test_a_cent_between_two_rounded_figures_is_let_go():
    totals = under("105.71")
    assert (totals.cost, totals.bound, totals.gap) == (COST, COST, 0.0)


@pytest.mark.parametrize("bound", ["105.70", "88.00"])
def test_a_bound_up_to_the_cost_is_stated_as_it_is(bound):
    totals = under(bound)
    assert totals.bound == Decimal(bound)
    assert totals.gap == pytest.approx(float((COST - totals.bound) / totals.bound))


def test_a_bound_that_proves_nothing_leaves_no_gap():
    totals = under("-3.00")
    assert (totals.bound, totals.gap) == (0, None)
