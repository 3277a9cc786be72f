"""The bound for whole boards: which sets of boards could hold everything at all.

For any values, exact pricing gives the best pattern value of each board, so the boards of
every feasible plan satisfy `sum of board values >= values . demand + offcut credit`. The
cheapest set of whole boards under all such cuts is a lower bound on the cost of any plan
(an integer choice over Benders-like cuts; each vector of values seen in column generation
gives one). Trips are in it, and the credit of kept offcuts is a variable of it.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass

import numpy as np
from ortools.sat.python import cp_model

from nesting.columns import Group, Master, Relaxation, column_for, price
from nesting.patterns import Floats
from nesting.problem import Problem

FINE = 100  # units per cent in the integer model


@dataclass(frozen=True, slots=True)
class Selection:
    """A proven bound in cents, and the boards of the set that attains it."""

    bound: float
    bins: tuple[int, ...]
    is_optimal: bool


def selection_bound(
    problem: Problem, relaxed: Relaxation, seconds: float, seed: int = 1
) -> Selection:
    """Return the cheapest set of whole boards that no cut seen so far excludes."""
    model = cp_model.CpModel()
    use = [model.new_bool_var("") for _ in problem.bins]
    trips = []
    for yard, cost in problem.trips.items():
        visit = model.new_bool_var("")
        trips.append(cost * FINE * visit)
        for one in problem.bins:
            if one.yard == yard:
                model.add_implication(use[one.index], visit)
    most = sum(one.cost for one in problem.bins) * FINE
    credit = model.new_int_var(0, most, "")
    for duals, worths in relaxed.history:
        right = math.floor(float(duals @ relaxed.rows.demand) * FINE - 1)
        left = sum(
            math.ceil(float(worths[one.index]) * FINE + 1) * use[one.index] for one in problem.bins
        )
        model.add(left - credit >= right)
    model.minimize(sum(one.cost * FINE * use[one.index] for one in problem.bins) + sum(trips) - credit)
    solver = cp_model.CpSolver()
    solver.parameters.max_time_in_seconds = seconds
    solver.parameters.num_workers = 2
    solver.parameters.random_seed = seed
    status = solver.solve(model)
    if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return Selection(relaxed.bound, (), False)
    chosen = tuple(one.index for one in problem.bins if solver.boolean_value(use[one.index]))
    return Selection(solver.best_objective_bound / FINE, chosen, status == cp_model.OPTIMAL)
