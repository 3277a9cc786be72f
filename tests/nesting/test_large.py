"""Hundreds of boards: bounds that hold, dives that make what is wanted and no more."""

import random
from dataclasses import replace
from itertools import count

import numpy as np
import pytest

from nesting import solve as recipe
from nesting.bounded import Cutter
from nesting.bulk import area_duals, generator_for, relax_large
from nesting.columns import kernels_for, lagrangian, price, relax, rows_for
from nesting.dive import clipped
from nesting.large import LargeSearch, Watch, is_large
from nesting.problem import problem_for
from nesting.share import loosened, shared, units_of
from nesting.solve import SolveParams, solve
from tests.benchmark.generated import Size, project_of

MIDDLE = Size(parts=60, panels=10, boards=40, most=6)


@pytest.fixture(scope="module")
def problem():
    return problem_for(project_of(MIDDLE, 3, marks=False))


@pytest.fixture(scope="module")
def kernels(problem):
    return kernels_for(problem)


@pytest.fixture(scope="module")
def rows(problem):
    return rows_for(problem)


@pytest.fixture(scope="module")
def usual(problem, kernels, rows):
    return relax(problem, kernels, rows, stop=lambda: False)


def fits(problem, one, sections):
    """Whether sections fit a board, their strips them, and their pieces the strips."""
    kerf, items = problem.kerf, problem.items
    along = sum(section.length + kerf for section in sections) <= one.length + kerf
    across = all(
        sum(strip.width + kerf for strip in section.strips) <= one.width + kerf
        and sum(items[i].sizes[s][0] + kerf for i, s, _ in strip.pieces)
        <= section.length + kerf
        and all(
            items[i].low <= strip.width <= items[i].high
            if items[i].is_panel
            else items[i].sizes[s][1] <= strip.width
            for i, s, _ in strip.pieces
        )
        for section in sections
        for strip in section.strips
    )
    return along and across


def search(problem, kernels, *, steps):
    """A search that is stopped after asking so many times whether to go on."""
    found, bounds, asked = [], [], count()
    watch = Watch(
        keep=lambda choice, _: found.append(choice), prove=bounds.append,
        late=lambda _: next(asked) > steps, is_close=lambda: False,
        spend=lambda _: None, is_steady=True,
    )  # fmt: skip
    LargeSearch(problem, kernels, random.Random(1), watch).run()
    return found, bounds


def test_both_ways_of_column_generation_come_to_the_same_bound(
    problem, kernels, rows, usual
):
    other = relax_large(problem, kernels, rows, lambda: False)
    assert other.feasible
    assert other.bound == pytest.approx(usual.bound, rel=0.003)
    assert other.bound <= usual.lp_cost + 1e-6


def test_area_values_prove_a_first_bound(problem, kernels, rows, usual):
    first = generator_for(problem, kernels, rows).result
    duals, worths = first.history[0]
    assert first.bound == pytest.approx(lagrangian(problem, rows, duals, worths))
    assert 0.8 * usual.lp_cost < first.bound <= usual.lp_cost


def test_clipping_never_makes_more_than_is_wanted(problem, kernels, rows):
    duals = area_duals(problem, rows)
    columns, _ = price(
        problem, kernels, rows, 3 * duals, np.zeros(len(problem.bins)), exact=False
    )
    left = np.minimum(rows.demand, 1.0)
    for item in problem.items:
        if item.is_panel:
            left[rows.first[item.index]] = item.need
    assert any((column.adds > left).any() for column in columns)
    solid = [rows.first[item.index] for item in problem.items if not item.is_panel]
    for column in columns:
        within = clipped(problem, rows, column, left)
        assert within is None or (within.adds[solid] <= left[solid]).all()
        if within is not None:
            assert fits(problem, problem.bins[column.bin], within.sections)


def test_cutting_within_the_demand_makes_no_more_than_that(problem, kernels, rows):
    duals = area_duals(problem, rows)
    values = rows.values(problem, duals)
    left = np.minimum(rows.demand, 2.0)
    solid = [rows.first[item.index] for item in problem.items if not item.is_panel]
    for kernel in kernels:
        cutter = Cutter(kernel.solve(values, exact=False), rows, values, left)
        for row, one in enumerate(kernel.bins):
            sections = cutter.pattern(row)
            assert sections
            assert fits(problem, one, sections)
            assert (rows.coefficients(problem, sections)[solid] <= left[solid]).all()


def test_a_search_that_is_stopped_at_once_still_makes_everything(problem, kernels):
    found, bounds = search(problem, kernels, steps=0)
    assert found[-1].is_complete
    assert found[-1].cost / 100 >= max(bounds)


def test_the_same_seed_and_steps_make_the_same_plan(problem, kernels):
    first, second = (search(problem, kernels, steps=12)[0] for _ in range(2))
    assert first[-1] == second[-1]


def test_a_plan_of_a_dive_is_complete_and_not_below_the_bound(monkeypatch):
    monkeypatch.setattr(recipe, "is_large", lambda _: True)
    plan = solve(project_of(MIDDLE, 4, marks=False), SolveParams(seconds=2.0))
    assert plan.status == "complete"
    assert 0 < plan.totals.bound <= plan.totals.cost


def test_boards_with_marks_are_cut_after_the_others(monkeypatch):
    monkeypatch.setattr(recipe, "is_large", lambda _: True)
    plan = solve(project_of(MIDDLE, 4, marks=True), SolveParams(seconds=2.0))
    assert plan.status == "complete"


def test_only_projects_of_many_boards_are_large():
    assert not is_large(problem_for(project_of(MIDDLE, 1, marks=False)))
    many = Size(parts=500, panels=60, boards=160, most=16)
    assert is_large(problem_for(project_of(many, 1, marks=False)))


def panel(problem, **changes):
    found = next(item for item in problem.items if item.is_panel)
    return replace(found, low=60, high=130, joint=10, **changes)


def test_staves_that_meet_a_panel_close_it(problem):
    item = panel(problem, units=2, sizes=((1000, 300),))
    units = units_of(item, [120, 100, 100, 120, 80, 80], random.Random(1))
    widths = [
        sum(net for net, unit in zip((120, 100, 100, 120, 80, 80), units, strict=True)
            if unit == one)
        for one in (0, 1)
    ]  # fmt: skip
    assert widths == [300, 300]


def test_a_panel_that_lacks_less_than_a_stave_gives_one_up(problem):
    item = panel(problem, units=2, sizes=((1000, 300),))
    # 120 + 120 + 40 lack 20, the narrowest stave adds 50; a wide one leaves least to do
    assert loosened(item, [120, 120, 40], [0, 0, 0]) == [1, 0, 0]


def test_shared_staves_keep_to_their_sections(problem, kernels, rows):
    duals = area_duals(problem, rows)
    columns, _ = price(
        problem, kernels, rows, 3 * duals, np.zeros(len(problem.bins)), exact=False
    )
    left, patterns = rows.demand.copy(), {}
    for column in columns:
        within = clipped(problem, rows, column, left)
        if within is not None:
            patterns[column.bin] = within.sections
            left = np.maximum(0.0, left - within.adds)
    cuttings, wanted = shared(problem, patterns, random.Random(1))
    assert all(pieces >= 0 for pieces in wanted.pieces.values())
    for cutting in cuttings:
        one = problem.bins[cutting.bin]
        for band in cutting.bands:
            used = sum(strip.width + problem.kerf for strip in band.strips)
            assert used <= one.narrow + problem.kerf
