"""What marked boards are worth: never below the best pattern, found by trying all."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nesting import columns, lanes
from nesting import marked as marked_module
from nesting.columns import kernels_for, relax, rows_for
from nesting.marked import marked_bins
from nesting.patterns import Kernel, Values
from nesting.problem import problem_for
from nesting.select import select
from nesting.solve import SolveParams, solve
from stock.boards import Mark
from tests.benchmark.engine import problem_of
from tests.benchmark.generated import project_for

KINDS = ("knot", "stain", "worm")  # forbid all faces; show; show and second
FACES = ("show", "second", "hidden")


def mark_at(x0, y0, x1, y1, kind="knot"):
    return Mark(kind=kind, start=x0, end=x1, low=y0, high=y1)


def board_with(marks, size, pieces, *, kerf=0, faces=None, credit=0.0, keep=None):
    """One board with marks, and (length, width) pieces that show unless told otherwise."""
    problem = problem_of([(*size, 100)], [(*piece, 1) for piece in pieces], kerf)
    faces = faces or ["show"] * len(pieces)
    keep = keep or (10**6, 10**6)
    return replace(
        problem,
        items=tuple(
            replace(item, face=face)
            for item, face in zip(problem.items, faces, strict=True)
        ),
        bins=(replace(problem.bins[0], marks=tuple(marks), credit=credit),),
        keep_length=keep[0],
        keep_width=keep[1],
    )


def worths(problem, values):
    """Return what the board is worth at most, without its marks and with them."""
    kernel = Kernel(problem, problem.bins)
    zero = np.zeros(len(values))
    tables = kernel.solve(Values(np.array(values, float), zero, zero), exact=True)
    clear = float(tables.worths[0])
    found = marked_bins(tables, np.array([-1.0]))
    worth = float(tables.worths[0])
    if found and not problem.bins[0].credit:
        held = [
            values[i]
            for section in found[0].pattern()
            for strip in section.strips
            for i, _, _ in strip.pieces
        ]
        assert sum(held) == pytest.approx(found[0].best)
        assert found[0].best <= worth + 1e-9
    return clear, worth


def best_of_all(problem, values):
    """Return the value of the best pattern in three stages, by trying every place.

    Places count from 0 to the size plus a kerf, so that a kerf follows whatever is cut.
    An offcut is one more piece, of any size that is large enough.
    """
    one, kerf = problem.bins[0], problem.kerf
    length, width = one.length + kerf, one.width + kerf
    cuts = [  # length, least width, value, value per width, face
        (*item.sizes[0], value, 0.0, item.face)
        for item, value in zip(problem.items, values, strict=True)
    ]
    widths = {w for _, w, _, _, _ in cuts}
    if one.credit:
        widths = set(range(1, one.width + 1))
        cuts += [
            (n, problem.keep_width, 0.0, one.credit * n, "hidden")
            for n in range(problem.keep_length, one.length + 1)
        ]
    strips = {w: strips_of(one, cuts, w, kerf) for w in widths if w <= one.width}
    sections = np.zeros((length + 1, length + 1, width + 1))
    for y in range(1, width + 1):
        sections[:, :, y] = sections[:, :, y - 1]
        for w, strip in strips.items():
            if (start := y - w - kerf) >= 0:
                with_it = sections[:, :, start] + strip[:, :, start]
                np.maximum(sections[:, :, y], with_it, out=sections[:, :, y])
    best = np.zeros(length + 1)
    for x in range(1, length + 1):
        best[x] = max(best[x - 1], (best[:x] + sections[:x, x, width]).max())
    return float(best[-1])


def strips_of(one, cuts, w, kerf):
    """Return the best of each strip of width w: [begin, end with a kerf added, y]."""
    length, width = one.length + kerf, one.width + kerf
    found = np.zeros((length + 1, length + 1, width + 1))
    for x in range(1, length + 1):
        found[:, x] = found[:, x - 1]
        for n, least, value, per_width, face in cuts:
            start = x - n - kerf
            if start < 0 or w < least:
                continue
            marks = [m for m in one.marks if m.forbids(face)]
            is_clear = [
                not any(m.touches(start, y, n, w) for m in marks) for y in range(width + 1)
            ]
            held = found[: start + 1, start] + (value + per_width * w)
            better = np.where(is_clear, held, 0.0)
            np.maximum(found[: start + 1, x], better, out=found[: start + 1, x])
    return found


@st.composite
def marked_boards(draw, *, keeps=False):
    """Return a problem with one board and one to three marks, and values of its pieces."""
    length, width = draw(st.integers(5, 18)), draw(st.integers(2, 7))
    sizes = st.tuples(st.integers(1, 9), st.integers(1, 5))
    pieces = draw(st.lists(sizes, min_size=1, max_size=4, unique=True))
    faces = [draw(st.sampled_from(FACES)) for _ in pieces]
    values = [draw(st.integers(0, 40)) for _ in pieces]
    marks = []
    for _ in range(draw(st.integers(1, 3))):
        x, y = draw(st.integers(-1, length - 1)), draw(st.integers(-1, width - 1))
        x1, y1 = x + draw(st.integers(1, 6)), y + draw(st.integers(1, 3))
        marks.append(mark_at(x, y, x1, y1, draw(st.sampled_from(KINDS))))
    kept, kerf = {}, draw(st.integers(0, 2))
    if keeps:  # of any size: the tables make nothing longer or wider than its pieces ask
        kept["credit"] = draw(st.sampled_from([0.3, 0.5, 0.9]))
        kept["keep"], kerf = (1, 1), 0
    problem = board_with(marks, (length, width), pieces, kerf=kerf, faces=faces, **kept)
    return problem, values


@given(marked_boards())
@settings(max_examples=150, deadline=None)
def test_a_marked_board_is_never_worth_less_than_its_best_pattern(case):
    problem, values = case
    clear, worth = worths(problem, values)
    assert best_of_all(problem, values) - 1e-9 <= worth <= clear + 1e-9


@given(marked_boards(keeps=True))
@settings(max_examples=60, deadline=None)
def test_nor_with_the_offcuts_that_it_keeps(case):
    problem, values = case
    clear, worth = worths(problem, values)
    assert best_of_all(problem, values) - 1e-9 <= worth <= clear + 1e-9


@pytest.mark.parametrize(("blocks", "spots", "first"), [(4, 60_000, 1e-4), (3, 2, 0.006)])
def test_coarse_blocks_and_an_early_end_prove_less_but_nothing_wrong(
    blocks, spots, first, monkeypatch
):
    monkeypatch.setattr(lanes, "MOST_BLOCKS", blocks)
    monkeypatch.setattr(marked_module, "MOST_SPOTS", spots)
    monkeypatch.setattr(marked_module, "FIRST_LOSS", first)

    @given(marked_boards())
    @settings(max_examples=60, deadline=None)
    def check(case):
        problem, values = case
        clear, worth = worths(problem, values)
        assert best_of_all(problem, values) - 1e-9 <= worth <= clear + 1e-9

    check()


# --- published boards with marks ------------------------------------------------------

# Afsharian, Niknejad & Waescher (2014) OR Spectrum 36:783-812: a sheet, its marks, pieces
# (length, width, value), and the optima for any number of stages with the first one, two,
# three and all of the marks. Ours, in three stages, may be lower, and so may the bound
SHEETS = {
    "75 x 75": (
        (75, 75),
        [(42, 42, 53, 53), (26, 27, 38, 36), (14, 13, 23, 25), (57, 56, 67, 68)],
        [(53, 42, 2226), (42, 45, 1890), (13, 28, 364), (42, 11, 462), (33, 21, 693)],
        (5061, 4655, 4291, 3598),
    ),
    "112 x 50": (
        (112, 50),
        [(10, 4, 23, 10), (93, 41, 110, 49), (73, 32, 88, 39), (45, 19, 59, 27)],
        [(18, 26, 468), (12, 14, 168), (42, 9, 378), (73, 35, 2555), (72, 36, 2592)],
        (5076, 4872, 4704, 4374),
    ),
}


@pytest.mark.parametrize("count", [1, 2, 3, 4])
@pytest.mark.parametrize("name", SHEETS)
def test_published_sheets_are_worth_at_least_their_best_pattern(name, count):
    size, places, pieces, optima = SHEETS[name]
    marks = [mark_at(*place) for place in places[:count]]
    problem = board_with(marks, size, [piece[:2] for piece in pieces])
    values = [piece[2] for piece in pieces]
    best = best_of_all(problem, values)
    clear, worth = worths(problem, values)
    assert best <= optima[count - 1]
    assert best - 1e-6 <= worth <= clear + 1e-6
    assert worth < clear


# --- whole projects -------------------------------------------------------------------


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_marks_raise_the_bound_but_not_above_the_cost_of_a_plan(seed, monkeypatch):
    project = project_for("small", seed, marks=True)
    problem = problem_for(project)
    kernels, rows = kernels_for(problem), rows_for(problem)
    relaxed = relax(problem, kernels, rows, stop=lambda: False)
    chosen = select(problem, kernels, relaxed, stop=lambda: False, seconds=1, rounds=5)
    plan = solve(project, SolveParams(seconds=3))
    assert plan.status == "complete"
    assert relaxed.bound <= chosen.bound <= 100 * float(plan.totals.cost) + 1e-6
    monkeypatch.setattr(columns, "marked_bins", lambda *_: {})
    unmarked = relax(problem, kernels, rows, stop=lambda: False)
    assert unmarked.bound < relaxed.bound


def test_a_board_whose_marks_harm_none_of_its_pieces_is_worth_as_much_as_a_clear_one():
    stains = [mark_at(2, 1, 5, 3, "stain"), mark_at(7, 0, 9, 2, "stain")]
    problem = board_with(stains, (12, 4), [(4, 2), (5, 1)], faces=["hidden", "second"])
    clear, worth = worths(problem, [9, 5])
    assert worth == clear


def test_a_knot_as_wide_as_the_board_costs_what_lies_on_it():
    # 20 long, pieces of 5: four without the knot; 7 before it and 10 behind it hold three
    problem = board_with([mark_at(7, 0, 10, 4)], (20, 4), [(5, 4)])
    assert worths(problem, [6]) == (24, 18)


def test_a_knot_in_one_strip_leaves_the_other_whole():
    # two strips of two pieces of 10; beside the knot one strip keeps both, the knot's one
    problem = board_with([mark_at(4, 0, 6, 1)], (20, 4), [(10, 2)])
    assert worths(problem, [5]) == (20, 15)
