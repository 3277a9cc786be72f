"""The linear master, its duals, and the bound that they prove.

Column generation (Gilmore and Gomory 1961): a column is a pattern on one board, its cost
the board's cost less the credit of the offcuts it keeps. For any values the exact pricing
gives a lower bound on the cost of every plan (Lagrangian bound, Geoffrion 1974):

    values . demand + sum over boards of min(0, cost - best pattern value)

where the boards of a yard share its trip cost. Marks count (`nesting.marked`): the patterns
of boards with marks are no better than their limit, though not all of them can be cut.
Zones, marks of tapered boards, match rules, gangs of unlike boards and sawing time are
relaxed, so the bound holds with them too.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from itertools import product

import numpy as np
from ortools.linear_solver import pywraplp

from nesting.cuttings import SCALE, Cutting
from nesting.marked import marked_bins
from nesting.patterns import Floats, Kernel, Section, Tables, Values
from nesting.problem import Bin, Problem

MANY = 3  # bins that are alike and get more columns a round than one
MOST_STILL = 5  # rounds in which neither cost nor bound moves


@dataclass(frozen=True, slots=True)
class Rows:
    """Which row of the master belongs to which item, and its demand.

    A solid item has one row (pieces); a panel item has two: net width, and staves. Items
    may share rows; `per` is what a piece of each counts there, 1 if it is empty.
    """

    demand: Floats
    first: tuple[int, ...]
    per: tuple[int, ...] = ()

    def counts(self, index: int) -> int:
        """Return what a piece of an item counts in its rows."""
        return self.per[index] if self.per else 1

    def values(self, problem: Problem, duals: Floats) -> Values:
        """Spread row duals over the three kinds of value."""
        count = len(problem.items)
        piece, net, stave = np.zeros(count), np.zeros(count), np.zeros(count)
        for item in problem.items:
            row, counts = self.first[item.index], self.counts(item.index)
            if item.is_panel:
                net[item.index] = duals[row] * counts
                stave[item.index] = duals[row + 1] * counts
            else:
                piece[item.index] = duals[row] * counts
        return Values(piece, net, stave)

    def coefficients(self, problem: Problem, sections: Iterable[Section]) -> Floats:
        """Return what a pattern adds to each row."""
        found = np.zeros(len(self.demand))
        for section in sections:
            for strip in section.strips:
                for i, _, whole in strip.pieces:
                    item, row, counts = problem.items[i], self.first[i], self.counts(i)
                    if not item.is_panel:
                        found[row] += counts
                    elif whole:
                        found[row] += item.need * counts
                        found[row + 1] += item.staves * counts
                    else:
                        found[row] += (strip.width - item.joint) * counts
                        found[row + 1] += counts
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


def kernels_for(problem: Problem) -> tuple[Kernel, ...]:
    """Return one kernel for every lot of bins that share no item with another lot.

    Of bins that are alike a kernel has the first: a pattern of it is one of the others.
    """
    lots: list[tuple[set[int], list[Bin]]] = []
    for one in (problem.bins[stack[0]] for stack in problem.stacks):
        items, bins = set(one.wanted), [one]
        apart = []
        for lot in lots:
            if items.isdisjoint(lot[0]):
                apart.append(lot)
            else:
                items |= lot[0]
                bins = lot[1] + bins
        lots = [*apart, (items, bins)]
    return tuple(Kernel(problem, bins) for _, bins in lots)


@dataclass(frozen=True, slots=True)
class Column:
    """A pattern of one bin: its cost net of credit, and what it adds to each row.

    It is a pattern of every bin that is alike, too.
    """

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
    """The linear master over the columns so far, solved by GLOP from its last basis.

    Bins that are alike share a row: their columns are cut as often as there are bins.

    Parameters
    ----------
    chosen
        Bins that are bought whatever is cut from them; no other may be cut. Then their
        cost and trips are left out of the objective. None leaves all bins open.
    asked
        Per row, what a unit of it counts if it lacks, in cents; no value of a row gets
        above that. None asks for more than any plan may cost.
    """

    def __init__(
        self,
        problem: Problem,
        rows: Rows,
        chosen: frozenset[int] | None = None,
        asked: Floats | None = None,
    ) -> None:
        self.problem = problem
        self.rows = rows
        self.chosen = chosen
        self.solver = pywraplp.Solver.CreateSolver("GLOP")
        inf = self.solver.infinity()
        self.cover = [self.solver.Constraint(float(d), inf) for d in rows.demand]
        self.counts = [
            len(stack if chosen is None else chosen.intersection(stack))
            for stack in problem.stacks
        ]
        yards = [problem.bins[stack[0]].yard for stack in problem.stacks]
        self.use = [
            self.solver.Constraint(
                -inf, 0.0 if chosen is None and yard is not None else float(count)
            )
            for yard, count in zip(yards, self.counts, strict=True)
        ]
        self.objective = self.solver.Objective()
        self.objective.SetMinimization()
        if chosen is None:
            for yard, cost in problem.trips.items():
                visit = self.solver.NumVar(0.0, 1.0, "")
                self.objective.SetCoefficient(visit, float(cost))
                for row, where, count in zip(self.use, yards, self.counts, strict=True):
                    if where == yard:
                        row.SetCoefficient(visit, -float(count))
        self.lacks = []
        for item in problem.items:
            row = rows.first[item.index]
            price = float(problem.penalties[item.index])
            for offset, share in (
                ((0, item.need), (1, item.staves)) if item.is_panel else ((0, 1),)
            ):
                lack = self.solver.NumVar(0.0, inf, "")
                self.cover[row + offset].SetCoefficient(lack, 1.0)
                least = price / share if asked is None else float(asked[row + offset])
                self.objective.SetCoefficient(lack, least)
                self.lacks.append(lack)
        self.uses: list[pywraplp.Variable] = []

    def add(self, column: Column) -> None:
        """Add one column; none whose bin is not chosen."""
        cost = column.cost
        if not self.takes(column):
            return
        if self.chosen is not None:
            cost -= self.problem.bins[column.bin].cost
        use = self.solver.NumVar(0.0, self.solver.infinity(), "")
        self.objective.SetCoefficient(use, round(cost, 6))  # 1e-13 leads GLOP astray
        self.use[self.problem.stack_of[column.bin]].SetCoefficient(use, 1.0)
        for row in np.flatnonzero(column.adds):
            self.cover[row].SetCoefficient(use, float(column.adds[row]))
        self.uses.append(use)

    def takes(self, column: Column) -> bool:
        """Return whether a bin that is like the column's may be cut."""
        return self.counts[self.problem.stack_of[column.bin]] > 0

    def solve(self) -> tuple[float, Floats, Floats]:
        """Return the cost, the duals of the demand rows, and what each bin's row allows.

        The last is what a column may cost more than its value and not pay: 0 or less for
        open bins; for chosen ones their cost, which is sunk, comes on top.

        Raises
        ------
        ArithmeticError
            If no way of the solver ends with an optimum.
        """
        status = self.solver.Solve()
        for parameters in _other_ways():  # the last basis led astray: start anew
            if status == pywraplp.Solver.OPTIMAL:
                break
            status = self.solver.Solve(parameters)
        if status != pywraplp.Solver.OPTIMAL:
            raise ArithmeticError(f"the linear master ended with status {status}")
        duals = np.maximum(0.0, np.array([row.dual_value() for row in self.cover]))
        shared = np.minimum(0.0, np.array([row.dual_value() for row in self.use]))
        prices = shared[list(self.problem.stack_of)]
        if self.chosen is not None:
            prices += np.array([one.cost for one in self.problem.bins])
        return self.objective.Value(), duals, prices

    def ask(self, asked: Floats) -> None:
        """Change what a unit of each row counts if it lacks, in cents."""
        for lack, price in zip(self.lacks, asked, strict=True):
            self.objective.SetCoefficient(lack, float(price))

    @property
    def lacking(self) -> float:
        """How much of the demand the columns leave open."""
        return float(sum(lack.solution_value() for lack in self.lacks))


