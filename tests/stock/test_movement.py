"""How wood moves: printed examples, the handbook's formulas, and what must always hold.

Sources: HFM, a flooring magazine's worked example; PR-ALD, a reprinted magazine chart; FA,
a flooring page; WH, the Wood Handbook's tables 4-3 and 13-5 as transcribed.
"""

from __future__ import annotations

import math

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from stock.movement import (
    COEFFICIENT,
    SHRINKAGE,
    change,
    coefficient_from,
    general_change,
    held_moisture,
    length_change,
    mean_coefficient,
    rate_at,
    rate_for,
    rule_for,
    saturation_of,
    thickness_rate_for,
)
from stock.species import Species, all_species, species_named

moistures = st.floats(min_value=0, max_value=22)
woods = st.sampled_from(all_species())
sawings = st.sampled_from(("plain", "rift", "quarter", None))


def wood(name: str) -> Species:
    species = species_named(name)
    assert species is not None
    return species


def coefficient(name: str, sawing: str | None) -> float:
    rate = rate_for(wood(name), sawing)
    assert rate is not None
    return rate.coefficient


@pytest.mark.parametrize(
    ("size", "coefficient", "before", "after", "moved", "off"),
    [
        (5, 0.00369, 6, 9, 0.05535, 5e-4),  # WP-01, HFM: red oak, prints .055
        (8, 0.0026, 7, 13, 0.1248, 1e-6),  # WP-02, PR-ALD: alder, 6 points
        (5, 0.00129, 8, 11, 0.01935, 5e-4),  # WP-03, FA: mesquite, 3 points, prints .019
        (232, 0.00245, 8, 11, 1.7052, 1e-4),  # WP-04: white fir, handbook, from memory
        (36, 0.00369, 6, 11, 0.6642, 1e-9),  # a red oak top: 36 x .00369 x 5
        (900, 0.00248, 7, 10, 6.696, 1e-9),  # cherry, mm: 900 x .00248 x 3
    ],
)
def test_the_coefficient_gives_the_worked_examples(
    size, coefficient, before, after, moved, off
):
    assert change(size, coefficient, before, after) == pytest.approx(moved, abs=off)


@pytest.mark.parametrize(
    ("name", "sawing", "size", "before", "after", "moved"),
    [
        ("red oak", "plain", 5, 6, 9, 0.05535),  # WP-01 with the table's coefficient
        ("red alder", "plain", 8, 7, 13, 0.12288),  # WP-02 with WH's .00256: 8 x .00256 x 6
        ("white fir", "plain", 232, 8, 11, 1.7052),  # WP-04, coefficient from memory
    ],
)
def test_the_table_gives_the_worked_examples(name, sawing, size, before, after, moved):
    found = change(size, coefficient(name, sawing), before, after)
    assert found == pytest.approx(moved, abs=1e-4)


def test_the_general_formula_gives_the_worked_example():
    # WP-05: white fir, S 7.0, 232 mm from 8 to 11 %; 232 x 3 / (3000 / 7 - 30 + 8),
    # formula and example from memory of the handbook
    assert general_change(232, 7.0, 8, 11) == pytest.approx(1.71188, abs=1e-4)


@pytest.mark.parametrize(
    ("shrinkage", "printed"),
    [(7.1, 0.00248), (5.5, 0.00190), (11.9, 0.00431)],
)
def test_a_coefficient_follows_from_shrinkage(shrinkage, printed):
    # WP-06, WH: cherry tangential, walnut radial, beech tangential; both ends printed
    assert coefficient_from(shrinkage) == pytest.approx(printed, abs=1.5e-5)


def test_drying_shrinks():
    # WP-07: 10 to 6 %
    assert change(10, coefficient("cherry", "plain"), 10, 6) < 0
    assert general_change(10, 7.1, 10, 6) < 0


@pytest.mark.parametrize(("degrees", "between"), [(45, 0.002635), (30, 0.0031625)])
def test_rings_at_an_angle_move_between_both_ways(degrees, between):
    # WP-08: red oak .00158 and .00369, by rotation of the strain
    rate = rate_at(wood("red oak"), math.cos(math.radians(degrees)) ** 2)
    assert rate is not None
    assert rate.coefficient == pytest.approx(between, abs=1e-6)


def test_a_sawing_names_its_coefficient():
    # WH, table 13-5: red oak .00158 radial, .00369 tangential; rift is the mean of both
    assert coefficient("red oak", "quarter") == 0.00158
    assert coefficient("red oak", "plain") == 0.00369
    assert coefficient("red oak", "rift") == pytest.approx(0.002635)


@given(woods)
def test_a_sawing_that_is_not_known_counts_as_the_one_that_moves_most(species):
    known = [rate_for(species, sawing) for sawing in ("plain", "rift", "quarter")]
    unknown = rate_for(species, None)
    assert unknown is not None
    assert unknown.coefficient == max(rate.coefficient for rate in known if rate)


