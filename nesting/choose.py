"""Whole numbers: which patterns to cut.

The linear master of column generation buys fractions of boards. Here its patterns are
chosen in whole numbers by constraint programming. They are of solid pieces; a panel may
have staves of many widths and is chosen elsewhere.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import replace

from ortools.sat.python import cp_model

from nesting.columns import Column, Rows
from nesting.cuttings import SCALE
from nesting.problem import Problem
from nesting.solvers import solver_for


def choose(
    problem: Problem,
    rows: Rows,
    columns: Iterable[Column],
    *,
    seconds: float,
    seed: int = 1,
) -> tuple[Column, ...] | None:
    """Return the cheapest columns that meet the demand, each on a bin of its own.

    A column of one bin may be cut from every bin that is alike. Trips are charged,
    top-ups to smallest orders are not. None if the columns do not meet the demand, or if
    that was not settled in `seconds`.
    """
    distinct: dict[tuple[int, tuple[float, ...]], Column] = {}
    for column in columns:
        key = (problem.stack_of[column.bin], tuple(column.adds))
        if key not in distinct or column.cost < distinct[key].cost:
            distinct[key] = column
    model = cp_model.CpModel()
    uses = {key: model.new_int_var(0, len(problem.stacks[key[0]]), "") for key in distinct}
    for row, demand in enumerate(rows.demand):
        gains = [math.floor(key[1][row]) for key in uses]
        held = cp_model.LinearExpr.weighted_sum(list(uses.values()), gains)
        model.add(held >= math.ceil(demand))
    for number, stack in enumerate(problem.stacks):
        cut = [use for key, use in uses.items() if key[0] == number]
        model.add(cp_model.LinearExpr.sum(cut) <= len(stack))
    prices = [round(distinct[key].cost * SCALE) for key in uses]
    paid = cp_model.LinearExpr.weighted_sum(list(uses.values()), prices)
    trips = cp_model.LinearExpr.sum(_trips(problem, model, uses, distinct))
    model.minimize(paid + trips)
    solver = solver_for(seconds, seed)
    if solver.solve(model) not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return None
    free = [iter(stack) for stack in problem.stacks]
    return tuple(
        replace(distinct[key], bin=next(free[key[0]]))
        for key, use in uses.items()
        for _ in range(solver.value(use))
    )


def _trips(
    problem: Problem,
    model: cp_model.CpModel,
    uses: dict[tuple[int, tuple[float, ...]], cp_model.IntVar],
    distinct: dict[tuple[int, tuple[float, ...]], Column],
) -> list[cp_model.LinearExprT]:
    """Add a visit to every yard that something is bought from; return what they cost."""
    found: list[cp_model.LinearExprT] = []
    for yard, cost in problem.trips.items():
        bought = [
            use for key, use in uses.items() if problem.bins[distinct[key].bin].yard == yard
        ]
        visit = model.new_bool_var("")
        model.add(sum(bought) <= len(problem.bins) * visit)
        found.append(cost * SCALE * visit)
    return found
