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
from nesting.problem import Bin, Problem
from nesting.solvers import solver_for

Key = tuple[int | float | str | frozenset[int] | None, ...]


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
    groups: dict[Key, list[int]] = {}
    for one in problem.bins:
        groups.setdefault(_likeness(one), []).append(one.index)
    distinct: dict[tuple[Key, tuple[float, ...]], Column] = {}
    for column in columns:
        key = (_likeness(problem.bins[column.bin]), tuple(column.adds))
        if key not in distinct or column.cost < distinct[key].cost:
            distinct[key] = column
    model = cp_model.CpModel()
    uses = {key: model.new_int_var(0, len(groups[key[0]]), "") for key in distinct}
    for row, demand in enumerate(rows.demand):
        gains = [math.floor(key[1][row]) for key in uses]
        held = cp_model.LinearExpr.weighted_sum(list(uses.values()), gains)
        model.add(held >= math.ceil(demand))
    for group, bins in groups.items():
        cut = [use for key, use in uses.items() if key[0] == group]
        model.add(cp_model.LinearExpr.sum(cut) <= len(bins))
    prices = [round(distinct[key].cost * SCALE) for key in uses]
    paid = cp_model.LinearExpr.weighted_sum(list(uses.values()), prices)
    trips = cp_model.LinearExpr.sum(_trips(problem, model, uses, distinct))
    model.minimize(paid + trips)
    solver = solver_for(seconds, seed)
    if solver.solve(model) not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return None
    free = {key: iter(bins) for key, bins in groups.items()}
    return tuple(
        replace(distinct[key], bin=next(free[key[0]]))
        for key, use in uses.items()
        for _ in range(solver.value(use))
    )


def _likeness(one: Bin) -> Key:
    """Return what bins share if the columns of one are columns of the other.

    A bin with marks or zones is like no other.
    """
    alone = None if one.is_plain else one.index
    size = (one.length, one.width, one.width2)
    return (*size, one.cost, one.credit, one.yard, one.wanted, alone)


def _trips(
    problem: Problem,
    model: cp_model.CpModel,
    uses: dict[tuple[Key, tuple[float, ...]], cp_model.IntVar],
    distinct: dict[tuple[Key, tuple[float, ...]], Column],
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
