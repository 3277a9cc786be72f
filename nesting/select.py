"""The bound for whole boards: the cheapest set of boards that could hold everything.

For any values, exact pricing gives the best pattern value of each board, so the boards of
every plan satisfy `values . demand + offcut credit <= sum of board values`. The cheapest
set of whole boards under all such cuts is a lower bound on the cost of any plan. The set
found is then checked by column generation over just its boards; the duals of that check
give the next cut (Benders 1962). Trips are in it, and the credit of kept offcuts.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

from ortools.sat.python import cp_model

from nesting.columns import Column, Master, Relaxation, price
from nesting.patterns import Floats, Kernel
from nesting.problem import Problem
from nesting.solvers import solver_for

FINE = 100  # units per cent in the integer model


@dataclass(frozen=True, slots=True)
class Selection:
    """A proven bound in cents, and the boards of the set that attains it."""

    bound: float
    bins: frozenset[int]
    rounds: int


def select(
    problem: Problem,
    kernels: tuple[Kernel, ...],
    relaxed: Relaxation,
    *,
    stop: Callable[[], bool],
    seconds: float,
    seed: int = 1,
    rounds: int = 60,
) -> Selection:
    """Return the best bound that whole boards prove before `stop`.

    `seconds` limits each integer solve; its own bound is valid whenever it stops.
    """
    cuts = list(relaxed.history)
    best = Selection(relaxed.bound, frozenset(), 0)
    columns = list(relaxed.columns)
    for number in range(1, rounds + 1):
        bound, chosen, claimed = _cheapest_set(problem, relaxed, cuts, seconds, seed)
        if bound > best.bound:
            best = Selection(bound, chosen, number)
        if stop() or not chosen:
            break
        found, real, new = _check(problem, kernels, relaxed, columns, chosen)
        cuts += found
        columns += new
        if real <= claimed + 0.0005 * abs(relaxed.bound):
            break
    return best


def _cheapest_set(
    problem: Problem,
    relaxed: Relaxation,
    cuts: list[tuple[Floats, Floats]],
    seconds: float,
    seed: int,
) -> tuple[float, frozenset[int], float]:
    """Return the bound, the set, and the net cost that the cuts claim for it."""
    model = cp_model.CpModel()
    use = [model.new_bool_var("") for _ in problem.bins]
    fixed: list[cp_model.LinearExprT] = []
    for yard, cost in problem.trips.items():
        visit = model.new_bool_var("")
        fixed.append(cost * FINE * visit)
        for one in problem.bins:
            if one.yard == yard:
                model.add_implication(use[one.index], visit)
    most = sum(one.cost for one in problem.bins) * FINE
    credit = model.new_int_var(0, most, "")
    for duals, worths in cuts:
        right = math.floor(float(duals @ relaxed.rows.demand) * FINE - 1)
        left = [math.ceil(float(worth) * FINE + 1) for worth in worths]
        held = cp_model.LinearExpr.weighted_sum(use, left)
        model.add(held - credit >= right)
    paid = cp_model.LinearExpr.weighted_sum(use, [one.cost * FINE for one in problem.bins])
    model.minimize(paid + cp_model.LinearExpr.sum(fixed) - credit)
    solver = solver_for(seconds, seed)
    status = solver.solve(model)
    if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return relaxed.bound, frozenset(), 0.0
    chosen = frozenset(
        one.index for one in problem.bins if solver.boolean_value(use[one.index])
    )
    return solver.best_objective_bound / FINE, chosen, solver.objective_value / FINE


def _check(
    problem: Problem,
    kernels: tuple[Kernel, ...],
    relaxed: Relaxation,
    columns: list[Column],
    chosen: frozenset[int],
) -> tuple[list[tuple[Floats, Floats]], float, list[Column]]:
    """Cut from just the chosen boards; return new cuts, the cost, and new columns."""
    master = Master(problem, relaxed.rows, chosen)
    for column in columns:
        master.add(column)
    sunk = sum(problem.bins[index].cost for index in chosen)
    sunk += sum(
        problem.trips[yard]
        for yard in {problem.bins[i].yard for i in chosen} - {None}
        if yard
    )
    new: list[Column] = []
    cuts: list[tuple[Floats, Floats]] = []
    cost = 0.0
    for _ in range(6):
        cost, duals, prices = master.solve()
        found, worths = price(problem, kernels, relaxed.rows, duals, prices, exact=False)
        found = [column for column in found if column.bin in chosen]
        for column in found:
            master.add(column)
        new += found
        if not found:
            break
    _, duals, prices = master.solve()
    _, worths = price(problem, kernels, relaxed.rows, duals, prices, exact=True)
    cuts.append((duals.copy(), worths))
    return cuts, sunk + cost, new
