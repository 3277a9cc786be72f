"""Sets of boards that a plan is gathered from."""

from dataclasses import replace

from nesting.columns import kernels_for, relax, rows_for
from nesting.gather import Gatherer
from nesting.improve import lack_prices
from nesting.limits import Limit
from nesting.sets import lots_for
from stock.boards import Mark
from tests.benchmark.engine import problem_of


def test_boards_that_marks_leave_no_window_for_are_in_no_set():
    # The tapered board is cheaper; a knot over its width leaves 25 on either side, and its
    # bound leaves marks out of account.
    problem = problem_of([(60, 10, 100), (60, 10, 50)], [(40, 3, 2)], 1)
    knot = Mark(kind="knot", start=25, end=35, low=0, high=10)
    marked = replace(problem.bins[1], marks=(knot,), width2=11)
    problem = replace(problem, bins=(problem.bins[0], marked))
    rows, kernels = rows_for(problem), kernels_for(problem)
    relaxed = relax(problem, kernels, rows, stop=lambda: False)
    gatherer = Gatherer(
        problem, rows, lots_for(problem, kernels, rows), relaxed.history,
        lack_prices(problem, rows, relaxed.values), lambda: False, Limit(5.0, 0),
    )  # fmt: skip
    bins = gatherer.next_set(1.0)
    assert bins == {0}
    assert gatherer.prepare(bins) is not None
