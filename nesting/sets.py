"""Which boards to buy: the cheapest set of bins that values of any kind do not rule out.

For any values, exact pricing gives the best pattern value of each bin, so the bins of every
plan satisfy, for each lot of bins that share no item with another,

    values . demand + credit of kept offcuts <= sum of the values of the lot's bins

These are cuts in the sense of Benders (1962). The integer program over them is solved by
SCIP; each cut is slackened by `SLACK` of its right side, more than its tolerance, so that
what is proven with it holds.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from ortools.linear_solver import pywraplp

from nesting.columns import Rows
from nesting.patterns import Floats, Kernel
from nesting.problem import Bin, Problem, TopUp, top_ups

SLACK = 1e-5


@dataclass(frozen=True, slots=True)
class Cut:
    """What the bins of a lot must be worth together, at one vector of values.

    Attributes
    ----------
    worths
        Per bin of the problem: the value of its best pattern; 0 for those of other lots.
    bins
        Bins of the lot.
    """

    lot: int
    need: float
    worths: Floats
    bins: frozenset[int]


@dataclass(frozen=True, slots=True)
class Set:
    """A set of bins: what it costs net of credit, and what no set goes below."""

    cost: float
    bound: float
    bins: frozenset[int]


class SetModel:
    """The integer program of bins, yards with their smallest orders, and credit.

    Parameters
    ----------
    bins
        Bins that may be taken.
    trips
        Cents for visiting each yard.

    Attributes
    ----------
    is_empty
        Whether the last `solve` proved that there is no set.
    """

    def __init__(
        self, problem: Problem, bins: Iterable[Bin], trips: dict[str, int] | None = None
    ) -> None:
        self.problem = problem
        self.bins = tuple(bins)
        self.solver = pywraplp.Solver.CreateSolver("SCIP")
        self.solver.SetSolverSpecificParametersAsString("misc/catchctrlc = FALSE")
        self.inf = self.solver.infinity()
        objective = self.solver.Objective()
        objective.SetMinimization()
        self.take = {one.index: self.solver.BoolVar("") for one in self.bins}
        for one in self.bins:
            objective.SetCoefficient(self.take[one.index], float(one.cost))
        self.visits: dict[str, pywraplp.Variable] = {}
        for yard, cost in (problem.trips if trips is None else trips).items():
            visit = self.solver.BoolVar("")
            objective.SetCoefficient(visit, float(cost))
            self.visits[yard] = visit
            for one in self.bins:
                if one.yard == yard:
                    row = self.solver.Constraint(-self.inf, 0.0)
                    row.SetCoefficient(self.take[one.index], 1.0)
                    row.SetCoefficient(visit, -1.0)
        for top_up in top_ups(problem):
            if top_up.yard in self.visits:
                self._top_up(top_up)
        self._order()
        self.credits: dict[int, pywraplp.Variable] = {}
        self.most_credit = sum(one.cost for one in self.bins)
        self.is_empty = False

    def _top_up(self, top_up: TopUp) -> None:
        """Pay what a yard that is visited bills beyond the goods bought there."""
        paid = self.solver.NumVar(0.0, self.inf, "")
        self.solver.Objective().SetCoefficient(paid, 1.0)
        row = self.solver.Constraint(0.0, self.inf)
        row.SetCoefficient(paid, 1.0)
        row.SetCoefficient(self.visits[top_up.yard], -top_up.base)
        for one in self.bins:
            if one.index in top_up.goods:
                goods = top_up.rate * top_up.goods[one.index]
                row.SetCoefficient(self.take[one.index], goods)

    def _order(self) -> None:
        """Of bins that are alike take the first: any plan may be moved to them."""
        for stack in self.problem.stacks:
            inside = [self.take[index] for index in stack if index in self.take]
            for before, after in pairwise(inside):
                row = self.solver.Constraint(0.0, self.inf)
                row.SetCoefficient(before, 1.0)
                row.SetCoefficient(after, -1.0)

    def add(self, cut: Cut, times: float = 1.0) -> None:
        """Add a cut; `times` asks for so many times the demand."""
        if cut.need <= 0:
            return
        credit = self.credits.get(cut.lot)
        if credit is None:
            credit = self._credit(cut.bins)
            self.credits[cut.lot] = credit
        row = self.solver.Constraint(times - SLACK, self.inf)
        row.SetCoefficient(credit, -1.0 / cut.need)
        for one in self.bins:
            worth = float(cut.worths[one.index])
            if worth > 0:
                row.SetCoefficient(self.take[one.index], worth / cut.need)

    def add_all(
        self,
        lots: Sequence[Lot],
        demand: Floats,
        history: Iterable[tuple[Floats, Floats]],
        times: float = 1.0,
    ) -> None:
        """Add the cuts of all vectors of duals, each with its bins' best values."""
        for duals, worths in history:
            for cut in cuts_for(lots, demand, duals, worths):
                self.add(cut, times)

    def _credit(self, bins: frozenset[int]) -> pywraplp.Variable:
        """Return the credit of a lot: no more than if all of its boards taken were kept."""
        credit = self.solver.NumVar(0.0, float(self.most_credit), "")
        self.solver.Objective().SetCoefficient(credit, -1.0)
        row = self.solver.Constraint(-self.inf, 0.01)  # a hundredth of a cent to be safe
        row.SetCoefficient(credit, 1.0)
        for one in self.bins:
            if one.index in bins:
                whole = one.credit * one.length * max(one.width, one.width2)
                row.SetCoefficient(self.take[one.index], -whole)
        return credit

    def bar(self, bins: frozenset[int]) -> None:
        """Ask for a bin that is not among these."""
        row = self.solver.Constraint(1.0, self.inf)
        for one in self.bins:
            if one.index not in bins:
                row.SetCoefficient(self.take[one.index], 1.0)

    def solve(self, seconds: float, nodes: int = 0) -> Set | None:
        """Return the cheapest set found; None if there is none, or no time for one.

        `nodes` limits the tree too; 0 does not.
        """
        if nodes:
            self.solver.SetSolverSpecificParametersAsString(
                f"misc/catchctrlc = FALSE\nlimits/totalnodes = {nodes}"
            )
        self.solver.SetTimeLimit(max(1, int(1000 * seconds)))
        status = self.solver.Solve()
        self.is_empty = status == pywraplp.Solver.INFEASIBLE
        if status not in (pywraplp.Solver.OPTIMAL, pywraplp.Solver.FEASIBLE):
            return None
        objective = self.solver.Objective()
        chosen = frozenset(
            b for b, take in self.take.items() if take.solution_value() > 0.5
        )
        return Set(objective.Value(), min(objective.BestBound(), objective.Value()), chosen)