def _other_ways() -> Iterator[pywraplp.MPSolverParameters]:
    """Yield ways to solve from scratch, for a master that ended abnormally."""
    kinds = pywraplp.MPSolverParameters
    for presolve, algorithm in product(
        (kinds.PRESOLVE_ON, kinds.PRESOLVE_OFF), (kinds.DUAL, kinds.PRIMAL)
    ):
        parameters = kinds()
        parameters.SetIntegerParam(kinds.INCREMENTALITY, kinds.INCREMENTALITY_OFF)
        parameters.SetIntegerParam(kinds.PRESOLVE, presolve)
        parameters.SetIntegerParam(kinds.LP_ALGORITHM, algorithm)
        yield parameters


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
    return total + sum(
        min(0.0, problem.trips[yard] + gain) for yard, gain in shared.items()
    )


def relax(
    problem: Problem,
    kernels: tuple[Kernel, ...],
    rows: Rows,
    *,
    start: Iterable[Column] = (),
    stop: Callable[[], bool],
    rounds: int = 80,
    tolerance: float = 0.0005,
) -> Relaxation:
    """Run column generation until its bound is tight or `stop` says so.

    Rounds try plain sections first; once those yield nothing more, every sum of lengths
    may be a section, and only such rounds prove a bound. Both end, too, once neither cost
    nor bound has moved for `MOST_STILL` rounds; the last fourth of `rounds` is exact in
    any case. Values are smoothed towards the best seen so far (half and half), which
    steadies the duals. `start` are columns known before. A master that can't be solved
    ends the run too.
    """
    master = Master(problem, rows)
    result = Relaxation(rows, 0.0, rows.values(problem, np.zeros(len(rows.demand))))
    for column in start:
        master.add(column)
    centre: Floats | None = None
    best = -math.inf
    exact, still, least = False, 0, math.inf
    for number in range(1, rounds + 1):
        try:
            cost, duals, prices = master.solve()
        except ArithmeticError:  # what is proven so far holds
            break
        result.lp_cost, result.feasible = cost, master.lacking < 1e-6
        tried = duals if centre is None else 0.5 * centre + 0.5 * duals
        added, bound = _round(problem, kernels, rows, tried, prices, result, exact=exact)
        if not added and centre is not None:
            tried = duals
            added, bound = _round(
                problem, kernels, rows, duals, prices, result, exact=exact
            )
        still = 0 if bound > best or cost < least else still + 1
        least = min(least, cost)
        if bound > best:
            best, centre = bound, tried
            result.values = rows.values(problem, tried)
        if exact:
            result.bound = max(result.bound, bound)
        for column in added:
            master.add(column)
            result.columns.append(column)
        tight = cost - best <= tolerance * abs(cost)
        done = tight or not added or still == MOST_STILL or stop()
        if done and exact:
            break
        if not exact and (done or 4 * number >= 3 * rounds):
            exact, still, best, centre = True, 0, -math.inf, None
    return result


