"""The bound for whole boards: the cheapest set of boards that could hold everything.

The cheapest set of whole boards under all known cuts (`nesting.sets`) is a lower bound on
the cost of any plan. The set found is then checked by column generation over just its
boards; the duals of that check give the next cuts. Trips are in it, top-ups to smallest
orders, and the credit of kept offcuts.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from itertools import islice

from nesting.columns import Column, Master, Relaxation, price
from nesting.patterns import Floats, Kernel
from nesting.problem import Problem
from nesting.sets import Lot, SetModel, cheapest_first, lots_for


@dataclass(frozen=True, slots=True)
class Selection:
    """A proven bound in cents, the boards of the set that attains it, and all cuts.

    `history` are vectors of duals with each bin's best value, as in `Relaxation`.
    """

    bound: float
    bins: frozenset[int]
    history: tuple[tuple[Floats, Floats], ...]


def select(
    problem: Problem,
    kernels: tuple[Kernel, ...],
    relaxed: Relaxation,
    *,
    stop: Callable[[], bool],
    seconds: float,
    rounds: int = 60,
    nodes: int = 0,
) -> Selection:
    """Return the best bound that whole boards prove before `stop`.

    `seconds` limits each integer solve, and `nodes` its tree if not 0; its own bound is
    valid whenever it stops.
    """
    lots = lots_for(problem, kernels, relaxed.rows)
    demand = relaxed.rows.demand
    history = list(relaxed.history)
    model = SetModel(problem, problem.bins)
    model.add_all(lots, demand, history)
    bound, best = relaxed.bound, frozenset[int]()
    columns, seen = list(relaxed.columns), set[frozenset[int]]()
    for _ in range(rounds):
        found = model.solve(seconds, nodes)
        if found is None:
            break
        if found.bound > bound:
            bound, best = found.bound, found.bins
        if stop() or found.bins in seen:
            break
        seen.add(found.bins)
        try:
            duals, worths, new = priced_on(problem, kernels, relaxed, columns, found.bins)
        except ArithmeticError:  # a master that can't be solved: what is proven holds
            break
        columns += new
        history.append((duals, worths))
        model.add_all(lots, demand, history[-1:])
    return Selection(bound, best, tuple(history))


def priced_on(
    problem: Problem,
    kernels: tuple[Kernel, ...],
    relaxed: Relaxation,
    columns: list[Column],
    chosen: frozenset[int],
) -> tuple[Floats, Floats, list[Column]]:
    """Cut from just the chosen boards; return duals, each bin's value, new columns."""
    master = Master(problem, relaxed.rows, chosen)
    for column in columns:
        master.add(column)
    new: list[Column] = []
    for _ in range(6):
        _, duals, prices = master.solve()
        found, _ = price(
            problem, kernels, relaxed.rows, duals, prices, exact=False, only=chosen
        )
        found = [column for column in found if master.takes(column)]
        for column in found:
            master.add(column)
        new += found
        if not found:
            break
    _, duals, prices = master.solve()
    _, worths = price(problem, kernels, relaxed.rows, duals, prices, exact=True)
    return duals.copy(), worths, new


def sets_below(
    problem: Problem,
    lots: Sequence[Lot],
    demand: Floats,
    history: Sequence[tuple[Floats, Floats]],
    cost: float,
    seconds: float,
    barred: Iterable[frozenset[int]] = (),
    most: int = 12,
) -> int | None:
    """Return how many sets of boards are not ruled out below `cost`, in cents.

    Every plan that costs less takes its boards from one of these sets: each is the
    cheapest set that is no part of those before, nor of a `barred` one that is ruled out
    already, and any other costs more. None if there are more than `most`, or no time to
    count them.
    """
    cheapest = cheapest_first(problem, lots, demand, history, seconds, barred)
    count = 0
    for found in islice(cheapest, most + 1):
        if found is None or (found.bound < cost and not found.bins):
            return None
        if found.bound >= cost:
            return count
        count += 1
    return count if count <= most else None
