"""How many times the demand a set of boards holds, each board cut by one pattern or mixed.

Column generation (Gilmore and Gomory 1961) for the greatest `times` with

    sum over boards of a mix of the board's patterns >= times . demand

For any prices at which the whole demand is worth 1, no mix holds more than the best
patterns of all boards are worth together: that proves an upper bound each round.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from ortools.linear_solver import pywraplp

from nesting.columns import Rows
from nesting.patterns import Floats, Kernel
from nesting.problem import Bin, Problem

ROUNDS = 100
CLOSE = 1e-4  # a share of the demand: an upper bound so near what is reached will do


@dataclass(frozen=True, slots=True)
class Best:
    """The best pattern of one board at given prices: its worth, what it adds to each row.

    `adds` is None if nothing is cut.
    """

    worth: float
    adds: Floats | None


@dataclass(frozen=True, slots=True)
class Prices:
    """Prices of rows at which the whole demand is worth 1, and each board's best worth."""

    duals: Floats
    worths: Floats

    @property
    def times(self) -> float:
        """How many times the demand no mix of patterns exceeds."""
        return float(self.worths.sum())


class Mix:
    """The linear program over the patterns so far.

    Parameters
    ----------
    boards
        How many boards there are.

    Attributes
    ----------
    held
        What each board adds to each row in the mix that was found last.
    """

    def __init__(self, demand: Floats, boards: int) -> None:
        self.demand = demand
        self.solver = pywraplp.Solver.CreateSolver("GLOP")
        inf = self.solver.infinity()
        self.reached = self.solver.NumVar(0.0, inf, "")
        self.solver.Objective().SetCoefficient(self.reached, 1.0)
        self.solver.Objective().SetMaximization()
        self.cover = [self.solver.Constraint(0.0, inf) for _ in demand]
        for row in self.cover:  # every row is a share of its demand
            row.SetCoefficient(self.reached, -1.0)
        self.use = [self.solver.Constraint(-inf, 1.0) for _ in range(boards)]
        self.known: set[tuple[int, tuple[float, ...]]] = set()
        self.uses: list[tuple[int, Floats, pywraplp.Variable]] = []
        self.held = np.zeros((boards, len(demand)))

    def add(self, found: Sequence[Best]) -> bool:
        """Add the best pattern of each board; whether any is new."""
        before = len(self.known)
        for number, best in enumerate(found):
            if best.adds is None or (number, tuple(best.adds)) in self.known:
                continue
            self.known.add((number, tuple(best.adds)))
            use = self.solver.NumVar(0.0, 1.0, "")
            self.uses.append((number, best.adds, use))
            self.use[number].SetCoefficient(use, 1.0)
            for row in np.flatnonzero(best.adds):
                share = float(best.adds[row] / self.demand[row])
                self.cover[row].SetCoefficient(use, share)
        return len(self.known) > before

    def solve(self) -> tuple[float, Floats] | None:
        """Return how many times the demand the patterns hold, and prices; None: no idea."""
        if self.solver.Solve() != pywraplp.Solver.OPTIMAL:
            return None
        shares = np.maximum(0.0, np.array([-row.dual_value() for row in self.cover]))
        total = float(shares.sum())
        if total <= 0:
            return None
        self.held[:] = 0.0
        for number, adds, use in self.uses:
            self.held[number] += use.solution_value() * adds
        return self.reached.solution_value(), shares / self.demand / total


def most_times(
    demand: Floats,
    start: Floats,
    price: Callable[[Floats], list[Best]],
    mix: Mix,
    stop: Callable[[], bool],
) -> list[Prices]:
    """Return all prices tried, from `start` on; the least `times` of any is proven.

    Every row has a demand. Ends early once less than the whole demand is proven. Prices
    are smoothed half and half towards the best so far.
    """
    tried: list[Prices] = []
    now, is_smoothed = start / float(start @ demand), False
    for _ in range(ROUNDS):
        found = price(now)
        tried.append(Prices(now, np.array([best.worth for best in found])))
        best = min(tried, key=lambda prices: prices.times)
        is_new = mix.add(found)
        if best.times < 1.0 or stop() or not (is_new or is_smoothed):
            break
        solved = mix.solve()
        if solved is None or best.times - solved[0] < CLOSE:
            break
        is_smoothed = is_new
        now = 0.5 * best.duals + 0.5 * solved[1] if is_smoothed else solved[1]
        now = now / float(now @ demand)
    return tried


class Boards:
    """Clear boards of a set without any credit, priced pattern by pattern."""

    def __init__(self, problem: Problem, rows: Rows, bins: Sequence[Bin]) -> None:
        self.problem, self.rows = problem, rows
        self.bins = tuple(replace(one, credit=0.0) for one in bins)
        self.kernel = Kernel(problem, self.bins)

    def price(self, duals: Floats) -> list[Best]:
        """Return the best pattern of each board; no way to cut it is worth more."""
        tables = self.kernel.solve(self.rows.values(self.problem, duals), exact=True)
        found = []
        for row in range(len(self.bins)):
            adds = self.rows.coefficients(self.problem, tables.pattern(row))
            found.append(Best(float(tables.worths[row]), adds if adds.any() else None))
        return found

    def solve(self, stop: Callable[[], bool]) -> list[Prices]:
        """Return all prices tried; the first are by area."""
        start = np.zeros(len(self.rows.demand))
        for item in self.problem.items:
            first = self.rows.first[item.index]
            start[first] = item.length if item.is_panel else item.area
        mix = Mix(self.rows.demand, len(self.bins))
        return most_times(self.rows.demand, start, self.price, mix, stop)
