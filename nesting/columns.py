"""The linear master, its duals, and the bound that they prove.

Column generation (Gilmore and Gomory 1961): a column is a pattern on one board, its cost
the board's cost less the credit of the offcuts it keeps. For any values the exact pricing
gives a lower bound on the cost of every plan (Lagrangian bound, Geoffrion 1974):

    values . demand + sum over boards of min(0, cost - best pattern value)

where the boards of a yard share its trip cost. Marks, match rules, gangs of unlike boards
and sawing time are relaxed, so the bound holds with them too.
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field

import numpy as np
from ortools.linear_solver import pywraplp

from nesting.patterns import Floats, Kernel, Section, Tables, Values
from nesting.problem import Bin, Problem

Clock = Callable[[], float]


@dataclass(frozen=True, slots=True)
class Rows:
    """Which row of the master belongs to which item, and its demand.

    A solid item has one row (pieces); a panel item has two: net width, and staves.
    """

    demand: Floats
    first: tuple[int, ...]

    def values(self, problem: Problem, duals: Floats) -> Values:
        """Spread row duals over the three kinds of value."""
        count = len(problem.items)
        piece, net, stave = np.zeros(count), np.zeros(count), np.zeros(count)
        for item in problem.items:
            row = self.first[item.index]
            if item.is_panel:
                net[item.index], stave[item.index] = duals[row], duals[row + 1]
            else:
                piece[item.index] = duals[row]
        return Values(piece, net, stave)

    def coefficients(self, problem: Problem, sections: Iterable[Section]) -> Floats:
        """Return what a pattern adds to each row."""
        found = np.zeros(len(self.demand))
        for section in sections:
            for strip in section.strips:
                for i, _, whole in strip.pieces:
                    item, row = problem.items[i], self.first[i]
                    if not item.is_panel:
                        found[row] += 1
                    elif whole:
                        found[row] += item.need
                        found[row + 1] += item.staves
                    else:
                        found[row] += strip.width - item.joint
                        found[row + 1] += 1
        return found


def rows_for(problem: Problem, units: Iterable[int] | None = None) -> Rows:
    """Return the rows of a problem; `units` replaces how many of each item are wanted."""
    wanted = [item.units for item in problem.items] if units is None else list(units)
    demand: list[float] = []
    first: list[int] = []
    for item, count in zip(problem.items, wanted, strict=True):
        first.append(len(demand))
        if item.is_panel:
            demand += [count * item.need, count * item.staves]
        else:
            demand.append(count)
    return Rows(np.array(demand, dtype=float), tuple(first))


@dataclass(frozen=True, slots=True)
class Group:
    """Bins that share a kernel: the same items wanted, the same credit of offcuts."""

    kernel: Kernel
    bins: tuple[Bin, ...]
    credit: float


def groups_for(problem: Problem) -> tuple[Group, ...]:
    """Gather bins by what they serve and what their offcuts are worth."""
    together: dict[tuple[frozenset[int], float], list[Bin]] = {}
    for one in problem.bins:
        together.setdefault((one.wanted, one.credit), []).append(one)
    kernels: dict[frozenset[int], Kernel] = {}
    found = []
    for (wanted, credit), bins in together.items():
        if wanted not in kernels:
            alike = [one for one in problem.bins if one.wanted == wanted]
            kernels[wanted] = Kernel(
                problem,
                wanted,
                max(one.length for one in alike),
                max(max(one.width, one.width2) for one in alike),
            )
        found.append(Group(kernels[wanted], tuple(bins), credit))
    return tuple(found)


def bin_value(tables: Tables, one: Bin) -> float:
    """Value of the best pattern of a bin, marks and zones relaxed."""
    return tables.board_value(one.length, max(one.width, one.width2), one.narrow)


@dataclass(frozen=True, slots=True)
class Column:
    """A pattern of one bin: its cost net of credit, and what it adds to each row."""

    bin: int
    cost: float
    adds: Floats
    sections: tuple[Section, ...]


@dataclass(slots=True)
class Relaxation:
    """What column generation learned.

    Attributes
    ----------
    bound
        Proven lower bound on the cost of any plan, in cents.
    values
        Values that the bound was proven with.
    history
        Every vector of duals that was priced exactly, with each bin's value: each is a
        valid cut for the choice of boards.
    columns
        All patterns generated.
    """

    rows: Rows
    bound: float
    values: Values
    history: list[tuple[Floats, Floats]] = field(default_factory=list)
    columns: list[Column] = field(default_factory=list)
    lp_cost: float = math.inf
    feasible: bool = True


class Master:
    """The linear master over the columns so far, solved by GLOP from its last basis."""

    def __init__(self, problem: Problem, rows: Rows) -> None:
        self.problem = problem
        self.rows = rows
        self.solver = pywraplp.Solver.CreateSolver("GLOP")
        inf = self.solver.infinity()
        self.cover = [self.solver.Constraint(float(d), inf) for d in rows.demand]
        self.use = [self.solver.Constraint(-inf, 1.0 if one.yard is None else 0.0) for one in problem.bins]
        self.objective = self.solver.Objective()
        self.objective.SetMinimization()
        self.visits = {}
        for yard, cost in problem.trips.items():
            visit = self.solver.NumVar(0.0, 1.0, "")
            self.objective.SetCoefficient(visit, float(cost))
            self.visits[yard] = visit
        for one in problem.bins:
            if one.yard is not None:
                self.use[one.index].SetCoefficient(self.visits[one.yard], -1.0)
        self.lacks = []
        dearest = _dearest(problem)
        for item in problem.items:
            row = rows.first[item.index]
            price = 4.0 * dearest * item.area + 1000.0
            for offset, share in ((0, item.need), (1, item.staves)) if item.is_panel else ((0, 1),):
                lack = self.solver.NumVar(0.0, inf, "")
                self.cover[row + offset].SetCoefficient(lack, 1.0)
                self.objective.SetCoefficient(lack, price / share)
                self.lacks.append(lack)
        self.uses: list[pywraplp.Variable] = []

    def add(self, column: Column) -> None:
        """Add one column."""
        use = self.solver.NumVar(0.0, self.solver.infinity(), "")
        self.objective.SetCoefficient(use, column.cost)
        self.use[column.bin].SetCoefficient(use, 1.0)
        for row in np.flatnonzero(column.adds):
            self.cover[row].SetCoefficient(use, float(column.adds[row]))
        self.uses.append(use)

    def solve(self) -> tuple[float, Floats, Floats]:
        """Return the cost, the duals of the demand rows, and those of the bins."""
        status = self.solver.Solve()
        if status != pywraplp.Solver.OPTIMAL:
            raise ArithmeticError(f"the linear master ended with status {status}")
        duals = np.maximum(0.0, np.array([row.dual_value() for row in self.cover]))
        prices = np.array([row.dual_value() for row in self.use])
        return self.objective.Value(), duals, prices

    @property
    def lacking(self) -> float:
        """How much of the demand the columns leave open."""
        return float(sum(lack.solution_value() for lack in self.lacks))


def _dearest(problem: Problem) -> float:
    """Greatest cost of a square grid step of any bin."""
    return max(
        (one.cost / (one.length * max(1, one.narrow)) for one in problem.bins), default=1.0
    )


def lagrangian(problem: Problem, rows: Rows, duals: Floats, worths: Floats) -> float:
    """Return the bound that `duals` prove, given each bin's exact best value."""
    total = float(duals @ rows.demand)
    shared: dict[str, float] = {}
    for one in problem.bins:
        gain = min(0.0, one.cost - float(worths[one.index]))
        if one.yard is None:
            total += gain
        else:
            shared[one.yard] = shared.get(one.yard, 0.0) + gain
    return total + sum(min(0.0, problem.trips[yard] + gain) for yard, gain in shared.items())