@given(woods)
def test_the_thickness_moves_across_the_width(species):
    assert thickness_rate_for(species, "plain") == rate_for(species, "quarter")
    assert thickness_rate_for(species, "quarter") == rate_for(species, "plain")
    assert thickness_rate_for(species, "rift") == rate_for(species, "rift")
    assert thickness_rate_for(species, None) == rate_for(species, None)


def test_a_gap_of_the_table_is_filled_from_shrinkage_and_said():
    # African mahogany has no coefficient; tangential shrinkage 4.5 %:
    # 1 / (100 x 30 / 4.5 - 30 + 10) = 1 / 646.67
    rate = rate_for(wood("African mahogany"), "plain")
    assert rate is not None
    assert rate.coefficient == pytest.approx(1 / (3000 / 4.5 - 20))
    assert not rate.is_printed
    cherry = rate_for(wood("cherry"), "plain")
    assert cherry is not None
    assert cherry.is_printed


@pytest.mark.parametrize(
    ("name", "sawing", "is_verified"),
    [
        ("cherry", "plain", True),
        ("walnut", "plain", True),  # only its specific gravity is from memory
        ("tulipwood", "plain", False),  # both coefficients from memory
        ("douglas fir", "plain", True),  # only the radial one is from memory
        ("douglas fir", "quarter", False),
        ("douglas fir", "rift", False),
        ("European oak", "plain", False),  # all of it from memory
    ],
)
def test_a_figure_from_memory_is_told_from_a_printed_one(name, sawing, is_verified):
    rate = rate_for(wood(name), sawing)
    assert rate is not None
    assert rate.is_verified is is_verified


def test_the_rule_that_was_used_is_told():
    assert rule_for(6, 14) == rule_for(14, 6) == COEFFICIENT
    assert rule_for(5.9, 12) == rule_for(12, 14.1) == SHRINKAGE


def test_moisture_beyond_fibre_saturation_moves_nothing():
    # 22 % for western redcedar, 30 % for oak: handbook, from memory
    assert held_moisture(wood("western red cedar"), 28) == 22
    assert held_moisture(wood("white oak"), 28) == 28
    assert held_moisture(wood("white oak"), 45) == saturation_of(wood("white oak")) == 30


def test_length_hardly_moves():
    # 0.2 % green to oven-dry at most (AWC): 60 in x .002 x 5 / 30
    assert length_change(60, 7, 12) == pytest.approx(0.02)


def test_staves_count_by_their_width():
    # 4 in of quarter-sawn and 12 in of plain-sawn red oak: (4 x .00158 + 12 x .00369) / 16
    assert mean_coefficient([(4, 0.00158), (12, 0.00369)]) == pytest.approx(0.0031625)


@given(woods, sawings, moistures, moistures)
def test_beyond_its_range_a_coefficient_stands_for_the_general_formula(
    species, sawing, before, after
):
    # the coefficient C belongs to the shrinkage S with 1 / C = 100 F / S - F + 10
    rate = rate_for(species, sawing)
    assert rate is not None
    assume(rule_for(before, after) == SHRINKAGE)
    shrinkage = 3000 / (1 / rate.coefficient + 20)
    assert change(10, rate.coefficient, before, after) == pytest.approx(
        general_change(10, shrinkage, before, after), rel=1e-9, abs=1e-12
    )


@given(woods, sawings, moistures, moistures)
def test_wood_swells_when_it_gets_damper_and_not_at_all_when_nothing_changes(
    species, sawing, one, other
):
    rate = rate_for(species, sawing)
    assert rate is not None
    low, high = sorted((one, other))
    assert change(10, rate.coefficient, low, low) == 0
    assert change(10, rate.coefficient, low, high) >= 0
    assert change(10, rate.coefficient, high, low) <= 0


@given(woods, sawings, moistures, moistures)
def test_what_swells_shrinks_back(species, sawing, one, other):
    # by the general formula exactly; by the coefficient, which is taken of the width at
    # hand, to the square of the change: 8 points x .0044 = 3.5 %, of that 3.5 %
    rate = rate_for(species, sawing)
    assert rate is not None
    wide = 10 + change(10, rate.coefficient, one, other)
    back = wide + change(wide, rate.coefficient, other, one)
    share = rate.coefficient * abs(other - one)
    off = 10 * share**2 if rule_for(one, other) == COEFFICIENT else 0
    assert back == pytest.approx(10, abs=off + 1e-9)
    equal = change(10, rate.coefficient, one, other) + change(
        10, rate.coefficient, other, one
    )
    if rule_for(one, other) == COEFFICIENT:
        assert equal == pytest.approx(0, abs=1e-12)


@given(woods, sawings, st.floats(min_value=0.1, max_value=100))
def test_a_wider_board_moves_by_so_much_more(species, sawing, width):
    rate = rate_for(species, sawing)
    assert rate is not None
    assert change(width, rate.coefficient, 7, 12) == pytest.approx(
        width * change(1, rate.coefficient, 7, 12)
    )
