"""No set is ruled out that can make everything, and no bound is above the cheapest plan."""

from dataclasses import replace
from functools import cache
from itertools import product
from math import inf

import pytest
from hypothesis import assume, example, given, settings
from hypothesis import strategies as st

from nesting import whole
from nesting.columns import kernels_for, relax, rows_for
from nesting.exclude import Terms, rule_out
from nesting.holding import Boards
from nesting.problem import Item, problem_for
from nesting.select import select, sets_below
from nesting.sets import lots_for
from nesting.whole import decide
from tests.benchmark.engine import problem_of
from tests.benchmark.generated import project_for

KERF = 2
LOW, HIGH, JOINT, LONG = 6, 14, 1, 20  # staves of the panels here


def never():
    return False


# --- what every way to cut comes to ----------------------------------------------------


def partitions(things):
    """Every way to put things into groups."""
    if not things:
        yield []
        return
    first, rest = things[0], things[1:]
    for groups in partitions(rest):
        yield [[first], *groups]
        for n, group in enumerate(groups):
            yield [*groups[:n], [first, *group], *groups[n + 1 :]]


def kept(problem, length, width):
    """Area that counts if a leftover is large enough."""
    large = length >= problem.keep_length and width >= problem.keep_width
    return length * width if large else 0


def ways_to_cut(problem, width, pieces):
    """Return {length: greatest kept area} over all sections of just these pieces."""
    found = {}
    for groups in partitions(pieces):
        lengths = [sum(n + KERF for n, _ in group) - KERF for group in groups]
        widths = [max(w for _, w in group) for group in groups]
        beside = width - sum(w + KERF for w in widths)
        if beside < -KERF:
            continue
        longest = max(lengths)
        area = kept(problem, longest, beside)
        for n, w in zip(lengths, widths, strict=True):
            area += kept(problem, longest - n - KERF, w)
        found[longest] = max(area, found.get(longest, 0))
    return found


def least_cost(problem, one, pieces):
    """Return the least cost of a board that gives these pieces; infinite if it can't."""
    least = inf
    for groups in partitions(pieces):
        laid = {0: 0}
        for group in groups:
            sections = ways_to_cut(problem, one.width, group)
            ways = [
                (x + length + KERF, area + more)
                for (x, area), (length, more) in product(laid.items(), sections.items())
            ]
            laid = {x: max(a for y, a in ways if y == x) for x, _ in ways}
        areas = [
            area + kept(problem, one.length - x, one.width)
            for x, area in laid.items()
            if x <= one.length + KERF
        ]
        least = min([least, *(one.cost - one.credit * area for area in areas)])
    return least


def optimum(problem, bins):
    """Return the least cost of making everything from some of the bins.

    Trips are in it, and what yards bill beyond their goods.
    """
    pieces = [item.sizes[0] for item in problem.items for _ in range(item.units)]

    @cache
    def cost(number, given_):
        own = [size for size, to in zip(pieces, given_, strict=True) if to]
        return least_cost(problem, bins[number], own)

    least = inf
    for choice in product(range(len(bins)), repeat=len(pieces)):
        used = sorted(set(choice))
        total = sum(cost(n, tuple(to == n for to in choice)) for n in used)
        yards = {bins[n].yard for n in used} - {None}
        for yard in yards:
            goods = sum(bins[n].goods for n in used if bins[n].yard == yard)
            smallest, rate = problem.orders[yard]
            total += problem.trips[yard] + max(0.0, smallest - goods) * rate
        least = min(least, total)
    return least


def ruled_out(problem, cost):
    """Return what ruling out sets proves, and the bound before."""
    kernels, rows = kernels_for(problem), rows_for(problem)
    relaxed = relax(problem, kernels, rows, stop=never)
    chosen = select(problem, kernels, relaxed, stop=never, seconds=2.0)
    terms = Terms(seconds=10.0, cost=lambda: cost, stop=never)
    lots = lots_for(problem, kernels, rows)
    return rule_out(problem, rows, lots, chosen, terms, lambda *_: None), chosen


