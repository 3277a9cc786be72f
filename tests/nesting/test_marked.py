"""What marked boards are worth: never below the best pattern, found by trying all."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nesting.columns import kernels_for, price, rows_for
from nesting.patterns import Kernel, Values
from nesting.marked import marked_bins
from stock.boards import Mark
from tests.benchmark.engine import problem_of


def marked(board, pieces, marks, *, kerf=0, faces=None, credit=0.0, keep=(10**6, 10**6)):
    """One board with marks, and (length, width) pieces that show unless told otherwise."""
    problem = problem_of([(*board, 100)], [(*size, 1) for size in pieces], kerf)
    items = [
        replace(item, face=face)
        for item, face in zip(problem.items, faces or ["show"] * len(pieces), strict=True)
    ]
    one = replace(problem.bins[0], marks=tuple(marks), credit=credit)
    return replace(
        problem,
        items=tuple(items),
        bins=(one,),
        keep_length=keep[0],
        keep_width=keep[1],
    )


def mark_at(x0, y0, x1, y1, kind="knot"):
    return Mark(kind=kind, start=x0, end=x1, low=y0, high=y1)


def worths(problem, values):
    """Return what the board is worth at most without its marks, and with them."""
    kernel = Kernel(problem, problem.bins)
    zero = np.zeros(len(values))
    tables = kernel.solve(Values(np.array(values, float), zero, zero), exact=True)
    clear = float(tables.worths[0])
    found = marked_bins(tables, [-1.0])
    if found:
        check_pattern(problem, values, found[0], float(tables.worths[0]))
    return clear, float(tables.worths[0])


def check_pattern(problem, values, best, worth):
    """The pattern that goes with a worth holds pieces of that value, if nothing is kept."""
    if problem.bins[0].credit:
        return
    held = [
        values[i]
        for section in best.pattern()
        for strip in section.strips
        for i, _, _ in strip.pieces
    ]
    assert sum(held) == pytest.approx(worth), (sum(held), best.worth, best.kept, best.pattern(), problem, values)


def best_of_all(problem, values):
    """Return the value of the best pattern in three stages, by trying every place.

    An offcut is one more piece of any size that is large enough.
    """
    one, kerf = problem.bins[0], problem.kerf
    length, width = one.length, one.width
    sizes = [item.sizes[0] for item in problem.items]
    widths = set(range(1, width + 1)) if one.credit else {w for _, w in sizes}

    def is_clear(face, x, y, n, w):
        return not any(m.forbids(face) and m.touches(x, y, n, w) for m in one.marks)

    def strip(x, end, y, w):
        best = [0.0] * (end - x + kerf + 1)
        for at in range(1, len(best)):
            best[at] = best[at - 1]
            for item, (n, wide), value in zip(problem.items, sizes, values, strict=True):
                start = at - n - kerf
                if wide <= w and start >= 0 and is_clear(item.face, x + start, y, n, w):
                    best[at] = max(best[at], best[start] + value)
            for n in range(problem.keep_length, at - kerf + 1 if one.credit else 0):
                start = at - n - kerf
                wide = w >= problem.keep_width
                if wide and is_clear("hidden", x + start, y, n, w):
                    best[at] = max(best[at], best[start] + one.credit * n * w)
        return best[-1]

    @cache
    def section(x, end):
        best = [0.0] * (width + kerf + 1)
        for at in range(1, len(best)):
            best[at] = best[at - 1]
            for w in widths:
                start = at - w - kerf
                if start >= 0:
                    best[at] = max(best[at], best[start] + strip(x, end, start, w))
        return best[-1]

    best = [0.0] * (length + kerf + 1)
    for at in range(1, len(best)):
        best[at] = best[at - 1]
        for start in range(at - kerf):
            best[at] = max(best[at], best[start] + section(start, at - kerf))
    return best[-1]


KINDS = ("knot", "stain", "worm")


@st.composite
def boards_with_marks(draw):
    length, width = draw(st.integers(5, 14)), draw(st.integers(2, 7))
    kerf = draw(st.integers(0, 2))
    pieces = draw(
        st.lists(
            st.tuples(st.integers(1, 8), st.integers(1, 5)),
            min_size=1, max_size=4, unique=True,
        )
    )  # fmt: skip
    faces = draw(
        st.lists(
            st.sampled_from(["show", "second", "hidden"]),
            min_size=len(pieces),
            max_size=len(pieces),
        )
    )
    marks = []
    for _ in range(draw(st.integers(1, 3))):
        x, y = draw(st.integers(-1, length - 1)), draw(st.integers(-1, width - 1))
        n, w = draw(st.integers(1, 5)), draw(st.integers(1, 3))
        marks.append(mark_at(x, y, x + n, y + w, draw(st.sampled_from(KINDS))))
    values = draw(
        st.lists(st.integers(0, 40), min_size=len(pieces), max_size=len(pieces))
    )
    return marked((length, width), pieces, marks, kerf=kerf, faces=faces), values


@given(boards_with_marks())
@settings(max_examples=200, deadline=None)
def test_a_marked_board_is_never_worth_less_than_its_best_pattern(case):
    problem, values = case
    clear, worth = worths(problem, values)
    assert best_of_all(problem, values) - 1e-9 <= worth <= clear + 1e-9
