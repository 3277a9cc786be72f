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
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import islice

from nesting.assemble import Pick
from nesting.columns import Rows
from nesting.problem import Bin, Problem, top_ups
from nesting.select import Selection
from nesting.sets import Lot, cheapest_first
from nesting.whole import decide, is_decidable, leaves_no_offcut

MOST_BOARDS = 10
MOST_ITEMS = 20
MOST_SETS = 400
PATIENCE = 5.0  # seconds for one cheapest set
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
        Sets that were ruled out, or cost no less than the best plan known, and all of
        their parts with them.
    left
        Sets that were met and not ruled out.
    """

    bound: float
    excluded: tuple[frozenset[int], ...]
    left: tuple[frozenset[int], ...]


@dataclass(frozen=True, kw_only=True, slots=True)
class Terms:
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
    terms: Terms,
    on_pick: OnPick,
) -> Ruled:
    """Return what is proven; `on_pick` is told of sections that make everything."""
    bound, floor = chosen.bound, math.inf
    excluded: list[frozenset[int]] = []
    left: list[frozenset[int]] = []
    cheapest = cheapest_first(problem, lots, rows.demand, chosen.history, PATIENCE)
    for found in islice(cheapest, MOST_SETS):
        if found is None:
            break
        bound = max(bound, min(found.bound, floor, terms.cost()))
        if found.bound >= terms.cost():
            break
        bins = [problem.bins[index] for index in sorted(found.bins)]
        if terms.stop() or len(left) >= MOST_LEFT or not _is_fit(problem, rows, bins):
            break
        seconds = (LATER if left else FIRST) * terms.seconds
        asked, least = _asked(problem, found.bins), found.bound
        if asked >= terms.cost():  # only what is left over could make it cheaper
            if leaves_no_offcut(problem, bins, seconds, terms.stop):
                excluded.append(found.bins)
                continue
            left.append(found.bins)
            floor = min(floor, least)
            continue
        verdict = decide(problem, rows, bins, seconds, terms.stop)
        if verdict.cannot:
            excluded.append(found.bins)
            continue
        left.append(found.bins)
        if verdict.pick is not None:
            on_pick(verdict.pick, found.bins)
        if leaves_no_offcut(problem, bins, LATER * terms.seconds, terms.stop):
            least = max(least, asked)
        floor = min(floor, least)
    return Ruled(bound, tuple(excluded), tuple(left))


def _is_fit(problem: Problem, rows: Rows, bins: Sequence[Bin]) -> bool:
    """Whether a set is small enough, and of a kind, to be decided."""
    is_small = 0 < len(bins) <= MOST_BOARDS and len(problem.items) <= MOST_ITEMS
    return is_small and is_decidable(problem, rows, bins)


def _asked(problem: Problem, bins: frozenset[int]) -> float:
    """Return what the boards of a set cost at least with trips and top-ups, in cents."""
    boards = [problem.bins[index] for index in bins]
    yards = {one.yard for one in boards if one.yard is not None}
    fixed = sum(problem.trips[yard] for yard in yards)
    more = sum(top_up.least(bins) for top_up in top_ups(problem))
    return sum(one.cost for one in boards) + fixed + more
