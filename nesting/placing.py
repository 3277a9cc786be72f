"""Finding the least costly place for each piece that is cut from leftovers.

What a place costs is the credit of kept offcuts that it takes, and the time at the saws.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction

from nesting.cuttings import scope_of
from nesting.layout import offcuts_in
from nesting.leftovers import Box, Leftover
from nesting.plan import CutBoard, Offcut, Piece
from nesting.problem import Bin, Item, Problem
from nesting.project import Project
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


class Bench:
    """Finds the least costly place for each piece; remembers what it looked at."""

    def __init__(self, project: Project, problem: Problem) -> None:
        self.project = project
        self.problem = problem
        self.known: dict[tuple[int, Leftover, Wish], tuple[Rank, Way] | None] = {}
        self.stated: dict[tuple[int, Leftover], tuple[int, int]] = {}
        shop = project.shop
        by_feet = project.tariff.by_feet
        self.per_cut = Fraction(0 if by_feet else shop.cut_time * shop.shop_rate) / 36

    def note_worth(self, index: int, woods: Iterable[Leftover], cut: CutBoard) -> None:
        """Remember what the plan counts the leftovers of a board as worth."""
        for left in woods:
            inside = [offcut for offcut in cut.offcuts if lies_in(offcut, left.box)]
            self.stated[index, left] = _kept_worth(inside)

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
        credit, kept = self.stated.get((one.index, left)) or self._worth(one, (left,))
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
        return _kept_worth(offcuts_of(self.project, self.problem, one, woods))


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


def offcuts_of(
    project: Project, problem: Problem, one: Bin, woods: tuple[Leftover, ...]
) -> tuple[Offcut, ...]:
    """Return leftovers of a bin as the plan lists them, in order of their place."""
    board = next((board for board in project.boards if board.name == one.name), None)
    boxes = sorted(left.box for left in woods)
    return offcuts_in(problem, project.tariff, one, board, boxes)


def _kept_worth(offcuts: Iterable[Offcut]) -> tuple[int, int]:
    """Return the credit in cents, and the area, of the offcuts that are kept."""
    kept = [offcut for offcut in offcuts if offcut.keep]
    credit = sum(int(offcut.credit * 100) for offcut in kept)
    return credit, sum(offcut.length * offcut.width for offcut in kept)


def lies_in(shape: Piece | Offcut, box: Box) -> bool:
    """Whether a shape begins in a box; cuts part them, so it then lies in it wholly."""
    x, y, length, width = box
    return x <= shape.x < x + length and y <= shape.y < y + width