SIZES = st.lists(st.tuples(st.integers(8, 40), st.integers(6, 16)), min_size=1, max_size=4)
BOARDS = st.lists(
    st.tuples(st.integers(20, 90), st.integers(10, 36), st.integers(5, 60)),
    min_size=1,
    max_size=3,
)


@settings(max_examples=25, deadline=None)
@given(sizes=SIZES, boards=BOARDS)
def test_a_set_that_is_ruled_out_cannot_make_everything(sizes, boards):
    problem = problem_of(boards, [(*size, 1) for size in sizes], KERF)
    verdict = decide(problem, rows_for(problem), problem.bins, 5.0, never)
    possible = optimum(problem, problem.bins) < inf
    assert not (verdict.cannot and possible)
    if verdict.pick is not None:
        assert possible


# 8 and 9 in one row keep 19 by 10 beside it: more than two of 8 in a row, worth as much
@example(sizes=[(8, 6), (9, 6)], boards=[(20, 18, 5)], share=0.5, trip=0, order=0, tax=0.0)
@settings(max_examples=25, deadline=None)
@given(
    sizes=SIZES,
    boards=BOARDS,
    share=st.sampled_from([0.0, 0.5, 1.0]),
    trip=st.integers(0, 40),
    order=st.integers(0, 120),
    tax=st.sampled_from([0.0, 0.06]),
)
def test_the_bound_is_not_above_the_cheapest_of_all_plans(
    sizes, boards, share, trip, order, tax
):
    problem = problem_of(boards, [(*size, 1) for size in sizes], KERF)
    bins = tuple(
        replace(
            one,
            yard="Hill yard" if one.index % 2 else None,
            goods=one.cost / (1 + tax) if one.index % 2 else 0.0,
            credit=share * one.cost / (one.length * one.width),
        )
        for one in problem.bins
    )
    problem = replace(
        problem, bins=bins, trips={"Hill yard": trip}, keep_length=10, keep_width=5,
        orders={"Hill yard": (float(order), 1 + tax)},
    )  # fmt: skip
    best = optimum(problem, bins)
    assume(best < inf)
    ruled, chosen = ruled_out(problem, best)
    assert ruled.bound <= best + 0.02
    assert ruled.bound >= chosen.bound


# --- boards that were put together from what is wanted of them -------------------------

STRIPS = st.one_of(
    st.tuples(st.just("solid"), st.lists(st.integers(8, 30), min_size=1, max_size=2),
              st.integers(6, 16)),
    st.tuples(st.sampled_from(["A", "B"]), st.just([LONG]), st.integers(LOW, HIGH)),
)  # fmt: skip
SECTIONS = st.lists(STRIPS, min_size=1, max_size=3)
CUT_BOARDS = st.lists(
    st.tuples(st.lists(SECTIONS, min_size=1, max_size=3), st.integers(0, 2)),
    min_size=1,
    max_size=3,
)


def put_together(boards):
    """Return the problem of making what boards of these sections hold."""
    sizes, solids, nets = [], {}, {}
    for sections, slack in boards:
        length = width = -KERF
        for strips in sections:
            spans = [sum(n + KERF for n in lengths) for _, lengths, _ in strips]
            length += max(spans)
            width = max(width, sum(w + KERF for _, _, w in strips) - KERF)
            for kind, lengths, w in strips:
                if kind == "solid":
                    for n in lengths:
                        solids[n, w] = solids.get((n, w), 0) + 1
                else:
                    nets[kind] = nets.get(kind, 0) + w - JOINT
        sizes.append((length + slack, width + slack, 10))
    problem = problem_of(sizes, [(*size, count) for size, count in solids.items()], KERF)
    panels = tuple(
        Item(
            index=len(solids) + n, part=kind, units=1, sizes=((LONG, net),),
            is_panel=True, low=LOW, high=HIGH, joint=JOINT,
        )
        for n, (kind, net) in enumerate(nets.items())
    )  # fmt: skip
    items = (*problem.items, *panels)
    wanted = frozenset(range(len(items)))
    bins = tuple(replace(one, wanted=wanted) for one in problem.bins)
    return replace(problem, items=items, bins=bins)


