"""The search in compiled loops: the same plans as in plain Python, the same every time."""

import os
import random
import subprocess
import sys
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction
from pathlib import Path

import pytest

from nesting import compiled
from nesting.annealing import allow, extend, gap_from
from nesting.build import build_once, cheapness
from nesting.columns import kernels_for, relax, rows_for
from nesting.cuttings import Cut, choice_of, cutting_of, everything
from nesting.packed import LEFT, VALUES, packed, packed_cutting, unpacked_cutting
from nesting.patterns import Band, Strip
from nesting.problem import problem_for
from nesting.solve import SolveParams, area_values, solve
from nesting.swift import SwiftSearch, search_for
from nesting.verify import verify
from stock.boards import Mark
from tests.benchmark.engine import problem_of
from tests.benchmark.generated import Size, project_of

ROOT = Path(__file__).parents[2]
FEW = Size(parts=8, panels=2, boards=8, most=3)
SEEDS = pytest.mark.parametrize("seed", range(4))


def built(seed, *, marks):
    """A problem, and a plan of it built without a search."""
    problem = problem_for(project_of(FEW, seed, marks=marks))
    lure = cheapness(problem)
    choice = build_once(problem, area_values(problem), random.Random(seed), lure)
    return problem, lure, choice


def bare(cut):
    return replace(cut, credit=0.0)


def walked(seed, steps, *, marks):
    """What a search of so many steps comes to, in hundredths of a cent."""
    problem, lure, choice = built(seed, marks=marks)
    search = SwiftSearch(problem, area_values(problem), seed, lure, choice, steady=True)
    search.batch = steps
    search.run(0.002)
    return search


@SEEDS
@pytest.mark.parametrize("marks", [False, True])
def test_cuttings_come_back_from_flat_numbers_as_they_were(seed, marks):
    problem, lure, choice = built(seed, marks=marks)
    flat = packed(problem, lure)
    assert choice.cuttings
    for cutting in choice.cuttings:
        code = packed_cutting(problem, flat, cutting)
        again = unpacked_cutting(problem, flat, cutting.bin, code)
        assert again.cost == pytest.approx(cutting.cost, abs=1)
        worth = [cut.credit for cut in cutting.cuts]
        assert [cut.credit for cut in again.cuts] == pytest.approx(worth, abs=1e-3)
        assert [bare(cut) for cut in again.cuts] == [bare(cut) for cut in cutting.cuts]


@SEEDS
@pytest.mark.parametrize("marks", [False, True])
def test_a_search_counts_its_plan_as_the_plan_is_counted(seed, marks):
    search = walked(seed, 60, marks=marks)
    left = everything(search.problem)
    for cutting in search.best.cuttings:
        for cut in cutting.cuts:
            left.use(search.problem, search.problem.bins[cutting.bin], cut)
    again = choice_of(search.problem, search.best.cuttings, left)
    assert again.is_complete
    assert again.cost == search.best.cost
    for walker in search.walkers:
        assert walker.best * 100 == pytest.approx(search.best.cost, abs=5)


def test_the_search_makes_a_built_plan_better():
    gained = [built(s, marks=False)[2].cost - walked(s, 400, marks=False).best.cost
              for s in range(4)]  # fmt: skip
    assert min(gained) >= 0
    assert max(gained) > 0


@pytest.mark.skipif(not compiled.IS_COMPILED, reason="the compiler is not installed")
def test_machine_code_and_plain_python_walk_the_same_way():
    line = (
        "from tests.nesting.test_swift import walked;"
        "print([walked(s, 25, marks=m).best.cost for s in (1, 2) for m in (False, True)])"
    )
    plain = subprocess.run(
        [sys.executable, "-c", line], cwd=ROOT, check=True, capture_output=True, text=True,
        env={**os.environ, "NUMBA_DISABLE_JIT": "1"},
    )  # fmt: skip
    ours = [walked(s, 25, marks=m).best.cost for s in (1, 2) for m in (False, True)]
    assert plain.stdout.split("\n")[0] == str(ours)


def test_without_the_compiler_the_search_is_the_plain_one(monkeypatch):
    monkeypatch.setattr("nesting.swift.IS_COMPILED", False)
    problem, lure, choice = built(1, marks=False)
    search = search_for(problem, area_values(problem), random.Random(1), lure, choice)
    before = search.best.cost
    for _ in range(30):
        search.run(0.002)
    assert search.done == 30
    assert search.best.cost <= before


@pytest.mark.parametrize("kind", ["compiled", "plain"])
def test_drawing_together_counts_the_boards_of_each_panel(kind, monkeypatch):
    monkeypatch.setattr("nesting.swift.IS_COMPILED", kind == "compiled")
    for seed in range(3):
        problem, lure, choice = built(seed, marks=False)
        apart = 0.05 * choice.cost / 100
        search = search_for(
            problem, area_values(problem), random.Random(seed), lure, choice, steady=True
        )
        search.draw_together(apart)
        for _ in range(3 if kind == "compiled" else 60):
            search.run(0.002)
        assert search.best.rated(apart) < choice.rated(apart)
        for walker in getattr(search, "walkers", ()):
            assert walker.best == pytest.approx(search.best.rated(apart), abs=0.05)


