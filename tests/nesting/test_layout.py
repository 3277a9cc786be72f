"""Leftovers of a finished plan: what is kept is what the search, and its bound, knew of."""

from dataclasses import replace

from nesting.parts import Part
from nesting.problem import problem_for
from nesting.solve import SolveParams, solve
from nesting.verify import verify
from tests.nesting.test_nests import project_with
from tests.samples import OAK, inch


def test_of_a_tapered_board_no_more_is_kept_than_the_bound_has_seen():
    # 12 in at the butt and 11 in at 96 in, an inch trimmed off each end: widths between
    # are rounded down once as the board's, and once more as the trimmed board's
    part = Part(
        name="Post", qty=5, length=inch(42), width=inch(7), thickness=inch("3/4"),
        species=OAK, build="laminate", add_length=inch(2),
    )  # fmt: skip
    project = project_with(part, (96, 12))
    (board,) = project.boards
    project = replace(project, boards=(replace(board, width2=inch(11)),))
    (one,) = problem_for(project).bins
    plan = solve(project, SolveParams(steps=20))
    assert plan.short
    assert not verify(project, plan)
    assert plan.totals.bound <= plan.totals.cost
    kept = [offcut for offcut in plan.boards[0].offcuts if offcut.keep]
    assert kept
    for offcut in kept:
        start = offcut.x - one.start
        top = min(one.width_at(start), one.width_at(start + offcut.length))
        assert offcut.y + offcut.width <= top