def price(
    problem: Problem, groups: Iterable[Group], values: Values, *, exact: bool
) -> tuple[list[tuple[Group, Tables]], Floats]:
    """Return the tables of each group and the value of each bin's best pattern."""
    worths = np.zeros(len(problem.bins))
    done = []
    for group in groups:
        sections = None if exact else group.kernel.pair_sections()
        tables = group.kernel.solve(values, group.credit, sections)
        tables.fill(one.width for one in group.bins if one.width == one.width2)
        for one in group.bins:
            worths[one.index] = bin_value(tables, one)
        done.append((group, tables))
    return done, worths


def column_for(problem: Problem, rows: Rows, tables: Tables, one: Bin) -> Column:
    """Return the best pattern of a bin as a column, its kept offcuts taken off its cost."""
    wide = max(one.width, one.width2)
    value, sections = tables.board(one.length, wide, one.narrow)
    adds = rows.coefficients(problem, sections)
    duals_worth = _worth(problem, tables, sections)
    return Column(one.index, one.cost - max(0.0, value - duals_worth), adds, sections)


def _worth(problem: Problem, tables: Tables, sections: Iterable[Section]) -> float:
    """Value of a pattern's pieces alone, without the credit of its offcuts."""
    kernel = tables.kernel
    total = 0.0
    column_of = {int(width): w for w, width in enumerate(kernel.actual)}
    row_of = {(i, s): a for a, (i, s, _) in enumerate(kernel.shapes)}
    for section in sections:
        for strip in section.strips:
            w = column_of[strip.width]
            total += sum(float(tables.worth[row_of[i, s], w]) for i, s, _ in strip.pieces)
    return total