def _round(
    problem: Problem,
    kernels: tuple[Kernel, ...],
    rows: Rows,
    duals: Floats,
    prices: Floats,
    result: Relaxation,
    *,
    exact: bool,
) -> tuple[list[Column], float]:
    """Price all bins once; return new columns and the bound that the duals prove."""
    added, worths = price(problem, kernels, rows, duals, prices, exact=exact)
    if exact:
        result.history.append((duals.copy(), worths))
    return added, lagrangian(problem, rows, duals, worths)


def price(
    problem: Problem,
    kernels: tuple[Kernel, ...],
    rows: Rows,
    duals: Floats,
    prices: Floats,
    *,
    exact: bool,
    only: frozenset[int] | None = None,
    most: int | None = None,
) -> tuple[list[Column], Floats]:
    """Return columns that pay, given what each bin costs, and each bin's best value.

    Bins that are alike are priced once: a column of one is a column of all.
    `prices` are the allowances of `Master.solve`: a column pays if its value is above the
    bin's cost less its allowance. `only` are the bins that columns are wanted of; None
    wants columns of all. Of a kernel's bins the `most` that pay best give one. Marks count
    for values that are exact, and for columns.
    """
    values = rows.values(problem, duals)
    worths = np.zeros(len(problem.bins))
    added = []
    for kernel in kernels:
        tables = kernel.solve(values, exact=exact)
        pays = np.array([b.cost - prices[b.index] for b in kernel.bins])
        if only is not None:
            pays[[b.index not in only for b in kernel.bins]] = np.inf
        marked = marked_bins(tables, np.full(len(pays), -1.0) if exact else pays)
        paying: list[tuple[float, int]] = []
        for row, one in enumerate(kernel.bins):
            worths[list(problem.stacks[problem.stack_of[one.index]])] = tables.worths[row]
            reduced = pays[row] - tables.worths[row]
            if reduced < -1e-6 * max(1.0, one.cost):
                paying.append((float(reduced), row))
        if most is not None and len(paying) > most:
            paying = sorted(paying)[:most]
        for reduced, row in paying:
            one, best = kernel.bins[row], marked.get(row)
            sections = tables.pattern(row) if best is None else best.pattern()
            worth = float(tables.worths[row]) if best is None else best.best
            credit = tables.offcut_credit(worth, sections)
            adds = rows.coefficients(problem, sections)
            added.append(Column(one.index, one.cost - credit, adds, sections))
            added += _others(problem, rows, tables, row, reduced)
    return added, worths


def _others(
    problem: Problem, rows: Rows, tables: Tables, row: int, reduced: float
) -> list[Column]:
    """Return more columns of a bin that stands for many: each the best with some section.

    Only those that pay at least half of what the best one does, `reduced`; none of a bin
    whose offcuts are worth something, for the tables credit only the best pattern's.
    """
    one = tables.kernel.bins[row]
    if one.credit > 0 or len(problem.stacks[problem.stack_of[one.index]]) < MANY:
        return []
    found: dict[tuple[float, ...], Column] = {}
    for s in tables.lasts(row, -reduced / 2):
        sections = tables.pattern(row, s)
        adds = rows.coefficients(problem, sections)
        found[tuple(adds)] = Column(one.index, one.cost, adds, sections)
    return list(found.values())


def known_column(problem: Problem, rows: Rows, cutting: Cutting) -> Column:
    """Return a cutting of a built plan as a column."""
    sections = tuple(Section(band.length, band.strips) for band in cutting.bands)
    return Column(
        cutting.bin, cutting.cost / SCALE, rows.coefficients(problem, sections), sections
    )
