"""Ruling out sets of boards one by one, from the cheapest on.

The cheapest set that the cuts of `nesting.sets` allow bounds the cost of every plan. If it
is proven that no plan makes everything from the set, none does from a part of it either: a
cut against the set and all its parts (a no-good cut, Hooker and Ottosson 2003, logic-based
Benders decomposition) leads to the next cheapest one. A set that is left costs at least
what its relaxation says, or all that its boards cost if it is proven that nothing worth
keeping is left over. Sets beyond are still looked at for the sake of their plans.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from nesting.assemble import Pick
from nesting.columns import Rows
from nesting.problem import Problem
from nesting.select import Selection
from nesting.sets import Lot, Set, SetModel, cuts_for
from nesting.whole import decide, is_decidable, leaves_no_offcut

MOST_BOARDS = 10
MOST_ITEMS = 20
MOST_SETS = 400
MOST_LEFT = 10
FIRST, LATER = 0.5, 0.2  # of the time, for one set: while the bound may rise, and after

OnPick = Callable[[Pick, frozenset[int]], None]


@dataclass(frozen=True, slots=True)
class Ruled:
    """What ruling out sets of boards proved.

    Attributes
    ----------
    bound
        No plan costs less, in cents.
    excluded
        How many sets were ruled out, or cost no less than the best plan known; their
        parts are not counted.
    left
        Sets that were met and not ruled out.
    is_all
        Whether every set was met that could cost less than the best plan known.
    """

    bound: float
    excluded: int
    left: tuple[frozenset[int], ...]
    is_all: bool

    @property
    def notes(self) -> tuple[str, ...]:
        """In words, what a plan that costs less would have to be cut from."""
        if not (self.is_all and self.left):
            return ()
        count = len(self.left)
        some = "the one set" if count == 1 else f"one of the {count} sets"
        return (f"a cheaper plan takes its boards from {some} not ruled out",)


@dataclass(frozen=True, kw_only=True, slots=True)
class Limits:
    """What bounds the search through sets.

    Attributes
    ----------
    seconds
        About how long it may take in all.
    cost
        Returns the cost of the best plan known, in cents; infinite if there is none.
    """

    seconds: float
    cost: Callable[[], float]
    stop: Callable[[], bool]


def rule_out(
    problem: Problem,
    rows: Rows,
    lots: Sequence[Lot],
    chosen: Selection,
    limits: Limits,
    on_pick: OnPick,
) -> Ruled:
    """Return what is proven; `on_pick` is told of sections that make everything."""
    bound, excluded, is_all, floor = chosen.bound, 0, False, math.inf
    left: list[frozenset[int]] = []
    for found in _cheapest_first(problem, rows, lots, chosen):
        bound = max(bound, min(found.bound, floor, limits.cost()))
        if found.bound >= limits.cost():
            is_all = True
            break
        bins = [problem.bins[index] for index in sorted(found.bins)]
        is_small = 0 < len(bins) <= MOST_BOARDS and len(problem.items) <= MOST_ITEMS
        if limits.stop() or len(left) >= MOST_LEFT or not is_small:
            break
        if not is_decidable(problem, rows, bins):
            break
        seconds = (LATER if left else FIRST) * limits.seconds
        asked, least = _asked(problem, found.bins), found.bound
        if asked >= limits.cost():  # only what is left over could make it cheaper
            if leaves_no_offcut(problem, bins, seconds, limits.stop):
                excluded += 1
                continue
            left.append(found.bins)
            floor = min(floor, least)
            continue
        verdict = decide(problem, rows, bins, seconds, limits.stop)
        if verdict.cannot:
            excluded += 1
            continue
        left.append(found.bins)
        if verdict.pick is not None:
            on_pick(verdict.pick, found.bins)
        if leaves_no_offcut(problem, bins, LATER * limits.seconds, limits.stop):
            least = max(least, asked)
        floor = min(floor, least)
    return Ruled(bound, excluded, tuple(left), is_all)


def _asked(problem: Problem, bins: frozenset[int]) -> float:
    """Return what the boards of a set cost with the trips to their yards, in cents."""
    boards = [problem.bins[index] for index in bins]
    yards = {one.yard for one in boards if one.yard is not None}
    return sum(one.cost for one in boards) + sum(problem.trips[yard] for yard in yards)


def _cheapest_first(
    problem: Problem, rows: Rows, lots: Sequence[Lot], chosen: Selection
) -> Iterator[Set]:
    """Yield sets from the cheapest on, none of them part of one before."""
    model = SetModel(problem, problem.bins)
    for duals, worths in chosen.history:
        for cut in cuts_for(lots, rows.demand, duals, worths):
            model.add(cut)
    for _ in range(MOST_SETS):
        found = model.solve(5.0)
        if found is None:
            return
        yield found
        model.bar(found.bins)
