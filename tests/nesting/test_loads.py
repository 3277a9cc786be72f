"""Loads: nothing lost, none too heavy, and as few as there can be."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nesting.loads import _first_fit, least_loads, loads_for


def fewest(weights: list[int], most: int) -> int:
    """The fewest loads, by trying each thing in every load there is and in a new one."""
    best = len(weights)

    def go(at: int, loads: list[int]) -> None:
        nonlocal best
        if len(loads) >= best and at < len(weights):
            return
        if at == len(weights):
            best = min(best, len(loads))
            return
        for n, load in enumerate(loads):
            if load + weights[at] <= most:
                loads[n] += weights[at]
                go(at + 1, loads)
                loads[n] = load
        go(at + 1, [*loads, weights[at]])

    go(0, [])
    return best


cases = st.integers(1, 60).flatmap(
    lambda most: st.tuples(st.lists(st.integers(0, most), max_size=30), st.just(most))
)
small = st.integers(1, 30).flatmap(
    lambda most: st.tuples(st.lists(st.integers(0, most), max_size=8), st.just(most))
)


@settings(deadline=None)
@given(cases)
def test_everything_goes_into_one_load_and_no_load_is_too_heavy(case):
    weights, most = case
    found = loads_for(weights, most)
    places = sorted(at for load in found.loads for at in load)
    assert places == list(range(len(weights)))
    assert all(load for load in found.loads)
    assert all(sum(weights[at] for at in load) <= most for load in found.loads)
    assert len(found.loads) >= found.least >= math.ceil(sum(weights) / most)


@settings(deadline=None)
@given(small)
def test_there_are_as_few_loads_as_a_search_through_all_ways_finds(case):
    weights, most = case
    found = loads_for(weights, most)
    assert len(found.loads) == found.least == fewest(weights, most)
    assert least_loads(weights, most) <= found.least


def test_first_fit_is_bettered_where_it_wastes_a_load():
    # Loads of 12 take 6+4+2, 5+4+3 and 5+4+3, which is all 36. The heaviest first make
    # 6+5, 5+4+3 and 4+4+3, and a fourth load for the 2.
    weights = [6, 5, 5, 4, 4, 4, 3, 3, 2]
    found = loads_for(weights, 12)
    assert len(_first_fit(weights, 12)) == 4
    assert (len(found.loads), found.least) == (3, 3)


def test_halves_that_do_not_pair_take_a_load_each():
    # three things above half a load: three loads, though 33 / 20 rounds up to two
    assert least_loads([11, 11, 11], 20) == 3


def test_nothing_takes_no_load():
    assert loads_for([], 10).loads == ()


@pytest.mark.parametrize("weight", [11, -1])
def test_what_no_load_takes_is_refused(weight):
    with pytest.raises(ValueError, match="between 0 and 10"):
        loads_for([3, weight], 10)
