"""Parts that come from offcuts only: placed in what a finished plan leaves over.

Copy after copy, the largest part first, goes where it costs least: credit of kept offcuts
that it takes, and time at the saws. A copy that fits nowhere is not made, and nothing is
bought for it.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from fractions import Fraction

from nesting.blanks import blanks_for
from nesting.cuttings import scope_of
from nesting.lacks import sizes_in
from nesting.layout import Namer, offcuts_in, panels_for
from nesting.leftovers import Box, Leftover, leftovers_of
from nesting.plan import CutBoard, Offcut, Piece, Plan, Shortage
from nesting.problem import Bin, Item, Problem, problem_for
from nesting.project import Project
from nesting.totals import totals_for
from nesting.ways import Way, Wish, ways

Woods = Mapping[int, tuple[Leftover, ...]]  # by bin
Rank = tuple[Fraction | int, ...]


@dataclass(frozen=True, slots=True)
class Placed:
    """A piece in its place: whose it is, and the way it is cut from a bin."""

    item: int
    unit: int
    bin: int
    way: Way


@dataclass(frozen=True, slots=True)
class State:
    """What is left over so far, and what has been placed in it."""

    woods: Woods
    placed: tuple[Placed, ...] = ()


def with_offcut_parts(project: Project, plan: Plan) -> Plan:
    """Return a plan with the parts from offcuts cut from what its boards leave over.

    No board is added. Copies that fit nowhere are listed as not made, with the reason.
    """
    problem = problem_for(project, "offcut")
    if not problem.items:
        return plan
    cut = {one.board: one for one in (*plan.boards, *plan.sheets) if one.pieces}
    bins = [one for one in problem.bins if one.name in cut]
    state = State({one.index: leftovers_of(cut[one.name], problem.kerf) for one in bins})
    bench = _Bench(project, problem)
    not_made = []
    for item in sorted(problem.items, key=lambda item: (-item.area, item.index)):
        for copy in range(item.units // item.layers):
            after = bench.copy_placed(state, item, copy)
            state = after or state
            if after is None:
                why = _why_not(project, item, bins)
                not_made.append(Shortage(part=item.part, copy=copy + 1, why=why))
    return _replanned(project, problem, plan, state, tuple(not_made))


class _Bench:
    """Finds the least costly place for each piece; remembers what it looked at."""

    def __init__(self, project: Project, problem: Problem) -> None:
        self.project = project
        self.problem = problem
        self.known: dict[tuple[int, Leftover, Wish], tuple[Rank, Way] | None] = {}
        shop = project.shop
        by_feet = project.tariff.by_feet
        self.per_cut = Fraction(0 if by_feet else shop.cut_time * shop.shop_rate) / 36

    def copy_placed(self, state: State, item: Item, copy: int) -> State | None:
        """Return the state with all of one copy placed; None if it does not fit.

        Staves of a matched panel come from one board or log, all its layers alike.
        """
        bins = self.problem.bins
        scopes = {scope_of(item, bins[index]) for index in state.woods}
        for scope in sorted(scopes):
            allowed = {i for i in state.woods if scope_of(item, bins[i]) == scope}
            after: State | None = state
            for unit in range(copy * item.layers, (copy + 1) * item.layers):
                after = after and self._unit_placed(after, item, unit, allowed)
            if after:
                return after
        return None

    def _unit_placed(
        self, state: State, item: Item, unit: int, allowed: set[int]
    ) -> State | None:
        """Return the state with one solid piece, layer or panel placed."""
        for wishes in recipes(self.problem, item):
            after: State | None = state
            for wish in wishes:
                after = after and self._piece_placed(after, wish, unit, allowed)
            if after:
                return after
        return None

    def _piece_placed(
        self, state: State, wish: Wish, unit: int, allowed: set[int]
    ) -> State | None:
        """Return the state with one piece where it costs least."""
        found = [
            (best[0], index, at, best[1])
            for index in sorted(allowed)
            for at, left in enumerate(state.woods[index])
            if (best := self._best(index, left, wish))
        ]
        if not found:
            return None
        _, index, at, way = min(found, key=lambda one: one[:3])
        woods = state.woods[index]
        changed = {**state.woods, index: (*woods[:at], *woods[at + 1 :], *way.rest)}
        return State(changed, (*state.placed, Placed(wish.item, unit, index, way)))

    def _best(self, index: int, left: Leftover, wish: Wish) -> tuple[Rank, Way] | None:
        """Return the least costly way to cut a piece from a leftover, with its rank."""
        key = (index, left, wish)
        if key not in self.known:
            one = self.problem.bins[index]
            found = ways(one, self.problem.items, self.problem.kerf, left, wish)
            ranked = ((self._rank(one, left, way), way) for way in found)
            self.known[key] = min(ranked, key=lambda pair: pair[0], default=None)
        return self.known[key]

    def _rank(self, one: Bin, left: Leftover, way: Way) -> Rank:
        """Return what a way costs, in cents, and what decides between equals.

        Wood that is not kept goes before wood that is, a small leftover before a large
        one, and the rest should stay large.
        """
        credit, kept = self._worth(one, (left,))
        later_credit, later_kept = self._worth(one, way.rest)
        largest = max((rest.length * rest.width for rest in way.rest), default=0)
        return (
            credit - later_credit + len(way.cuts) * self.per_cut,
            kept - later_kept,
            left.length * left.width,
            -largest,
            len(way.cuts),
            *way.box,
        )

    def _worth(self, one: Bin, woods: tuple[Leftover, ...]) -> tuple[int, int]:
        """Return the credit in cents, and the area, of what is kept of some leftovers."""
        offcuts = _offcuts_of(self.project, self.problem, one, woods)
        kept = [offcut for offcut in offcuts if offcut.keep]
        credit = sum(int(offcut.credit * 100) for offcut in kept)
        return credit, sum(offcut.length * offcut.width for offcut in kept)


def recipes(problem: Problem, item: Item) -> Iterator[tuple[Wish, ...]]:
    """Yield the pieces that make one unit of an item: few and wide ones first."""
    shortest = problem.shortest if item.is_short else 0
    if not item.is_panel:
        yield (Wish(item.index, item.sizes, None, shortest),)
        return
    length, need = item.sizes[0]
    if item.single:
        yield (Wish(item.index, ((length, item.single),), item.single, shortest),)
    count = item.staves
    while True:
        net = -(-need // count)
        width = max(item.low, -(-(net + item.joint) // problem.step) * problem.step)
        if width <= item.high:
            yield (Wish(item.index, ((length, width),), item.high, shortest),) * count
        if width <= item.low:
            return
        count += 1


def _offcuts_of(
    project: Project, problem: Problem, one: Bin, woods: tuple[Leftover, ...]
) -> tuple[Offcut, ...]:
    """Return leftovers of a bin as the plan lists them, in order of their place."""
    board = next((board for board in project.boards if board.name == one.name), None)
    boxes = sorted(left.box for left in woods)
    return offcuts_in(problem, project.tariff, one, board, boxes)


def _replanned(
    project: Project,
    problem: Problem,
    plan: Plan,
    state: State,
    not_made: tuple[Shortage, ...],
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
        not_made=not_made,
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
            offcuts=_offcuts_of(self.project, self.problem, one, woods),
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
            if _lies_in(places[gang[0]], planed):
                gang.append(piece.name)
                break
        else:
            gangs.append([piece.name])
    return tuple(tuple(gang) for gang in gangs)


def _lies_in(piece: Piece, box: Box) -> bool:
    x, y, length, width = box
    return x <= piece.x < x + length and y <= piece.y < y + width


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
