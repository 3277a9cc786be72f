"""What the sheets for a demand cost at least: column generation, then whole sheets.

For any values of the pieces, the sheets of a plan hold together no more than the sum of
what each can hold at most, and the demand must be held. Column generation (Gilmore and
Gomory 1965, Oper. Res. 13:94-120) finds values that ask for much; the cheapest whole
sheets that no such values rule out are a bound on every plan.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field

from ortools.linear_solver import pywraplp
from ortools.sat.python import cp_model

from nesting.sheet_counted import proven
from nesting.sheet_demand import Demand, Pattern
from nesting.sheet_free import Filled, Free
from nesting.solvers import solver_for

FINE = 10**6  # whole parts that the value of a demand is split into
ROUNDS = 150  # of column generation, at most
FEW_POINTS = 250  # of a side at first: values are soon good, though bounds are loose
NODES = 400  # rectangles looked at, where the demand is kept to
CLOSE = 1e-6
ROUNDED = 51  # hundredths of a cent that rounding may take off a top-up

Values = tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Ruling:
    """Values of the pieces, and what a sheet of each kind can hold of them at most."""

    values: Values
    most: tuple[float, ...]


@dataclass(slots=True)
class Relaxed:
    """What column generation learned: rulings, patterns, and its last values."""

    rulings: list[Ruling] = field(default_factory=list)
    patterns: list[Pattern] = field(default_factory=list)
    values: Values = ()


class Master:
    """The linear master: which shares of patterns cover the demand at least cost."""

    def __init__(self, demand: Demand) -> None:
        self.demand = demand
        self.solver = pywraplp.Solver.CreateSolver("GLOP")
        infinity = self.solver.infinity()
        self.cover = [
            self.solver.Constraint(float(one.count), infinity) for one in demand.wants
        ]
        self.use = [
            self.solver.Constraint(-infinity, float(one.count)) for one in demand.stocks
        ]
        self.objective = self.solver.Objective()
        self.objective.SetMinimization()
        for row in self.cover:
            lack = self.solver.NumVar(0.0, infinity, "")
            row.SetCoefficient(lack, 1.0)
            self.objective.SetCoefficient(lack, float(demand.penalty))

    def add(self, pattern: Pattern) -> None:
        """Add a pattern."""
        column = self.solver.NumVar(0.0, self.solver.infinity(), "")
        self.objective.SetCoefficient(column, _price(self.demand, pattern.stock))
        self.use[pattern.stock].SetCoefficient(column, 1.0)
        for number, count in pattern.holds.items():
            self.cover[number].SetCoefficient(column, float(count))

    def solve(self) -> tuple[Values, tuple[float, ...]]:
        """Return the values of the pieces, and what a sheet more of each kind saves."""
        self.solver.Solve()
        values = tuple(max(0.0, row.dual_value()) for row in self.cover)
        return values, tuple(max(0.0, -row.dual_value()) for row in self.use)


def _price(demand: Demand, stock: int) -> float:
    """Return what a sheet costs in the master; free ones count a little, by their area."""
    one = demand.stocks[stock]
    return max(float(one.cost), 1e-7 * one.length * one.width)


def relax(
    demand: Demand, stop: Callable[[], bool], start: Iterable[Pattern] = ()
) -> Relaxed:
    """Return what column generation learns, until nothing better comes or `stop`."""
    found = Relaxed(patterns=list(start))
    master = Master(demand)
    for pattern in found.patterns:
        master.add(pattern)
    tables = _tables(demand, FEW_POINTS)
    is_fine = is_counted = False
    for _ in range(ROUNDS):
        values, saves = master.solve()
        filled = _filled(demand, tables, values, stop if is_counted else None)
        fresh = [
            Pattern(at, one.tree)
            for at, one in filled.items()
            if one.value > (_price(demand, at) + saves[at]) * (1 + CLOSE) + CLOSE
        ]
        most = (filled[at].bound if at in filled else 0.0 for at in range(len(tables)))
        found.rulings.append(Ruling(values, tuple(most)))
        found.values = values
        for pattern in fresh:
            master.add(pattern)
            found.patterns.append(pattern)
        if stop() or (not fresh and is_counted):
            break
        if not fresh and is_fine:
            is_counted = True
        elif not fresh:
            tables, is_fine = _tables(demand), True
    return found


def _filled(
    demand: Demand, tables: Sequence[Free | None], values: Values,
    stop: Callable[[], bool] | None,
) -> dict[int, Filled]:  # fmt: skip
    """Return the best way to fill each kind of sheet; within the demand until `stop`."""
    found = {}
    for at, table in enumerate(tables):
        if table is None:
            continue
        if stop is None or stop():
            found[at] = table.fill(values)
        else:
            found[at] = proven(demand.wants, demand.stocks[at], values, nodes=NODES)
    return found


def _tables(demand: Demand, points: int = 0) -> list[Free | None]:
    """Return what fills the sheets of each kind, None where they serve nothing."""
    return [
        Free(demand.wants, one, points) if one.serves else None for one in demand.stocks
    ]


def whole_bound(
    demand: Demand, rulings: Iterable[Ruling], made: Sequence[int], *, seconds: float,
    work: float = 0.0,
) -> float:  # fmt: skip
    """Return what whole sheets cost at least that no ruling rules out, in cents.

    `made` is how many of each piece a plan makes. Trips and smallest orders are in it, and
    the fewest cuts: of a sheet that gives n pieces, n - 1.
    """
    model = cp_model.CpModel()
    counts = [model.new_int_var(0, min(one.count, sum(made)), "") for one in demand.stocks]
    for ruling in rulings:
        asked = math.fsum(v * n for v, n in zip(ruling.values, made, strict=True))
        if asked <= 0:
            continue
        scale = FINE / asked
        model.add(
            sum(
                min(FINE, math.ceil(scale * most * (1 + 1e-9))) * count
                for most, count in zip(ruling.most, counts, strict=True)
            )
            >= math.floor(FINE * (1 - 1e-9))
        )
    terms: list[cp_model.LinearExprT] = []
    for one, count in zip(demand.stocks, counts, strict=True):
        cuts = demand.per_cut * (demand.trims - 1)
        terms.append(math.floor(100 * (one.cost + cuts)) * count)
    for yard in sorted({one.yard for one in demand.stocks if one.yard} - demand.apart):
        terms += _yard_terms(model, demand, yard, counts)
    model.minimize(sum(terms))
    solver = solver_for(seconds, 1, work)
    status = solver.solve(model)
    if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE, cp_model.UNKNOWN):
        return 0.0
    least = solver.best_objective_bound
    if status == cp_model.UNKNOWN and not math.isfinite(least):
        return 0.0
    return max(0.0, least / 100 + demand.per_cut * sum(made))


def _yard_terms(
    model: cp_model.CpModel, demand: Demand, yard: str, counts: Sequence[cp_model.IntVar]
) -> list[cp_model.LinearExprT]:
    """Return the trip to a yard and what it bills beyond its goods, in hundredths."""
    visit = model.new_bool_var("")
    sold = [
        (one, count)
        for one, count in zip(demand.stocks, counts, strict=True)
        if one.yard == yard
    ]
    for one, count in sold:
        model.add(count <= one.count * visit)
    smallest, tax = demand.orders.get(yard, (0.0, 1.0))
    terms: list[cp_model.LinearExprT] = [100 * demand.trips.get(yard, 0) * visit]
    if smallest > 0:
        most = math.floor(100 * smallest * tax)
        top_up = model.new_int_var(0, most, "")
        goods = sum(math.ceil(100 * one.goods * tax) * count for one, count in sold)
        model.add(top_up >= max(0, most - ROUNDED) * visit - goods)
        terms.append(top_up)
    return terms