@settings(max_examples=25, deadline=None)
@given(boards=CUT_BOARDS)
def test_boards_put_together_from_what_is_wanted_are_not_ruled_out(boards):
    problem = put_together(boards)
    verdict = decide(problem, rows_for(problem), problem.bins, 3.0, never)
    assert not verdict.cannot


@pytest.mark.parametrize("stage", ["sections", "patterns"])
def test_two_boards_that_hold_the_area_but_not_the_pieces(monkeypatch, stage):
    # 2 x 100 steps of length hold 4 x 45 = 180 in fractions, 2 each; a fifth piece of 15
    # lies nowhere: 45 + 45 + 15 = 105, though 195 of 200 are used
    if stage == "sections":
        monkeypatch.setattr("nesting.counted.MOST_KINDS", 0)
    problem = problem_of([(100, 10, 5)] * 2, [(45, 10, 4), (15, 10, 1)])
    assert decide(problem, rows_for(problem), problem.bins, 5.0, never).cannot
    problem = problem_of([(100, 10, 5), (105, 10, 5)], [(45, 10, 4), (15, 10, 1)])
    verdict = decide(problem, rows_for(problem), problem.bins, 5.0, never)
    assert not verdict.cannot
    assert sorted(verdict.pick.chosen) == [0, 1]


def test_marked_boards_are_left_undecided():
    problem = problem_of([(10, 10, 5)], [(20, 10, 1)])
    tapered = tuple(replace(one, width2=5) for one in problem.bins)
    assert decide(problem, rows_for(problem), tapered, 5.0, never) == whole.OPEN


def test_a_set_that_holds_everything_in_fractions_of_patterns_may_be_ruled_out():
    # ten parts, three panels, six boards: 1.0005 times the demand by mixed patterns
    problem = problem_for(project_for("small", 4))
    bins = [problem.bins[index] for index in (1, 2, 4, 6, 9, 11)]
    rows = rows_for(problem)
    prices = Boards(problem, rows, bins).solve(never)
    assert 1.0 < min(price.times for price in prices) < 1.001
    assert decide(problem, rows, bins, 20.0, never).cannot


def test_the_bound_is_that_of_the_cheapest_set_that_is_not_ruled_out(monkeypatch):
    # any one board of three holds the piece; those at 10 and 12 are ruled out, 15 is not
    asked = []

    def verdict(problem, rows, bins, seconds, stop):
        asked.append(tuple(one.cost for one in bins))
        return whole.CANNOT if asked[-1] in [(10,), (12,)] else whole.OPEN

    monkeypatch.setattr("nesting.exclude.decide", verdict)
    problem = problem_of([(50, 10, 10), (50, 10, 15), (50, 10, 12)], [(50, 10, 1)])
    ruled, chosen = ruled_out(problem, cost=16.0)
    assert chosen.bound == pytest.approx(10, abs=0.01)
    assert asked == [(10,), (12,), (15,)]
    assert ruled.bound == pytest.approx(15, abs=0.01)
    assert ruled.excluded == (frozenset({0}), frozenset({2}))
    assert ruled.left == (frozenset({1}),)
    # three sets cost less than 16 by their values alone; all were met and one is left
    rows = rows_for(problem)
    lots = lots_for(problem, kernels_for(problem), rows)
    facts = problem, lots, rows.demand, chosen.history
    assert sets_below(*facts, 16.0, 5.0) == 3
    assert sets_below(*facts, 16.0, 5.0, ruled.excluded) == 1


def test_nothing_is_decided_once_the_search_is_stopped():
    problem = problem_of([(50, 10, 10)], [(50, 10, 1)])
    verdict = decide(problem, rows_for(problem), problem.bins, 5.0, lambda: True)
    assert not verdict.cannot
    assert verdict.pick is None