@dataclass(frozen=True, slots=True)
class Lot:
    """Bins that share no item with other bins: the rows of their items, and the bins."""

    rows: tuple[int, ...]
    bins: frozenset[int]


def lots_for(problem: Problem, kernels: Sequence[Kernel], rows: Rows) -> tuple[Lot, ...]:
    """Return the lot of each kernel; it has all bins that are like those of the kernel."""
    found = []
    for kernel in kernels:
        items = frozenset[int]().union(*(one.wanted for one in kernel.bins))
        stacks = [problem.stacks[problem.stack_of[one.index]] for one in kernel.bins]
        held: list[int] = []
        for i in sorted(items):
            first = rows.first[i]
            held += [first, first + 1] if problem.items[i].is_panel else [first]
        rows_once = tuple(dict.fromkeys(held))  # ways of one part share its rows
        found.append(Lot(rows_once, frozenset[int]().union(*stacks)))
    return tuple(found)


def cuts_for(
    lots: Sequence[Lot], demand: Floats, duals: Floats, worths: Floats
) -> list[Cut]:
    """Return one cut per lot: duals of its rows, and its bins' best pattern values."""
    found = []
    for number, lot in enumerate(lots):
        rows, bins = list(lot.rows), sorted(lot.bins)
        own = np.zeros(len(worths))
        own[bins] = worths[bins]
        need = float(duals[rows] @ demand[rows])
        found.append(Cut(number, need, own, lot.bins))
    return found


def cheapest_first(
    problem: Problem,
    lots: Sequence[Lot],
    demand: Floats,
    history: Sequence[tuple[Floats, Floats]],
    seconds: float,
    barred: Iterable[frozenset[int]] = (),
) -> Iterator[Set | None]:
    """Yield sets from the cheapest on, none of them part of one before or of a barred one.

    It ends when there is none any more; None comes if `seconds` were too few to tell.
    """
    model = SetModel(problem, problem.bins)
    model.add_all(lots, demand, history)
    for bins in barred:
        model.bar(bins)
    while True:
        found = model.solve(seconds)
        if found is None and model.is_empty:
            return
        yield found
        if found is not None:
            model.bar(found.bins)