def boards_of_panels(plan):
    return sum(len({stave.board for stave in panel.staves}) for panel in plan.panels)


def test_panels_from_fewer_boards_cost_no_more_than_the_shop_allows():
    spreads = {0: 0, 3: 0}
    for seed in range(4):
        for premium in spreads:
            project = project_of(FEW, seed, marks=False)
            shop = replace(project.shop, panel_premium=Fraction(premium))
            seen = []
            plan = solve(
                replace(project, shop=shop), SolveParams(steps=6000, gap=0.0),
                on_progress=lambda one, seen=seen: seen.append(one.cost),
            )  # fmt: skip
            cheapest = min(cost for cost in seen if cost is not None)
            assert plan.totals.cost <= cheapest * (100 + premium) / 100 + Decimal("0.05")
            spreads[premium] += boards_of_panels(plan)
    assert spreads[3] < spreads[0]


@pytest.mark.parametrize("marks", [False, True])
def test_the_same_steps_give_the_same_plan(marks):
    project = project_of(FEW, 3, marks=marks)
    params = SolveParams(steps=4000, seed=2)
    first, second = solve(project, params), solve(project, params)
    assert not verify(project, first)
    assert first.boards == second.boards
    assert first.totals.cost == second.totals.cost
    assert first.totals.bound == second.totals.bound


def test_a_set_of_bins_is_never_left():
    problem, lure, choice = built(2, marks=False)
    rows = rows_for(problem)
    values = relax(problem, kernels_for(problem), rows, stop=lambda: False).values
    search = SwiftSearch(problem, values, 1, lure, choice, steady=True)
    bins = frozenset(cutting.bin for cutting in choice.cuttings[:-1])
    search.begin(choice.cuttings, bins)
    for _ in range(3):
        search.run(0.01)
        assert {cutting.bin for cutting in search.cuttings} <= bins


def test_a_strip_is_cut_to_pieces_before_and_behind_a_mark():
    # A board of 40 by 6 gives a strip of 40 by 3 and, beyond a kerf of 1, one of 2: with a
    # knot in it from 18 to 21 it holds two pieces of 18, one up to 18, one from 21 to 39.
    problem = problem_of([(40, 6, 100)], [(40, 3, 1), (18, 2, 2)], 1)
    knot = Mark(kind="knot", start=18, end=21, low=4, high=6)
    problem = replace(problem, bins=(replace(problem.bins[0], marks=(knot,)),))
    left = everything(problem)
    search = SwiftSearch(
        problem, area_values(problem), 1, cheapness(problem), choice_of(problem, [], left)
    )
    search.batch = 100
    search.run(0.0)
    assert search.best.is_complete
    (cutting,) = search.best.cuttings
    assert (0, 21) in [band.starts for band in cutting.bands]
    flat = packed(problem, cheapness(problem))
    code = packed_cutting(problem, flat, cutting)
    assert unpacked_cutting(problem, flat, 0, code).bands == cutting.bands


def test_a_strip_beside_a_mark_keeps_its_width_though_no_waste_is_in_its_row():
    # The band reaches up to the edge, over the knot: were its strip widened, the stave
    # would hold the knot.
    problem = problem_of([(40, 6, 100)], [(40, 3, 1)], 1)
    knot = Mark(kind="knot", start=18, end=21, low=4, high=6)
    problem = replace(problem, bins=(replace(problem.bins[0], marks=(knot,)),))
    strip = Strip(3, ((0, 0, False),))
    band = Band(0, 0, 40, 6, (strip,), (0,))
    cutting = cutting_of(problem, 0, [Cut(0, 40, (band,), (0,), (), 0.0)])
    flat = packed(problem, cheapness(problem))
    code = packed_cutting(problem, flat, cutting)
    assert unpacked_cutting(problem, flat, 0, code).bands == (band,)


def test_wood_between_the_sections_of_a_marked_board_is_cut_again():
    # Sections from 0 to 9 and from 20 to 29 are there; 10 to 19 is free, and 30 to 40.
    problem = problem_of([(40, 6, 100)], [(9, 6, 4)], 1)
    stain = Mark(kind="stain", start=39, end=40, low=0, high=1)
    problem = replace(problem, bins=(replace(problem.bins[0], marks=(stain,)),))
    left = everything(problem)
    search = SwiftSearch(
        problem, area_values(problem), 1, cheapness(problem), choice_of(problem, [], left)
    )
    strips = (Strip(6, ((0, 0, False),)),)
    cuts = [Cut(x, 9, (Band(x, 0, 9, 6, strips),), (0,), (), 0.0) for x in (0, 20)]
    search.begin([cutting_of(problem, 0, cuts)], None)
    walker = search.walkers[0]
    assert gap_from(*walker.args, 0, 0) == (10, 19)
    assert gap_from(*walker.args, 0, 11) == (11, 19)
    assert gap_from(*walker.args, 0, 19) == (30, 40)
    allow(*walker.args, 0, walker.places[LEFT], 0)
    extend(*walker.args, walker.places[VALUES], 0, walker.places[LEFT])
    assert walker.is_whole
    assert [cut.x for cut in walker.cuttings()[0].cuts] == [0, 10, 20, 30]
