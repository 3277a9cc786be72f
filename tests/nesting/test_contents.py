"""Contents are all that loses little, as trying every set of strips shows."""

from collections import Counter
from dataclasses import replace
from itertools import combinations_with_replacement

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from nesting.assemble import Model, cuttings_of, gains
from nesting.columns import rows_for
from nesting.contents import NO_LIMIT, Listing
from nesting.cuttings import everything
from nesting.patterns import Values
from nesting.reach import Reach
from stock.boards import Mark
from tests.benchmark.engine import problem_of

PIECES = st.lists(
    st.tuples(st.integers(10, 40), st.integers(3, 9), st.integers(1, 3)),
    min_size=1,
    max_size=3,
)


def reach_of(problem, prices):
    reach = Reach(problem, problem.bins, rows_for(problem))
    reach.solve(np.array(prices, float), lambda: False)
    return reach


def rows_of(problem, room):
    """Every multiset of pieces in a row that is no longer than `room`, kerfs between."""
    shapes = [(item.index, item.sizes[0]) for item in problem.items]
    return [
        row
        for count in range(1, 5)
        for row in combinations_with_replacement(shapes, count)
        if sum(size[0] + problem.kerf for _, size in row) <= room + problem.kerf
    ]


def least_losses(problem, values, rate, loss):
    """Per set of pieces, the least loss of a section that holds just these."""
    one = problem.bins[0]
    rows = rows_of(problem, one.length)
    found = {}
    for count in range(1, 4):
        for strips in combinations_with_replacement(rows, count):
            width = sum(max(s[1] for _, s in row) + problem.kerf for row in strips)
            held = Counter(i for row in strips for i, _ in row)
            if width > one.width + problem.kerf:
                continue
            if any(n > problem.items[i].units for i, n in held.items()):
                continue
            length = max(sum(s[0] + problem.kerf for _, s in row) for row in strips)
            lost = rate * length - sum(values[i] * n for i, n in held.items())
            key = tuple(sorted(held.items()))
            if lost <= loss and lost < found.get(key, 1e9):
                found[key] = lost
    return found


@settings(max_examples=40, deadline=None)
@given(pieces=PIECES, kerf=st.integers(0, 2), loss=st.integers(5, 300))
@example(pieces=[(10, 3, 1), (10, 3, 1), (38, 5, 3)], kerf=1, loss=95)
def test_all_contents_that_lose_little_are_listed(pieces, kerf, loss):
    problem = problem_of([(60, 10, 100)], pieces, kerf)
    prices = [length * width for length, width, _ in pieces]
    reach = reach_of(problem, prices)
    values = Values(reach.duals, np.zeros(len(pieces)), np.zeros(len(pieces)))
    listing = Listing(
        problem, reach.windows[0], reach.tables, reach.spots[0], values,
        reach.rates[0], reach.units,
    )  # fmt: skip
    got = {}
    for content in listing.run(float(loss), NO_LIMIT):
        held = Counter(
            i for strips in content.spans for s in strips for i, _, _ in s.pieces
        )
        got[tuple(sorted(held.items()))] = content.loss
    want = least_losses(problem, reach.duals, reach.rates[0], float(loss) - 1e-6)
    for key, lost in want.items():
        assert got[key] == pytest.approx(lost, abs=1e-6)


@settings(max_examples=25, deadline=None)
@given(pieces=PIECES, kerf=st.integers(0, 2))
def test_what_is_assembled_fits_its_boards_and_is_not_more_than_is_wanted(pieces, kerf):
    problem = problem_of([(60, 10, 100), (45, 12, 90)], pieces, kerf)
    prices = np.array([length * width for length, width, _ in pieces], float)
    reach = reach_of(problem, prices)
    lists = [reach.contents(n, 200.0, 300) for n in range(len(reach.windows))]
    pick = Model(reach, lists, prices).solve(5.0)
    left = everything(problem)
    cuttings = cuttings_of(problem, pick, left)
    assert min(left.pieces.values()) >= 0
    assert pick.is_complete == left.is_done
    for cutting in cuttings:
        one = problem.bins[cutting.bin]
        assert max(cut.x + cut.length for cut in cutting.cuts) <= one.length
        for band in cutting.bands:
            used = sum(strip.width + kerf for strip in band.strips)
            assert used <= one.width + kerf
    made = Counter()
    for content in (content for some in pick.chosen.values() for _, content in some):
        made.update({i: gain[0] for i, gain in gains(problem, content).items()})
    wanted = {item.index: item.units for item in problem.items}
    assert all(left.pieces[i] == max(0, units - made[i]) for i, units in wanted.items())


def test_a_board_that_marks_leave_no_window_for_is_cut_to_nothing():
    problem = problem_of([(60, 10, 100), (60, 10, 100)], [(40, 3, 2)], 1)
    knot = Mark(kind="knot", start=25, end=35, low=0, high=10)  # 25 and 25 are left
    bins = (problem.bins[0], replace(problem.bins[1], marks=(knot,)))
    problem = replace(problem, bins=bins)
    prices = np.array([120.0])
    reach = reach_of(problem, prices)
    lists = [reach.contents(n, 200.0, 300) for n in range(len(reach.windows))]
    pick = Model(reach, lists, prices).solve(5.0)
    assert pick.is_complete
    assert {one for one, sections in pick.chosen.items() if sections} == {0}
