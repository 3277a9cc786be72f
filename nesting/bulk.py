"""Column generation for projects of hundreds of boards.

The same master and the same bound as in `nesting.columns`, with another start and another
order of work. Values start from what each piece takes of the area of a usual board, and
what lacks counts a few times that: so values stay near what they come to in the end, and
few patterns are made in vain. Only the patterns that pay best join the master each round.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np

from nesting.columns import Column, Master, Relaxation, Rows, lagrangian, price
from nesting.patterns import Floats, Kernel
from nesting.problem import Problem

TIMES = 2.0  # what a lack counts at first, over the area it takes
SMOOTH = 0.5  # share of the best values seen in the values tried
MOST = 250  # patterns a round
# a master that goes on from its last basis gains nothing from being presolved anew: 15 s
# instead of 25 s for 500 boards
FROM_BASIS = "use_preprocessing: false"


def area_duals(problem: Problem, rows: Rows) -> Floats:
    """Return, per row, what a unit of it takes of the area of a usual board, in cents.

    Staves count by their net width alone.
    """
    rates = [one.cost / max(1, one.length * one.narrow) for one in problem.bins]
    rate = float(np.median(rates)) or 1.0
    duals = np.zeros(len(rows.demand))
    for item in problem.items:
        row = rows.first[item.index]
        duals[row] = rate * (item.length if item.is_panel else item.area)
    return duals


def asked_for(problem: Problem, rows: Rows, times: float) -> Floats:
    """Return, per row, `times` its area price; of a stave, of its least width's."""
    asked = times * area_duals(problem, rows)
    for item in problem.items:
        if item.is_panel:
            row = rows.first[item.index]
            asked[row + 1] = asked[row] * item.low
    return asked


@dataclass(slots=True)
class Generator:
    """A run of column generation: its master, and the best values seen.

    Attributes
    ----------
    centre, best
        Values of the best bound so far, and that bound; unproven if not `exact`.
    """

    problem: Problem
    kernels: tuple[Kernel, ...]
    rows: Rows
    master: Master
    centre: Floats
    result: Relaxation
    exact: bool = False
    best: float = -np.inf
    cost: float = np.inf
    prices: Floats = field(default_factory=lambda: np.zeros(0))

    def round(self, duals: Floats) -> int:
        """Price once at smoothed values, or at the master's own; return columns added."""
        tried = SMOOTH * self.centre + (1 - SMOOTH) * duals
        added = self._price(tried)
        if not added:
            added = self._price(duals)
        for column in added:
            self.master.add(column)
        self.result.columns += added
        return len(added)

    def _price(self, duals: Floats) -> list[Column]:
        added, worths = price(
            self.problem, self.kernels, self.rows, duals, self.prices,
            exact=self.exact, most=MOST,
        )  # fmt: skip
        bound = lagrangian(self.problem, self.rows, duals, worths)
        if self.exact:
            self.result.history.append((duals.copy(), worths))
            self.result.bound = max(self.result.bound, bound)
        if bound > self.best:
            self.best, self.centre = bound, duals
            self.result.values = self.rows.values(self.problem, duals)
        return added


def relax_large(
    problem: Problem,
    kernels: tuple[Kernel, ...],
    rows: Rows,
    *,
    stop: Callable[[], bool],
    on_bound: Callable[[float], None] = lambda _: None,
    tolerance: float = 0.001,
) -> Relaxation:
    """Run column generation until its bound is within `tolerance` of the master's cost.

    Plain sections come first, all sections then; only rounds of the latter prove a bound,
    and the first of all rounds is one of them. Once the master is near its optimum what
    still lacks is asked for at its full penalty.
    """
    times = TIMES
    master = Master(problem, rows, asked=asked_for(problem, rows, times))
    master.solver.SetSolverSpecificParametersAsString(FROM_BASIS)
    generator = Generator(
        problem, kernels, rows, master, area_duals(problem, rows),
        Relaxation(rows, 0.0, rows.values(problem, np.zeros(len(rows.demand)))),
        exact=True, prices=np.zeros(len(problem.bins)),
    )  # fmt: skip
    result = generator.result
    generator.round(generator.centre)
    on_bound(result.bound)
    generator.exact = False
    while not stop():
        try:
            cost, duals, generator.prices = generator.master.solve()
        except ArithmeticError:  # what is proven so far holds
            break
        result.lp_cost, result.feasible = cost, generator.master.lacking < 1e-6
        added = generator.round(duals)
        if generator.exact:
            on_bound(result.bound)
        if added and cost - generator.best > tolerance * abs(cost):
            continue
        if not result.feasible and times < 1e4:
            times *= 4
            generator.master.ask(asked_for(problem, rows, times))
        elif not generator.exact:
            generator.exact, generator.best = True, -np.inf
        else:
            break
    if not generator.exact:  # out of time: prove what the best values are worth
        generator.exact, generator.best = True, -np.inf
        generator.round(generator.centre)
    return result
