"""Windows promise that a section may lie anywhere in them."""

from dataclasses import replace

from hypothesis import assume, given, settings
from hypothesis import strategies as st

from nesting.problem import problem_for
from nesting.windows import MOST_WINDOWS, windows_for
from tests.benchmark.engine import problem_of
from tests.samples import bench_project, inch
from tests.strategies import projects


def test_a_clear_board_is_one_window():
    problem = problem_of([(100, 10, 1)], [(20, 5, 1)])
    (window,) = windows_for(problem, problem.bins[0])
    assert (window.start, window.end) == (0, 100)
    assert [(span.low, span.high) for span in window.spans] == [(0, 10)]


def test_a_knot_leaves_clear_windows_before_and_behind_it_and_one_beside_it():
    # board Y1 of the low bench: a knot from 60 to 62 in, 1/2 to 1 3/4 in from the edge
    problem = problem_for(bench_project())
    one = next(one for one in problem.bins if one.name == "Y1")
    windows = windows_for(problem, one)
    clear = [w for w in windows if len(w.spans) == 1]
    assert {(w.start, w.end) for w in clear} >= {
        (0, inch(60) - one.start),
        (inch(62) - one.start, one.length),
    }
    beside = [w for w in windows if (w.start, w.end) == (0, one.length)]
    assert any(span.low == inch("7/4") for w in beside for span in w.spans)


@settings(max_examples=40, deadline=None)
@given(project=projects(), data=st.data())
def test_whatever_a_window_allows_may_lie_anywhere_in_it(project, data):
    problem = problem_for(project)
    assume(problem.bins)
    one = data.draw(st.sampled_from(problem.bins))
    windows = windows_for(problem, one)
    assert len(windows) <= MOST_WINDOWS
    assert [(w.end, w.start) for w in windows] == sorted((w.end, w.start) for w in windows)
    for window in windows:
        length = data.draw(st.integers(1, window.length))
        x = data.draw(st.integers(window.start, window.end - length))
        width = min(one.width_at(x), one.width_at(x + length))
        top = 0
        for span in window.spans:
            assert top <= span.low < span.high <= width
            top = span.high + problem.kerf
            here = one.allowed(problem.items, x, span.low, length, span.height)
            assert span.allowed <= here


def test_a_taper_is_wider_towards_its_wide_end():
    problem = problem_of([(100, 20, 1)], [(20, 5, 1)])
    one = replace(problem.bins[0], width2=10)
    heights = {w.end: w.spans[0].height for w in windows_for(problem, one)}
    assert heights[100] == 10
    assert heights[50] == 15