def relax(
    problem: Problem,
    groups: tuple[Group, ...],
    rows: Rows,
    *,
    stop: Callable[[], bool],
    rounds: int = 60,
    tolerance: float = 0.0005,
) -> Relaxation:
    """Run column generation until its bound is tight or `stop` says so.

    Rounds price restricted sections first (pieces and pairs); once those find nothing
    more, every sum of lengths may be a section, and only those rounds prove a bound.
    """
    master = Master(problem, rows)
    result = Relaxation(rows, 0.0, rows.values(problem, np.zeros(len(rows.demand))))
    centre: Floats | None = None
    best = -math.inf
    exact = False
    for _ in range(rounds):
        cost, duals, prices = master.solve()
        result.lp_cost, result.feasible = cost, master.lacking < 1e-6
        tried = duals if centre is None else 0.5 * centre + 0.5 * duals
        added, bound, tables = _round(problem, groups, rows, tried, prices, result, exact=exact)
        if not added and centre is not None:
            tried = duals
            added, bound, tables = _round(problem, groups, rows, duals, prices, result, exact=exact)
        if exact and bound > result.bound:
            result.bound = bound
            result.values = rows.values(problem, tried)
        if bound > best:
            best, centre = bound, tried
        for column in added:
            master.add(column)
            result.columns.append(column)
        tight = cost - bound <= tolerance * abs(cost)
        if (tight or not added) and exact:
            break
        if tight or not added:
            exact, best, centre = True, -math.inf, None
        if stop():
            break
    if not exact:
        _, duals, prices = master.solve()
        _, bound, _ = _round(problem, groups, rows, duals, prices, result, exact=True)
        if bound > result.bound:
            result.bound, result.values = bound, rows.values(problem, duals)
    return result


def _round(
    problem: Problem,
    groups: tuple[Group, ...],
    rows: Rows,
    duals: Floats,
    prices: Floats,
    result: Relaxation,
    *,
    exact: bool,
) -> tuple[list[Column], float, list[tuple[Group, Tables]]]:
    """Price all bins once: new columns, the bound the duals prove, and the tables."""
    values = rows.values(problem, duals)
    tables, worths = price(problem, groups, values, exact=exact)
    bound = lagrangian(problem, rows, duals, worths)
    if exact:
        result.history.append((duals.copy(), worths))
    added = []
    for group, table in tables:
        for one in group.bins:
            reduced = one.cost - worths[one.index] - min(0.0, prices[one.index])
            if reduced < -1e-6 * max(1.0, one.cost):
                added.append(column_for(problem, rows, table, one))
    return added, bound, tables


def seconds_since(start: float) -> float:
    """Return the seconds that have passed since `start`."""
    return time.monotonic() - start
