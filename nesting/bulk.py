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
MOST_TIMES = 1e4  # then what lacks can't be made
EXACT = 0.01  # tolerance below which plain sections are not enough
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
    on_bound: Callable[[float], None]
    times: float = TIMES
    exact: bool = False
    best: float = -np.inf
    cost: float = np.inf
    prices: Floats = field(default_factory=lambda: np.zeros(0))

    def start(self) -> None:
        """Price the first values, all sections; their patterns begin the master."""
        self.exact = True
        for column in self._price(self.centre):
            self.master.add(column)
            self.result.columns.append(column)
        self.exact = False

    def run(self, *, stop: Callable[[], bool], tolerance: float) -> None:
        """Make patterns until the bound is within `tolerance` of the master's cost.

        Plain sections come first. A master near its optimum that lacks something asks
        for it at a higher price; with nothing lacking and a tolerance below `EXACT` all
        sections follow.
        """
        while not stop():
            try:
                cost, duals, self.prices = self.master.solve()
            except ArithmeticError:  # what is proven so far holds
                break
            lacking = self.master.lacking > 1e-6
            self.result.lp_cost, self.result.feasible = cost, not lacking
            added = self._round(duals)
            if added and cost - self.best > tolerance * abs(cost):
                continue
            if lacking and self.times < MOST_TIMES:
                self.times *= 4
                self.master.ask(asked_for(self.problem, self.rows, self.times))
            elif not self.exact and tolerance < EXACT:
                self.exact, self.best = True, -np.inf
            else:
                break

    def prove(self) -> None:
        """Price all sections at the best values seen, if no exact round has done so."""
        if self.exact and self.result.bound > 0:
            return
        held = self.exact, self.best
        self.exact, self.best = True, -np.inf
        self._price(self.centre)
        self.exact, self.best = held

    def _round(self, duals: Floats) -> int:
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
            self.on_bound(self.result.bound)
        if bound > self.best:
            self.best, self.centre = bound, duals
            self.result.values = self.rows.values(self.problem, duals)
        return added


def generator_for(
    problem: Problem,
    kernels: tuple[Kernel, ...],
    rows: Rows,
    on_bound: Callable[[float], None] = lambda _: None,
) -> Generator:
    """Return a run that has priced area values, and so has proven a first bound."""
    master = Master(problem, rows, asked=asked_for(problem, rows, TIMES))
    master.solver.SetSolverSpecificParametersAsString(FROM_BASIS)
    centre = area_duals(problem, rows)
    result = Relaxation(rows, 0.0, rows.values(problem, centre))
    generator = Generator(
        problem, kernels, rows, master, centre, result, on_bound,
        prices=np.zeros(len(problem.bins)),
    )  # fmt: skip
    generator.start()
    return generator


def relax_large(
    problem: Problem, kernels: tuple[Kernel, ...], rows: Rows, stop: Callable[[], bool]
) -> Relaxation:
    """Run column generation from nothing to a tight bound, or until `stop`."""
    generator = generator_for(problem, kernels, rows)
    generator.run(stop=stop, tolerance=0.001)
    generator.prove()
    return generator.result
