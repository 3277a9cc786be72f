"""Parts that come from offcuts only: placed in what a finished plan leaves over.

Copy after copy, the largest part first, goes where it costs least: credit of kept offcuts
that it takes, and time at the saws. What fits nowhere comes out of windows of other parts,
if they hold it; that wood is free only late. A copy that fits nowhere is not made, and
nothing is bought for it.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from nesting.blanks import blanks_for
from nesting.lacks import sizes_in
from nesting.layout import Namer, panels_for
from nesting.leftovers import Box, leftovers_of
from nesting.part_windows import taken_from_windows
from nesting.placing import Bench, State, lies_in, offcuts_of
from nesting.plan import CutBoard, Piece, Plan, Shortage
from nesting.problem import Bin, Item, Problem, problem_for
from nesting.project import Project
from nesting.totals import totals_for


def with_offcut_parts(project: Project, plan: Plan) -> Plan:
    """Return a plan with the parts from offcuts cut from what its boards leave over.

    No board is added. Copies that fit nowhere, nor in a window of another part, are listed
    as not made, with the reason.
    """
    problem = problem_for(project, "offcut")
    if not problem.items:
        return plan
    cut = {one.board: one for one in (*plan.boards, *plan.sheets) if one.pieces}
    bins = [one for one in problem.bins if one.name in cut]
    state = State({one.index: leftovers_of(cut[one.name], problem.kerf) for one in bins})
    bench = Bench(project, problem)
    for one in bins:
        bench.note_worth(one.index, state.woods[one.index], cut[one.name])
    not_made: list[Shortage] = []
    for item in sorted(problem.items, key=lambda item: (-item.area, item.index)):
        for copy in range(item.units // item.layers):
            after = bench.copy_placed(state, item, copy)
            state = after or state
            if after is None:
                why = _why_not(project, item, bins)
                not_made.append(Shortage(part=item.part, copy=copy + 1, why=why))
    windows = taken_from_windows(project, problem, plan, not_made)
    held = {(one.part, one.copy) for one in windows}
    left = tuple(one for one in not_made if (one.part, one.copy) not in held)
    changed = replace(plan, not_made=left, from_windows=windows)
    return _replanned(project, problem, changed, state)


def _replanned(
    project: Project,
    problem: Problem,
    plan: Plan,
    state: State,
) -> Plan:
    """Return the plan with the placed pieces in it, and its sums anew."""
    cutter = _Recutter(project, problem, state)
    boards = tuple(cutter.recut(one) for one in plan.boards)
    sheets = tuple(cutter.recut(one) for one in plan.sheets)
    old = plan.totals
    totals = totals_for(project, boards, sheets, (old.bound, old.bound_name), old.seconds)
    return replace(
        plan,
        boards=boards,
        sheets=sheets,
        panels=(*plan.panels, *panels_for(problem, boards)),
        totals=totals,
    )


class _Recutter:
    """Puts the placed pieces on the boards' records."""

    def __init__(self, project: Project, problem: Problem, state: State) -> None:
        self.project = project
        self.problem = problem
        self.state = state
        self.namer = Namer(problem)
        self.bins = {one.name: one for one in problem.bins}

    def recut(self, cut: CutBoard) -> CutBoard:
        """Return the record of a board with what is placed on it."""
        one = self.bins.get(cut.board)
        placed = [p for p in self.state.placed if one and p.bin == one.index]
        if not one or not placed:
            return cut
        pieces = [self.namer.piece(p.item, p.unit, *p.way.box) for p in placed]
        cuts = [*cut.cuts, *(made for p in placed for made in p.way.cuts)]
        planed = [p.way.planed for p in placed]
        woods = self.state.woods[one.index]
        return replace(
            cut,
            pieces=(*cut.pieces, *pieces),
            cuts=tuple(replace(made, order=at) for at, made in enumerate(cuts, 1)),
            offcuts=offcuts_of(self.project, self.problem, one, woods),
            gangs=_gangs(cut, zip(pieces, planed, strict=True)),
        )


def _gangs(
    cut: CutBoard, added: Iterable[tuple[Piece, Box | None]]
) -> tuple[tuple[str, ...], ...]:
    """Return the gangs of a board with the pieces added that are planed in one length."""
    places = {piece.name: piece for piece in cut.pieces}
    gangs = [list(gang) for gang in cut.gangs]
    for piece, planed in added:
        places[piece.name] = piece
        if planed is None:
            continue
        for gang in gangs:
            if lies_in(places[gang[0]], planed):
                gang.append(piece.name)
                break
        else:
            gangs.append([piece.name])
    return tuple(tuple(gang) for gang in gangs)


def _why_not(project: Project, item: Item, bins: list[Bin]) -> str:
    """Return why a copy does not fit, in words."""
    if not any(item.index in one.wanted for one in bins):
        return "none of the boards that are cut for other parts serves it"
    blank = next(one for one in blanks_for(project) if one.part == item.part)
    size = " x ".join(sizes_in(project.unit, *blank.sizes[0]))
    what = "staves for a panel of" if item.is_panel else "a blank of"
    layers = f"{item.layers} times " if item.layers > 1 else ""
    return (
        f"what is left over does not hold {layers}{what} {size} {project.unit.value} "
        "beside the rest"
    )
