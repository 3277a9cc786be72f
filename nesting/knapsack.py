"""The most valuable way to cut one board, with what no way can exceed.

Sections are found by column generation, then listed in full, and chosen in whole numbers
by constraint programming. They are of solid pieces; a panel may have staves of many widths
and is chosen elsewhere.
"""

from __future__ import annotations

import math
import time
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from ortools.linear_solver import pywraplp
from ortools.sat.python import cp_model

from nesting.listing import Listing, counts_of, trimmed
from nesting.patterns import Floats, Kernel, Section, Tables, Values
from nesting.problem import Bin, Problem
from nesting.solvers import solver_for

ROUNDS = 60
FIRST_SHARE = 0.004


@dataclass(frozen=True, slots=True)
class Filling:
    """A way to cut one board: its value, the sections, and what no way can exceed."""

    value: int
    bound: int
    sections: tuple[Section, ...]

    @property
    def is_proven(self) -> bool:
        """Whether no way to cut the board is worth more."""
        return self.value >= self.bound


def knapsack(
    problem: Problem, one: Bin, values: Sequence[int], *, seconds: float, seed: int = 1
) -> Filling:
    """Return the most valuable way found to cut `one`, each item at most `units` times.

    Column generation gives first sections and a bound. Then every section that loses
    little against the master's prices is listed, and the best choice among them found,
    with ever more loss allowed: a way to cut that is better than the bound less that loss
    has no other sections. The bin must be plain; kept offcuts count nothing.

    Parameters
    ----------
    values
        What a piece of each item is worth, in whole numbers.
    """
    end = time.monotonic() + seconds
    pool = Pool(problem, replace(one, credit=0.0), values)
    pool.generate()
    best, _ = pool.best(seconds, seed)
    loss = FIRST_SHARE * pool.limit
    while best.value < pool.bound and time.monotonic() < end:
        if not pool.is_priced or not pool.enlarge(loss, end):
            break
        found, is_best = pool.best(max(0.1, end - time.monotonic()), seed)
        best = max(best, found, key=lambda filling: filling.value)
        if not is_best:
            break
        pool.lower(max(best.value, math.floor(pool.limit - loss + 1e-4)))
        loss = min(2 * loss, max(pool.limit - best.value, FIRST_SHARE))
    return replace(best, bound=pool.bound)


class Pool:
    """Sections of one bin, the linear master over them, and the bound it has proved.

    The master takes sections that fill the length, and counts of pieces that are neither
    more than wanted nor more than the sections hold. For values w of what the sections
    hold, none above the true values v, no way to cut the bin is worth more than
    `units . (v - w) + best pattern for w` (Lagrangian bound, Geoffrion 1974).

    Attributes
    ----------
    worths, rate
        What the master pays for a piece in a section, and asks for a grid step of length.
    is_priced
        Whether no section pays any more at these prices.
    """

    def __init__(self, problem: Problem, one: Bin, values: Sequence[int]) -> None:
        self.problem = problem
        self.room = one.length + problem.kerf
        self.kernel = Kernel(problem, [one])
        self.values = values
        self.units = [item.units for item in problem.items]
        self.bound = sum(u * v for u, v in zip(self.units, values, strict=True))
        self.sections: dict[tuple[int, ...], Section] = {}
        self.solver = pywraplp.Solver.CreateSolver("GLOP")
        inf = self.solver.infinity()
        self.along = self.solver.Constraint(-inf, self.room)
        self.held = [self.solver.Constraint(-inf, 0.0) for _ in values]
        self.objective = self.solver.Objective()
        self.objective.SetMaximization()
        for row, units, value in zip(self.held, self.units, values, strict=True):
            count = self.solver.NumVar(0.0, units, "")
            self.objective.SetCoefficient(count, value)
            row.SetCoefficient(count, 1.0)
        self.worths = np.array(values, dtype=float)
        self.rate = 0.0
        self.is_priced = False
        self.tables = self._price()

    @property
    def limit(self) -> float:
        """Return what the prices prove if no section pays."""
        spare = np.array(self.units) @ (np.array(self.values) - self.worths)
        return float(spare) + self.rate * self.room

    def lower(self, bound: int) -> None:
        """Remember a bound if it is the lowest."""
        self.bound = min(self.bound, bound)

    def generate(self) -> None:
        """Run column generation until no section pays, or for `ROUNDS` rounds."""
        for _ in range(ROUNDS):
            if not self._take():
                self.is_priced = True
                return
            if self.solver.Solve() != pywraplp.Solver.OPTIMAL:
                raise ArithmeticError("the linear master of a board was not solved")
            duals = np.array([row.dual_value() for row in self.held])
            self.worths = np.clip(duals, 0.0, np.array(self.values, dtype=float))
            self.rate = max(0.0, self.along.dual_value())
            self.tables = self._price()

    def _price(self) -> Tables:
        """Fill the tables for the master's values; remember the bound they prove."""
        none = np.zeros(len(self.worths))
        tables = self.kernel.solve(Values(self.worths, none, none), exact=True)
        spare = np.array(self.units) @ (np.array(self.values) - self.worths)
        self.lower(math.floor(float(spare) + float(tables.worths[0]) + 1e-6))
        return tables

    def _take(self) -> int:
        """Add the best section of each length that pays; return how many do."""
        kernel, tables = self.kernel, self.tables
        sums = kernel.sums[tables.sections]
        gains = tables.at_place[0] - self.rate * sums
        paying = np.flatnonzero((sums <= self.room) & (gains > 1e-6))
        for s in paying:
            section = tables.section(int(s), *kernel.places[0])
            self.add(section)
            self.add(trimmed(self.problem, section, self.units))
        return len(paying)

    def add(self, section: Section) -> None:
        """Add a section to the master unless one that holds the same is as short."""
        counts = counts_of(self.problem, section)
        known = self.sections.get(counts)
        if not any(counts) or (known is not None and known.length <= section.length):
            return
        self.sections[counts] = section
        use = self.solver.NumVar(0.0, self.solver.infinity(), "")
        self.along.SetCoefficient(use, section.length + self.problem.kerf)
        for row, count in zip(self.held, counts, strict=True):
            if count:
                row.SetCoefficient(use, -count)

    def enlarge(self, loss: float, end: float) -> bool:
        """List every section that loses at most `loss`; whether that came to an end.

        A section's loss is what the master asks for its length less what it holds.
        """
        asked: Floats = self.rate * self.kernel.sums.astype(float)
        listing = Listing(self.tables, self.worths, asked)
        is_whole = listing.run(loss, end)
        for counts, section in listing.found.items():
            known = self.sections.get(counts)
            if known is None or section.length < known.length:
                self.sections[counts] = section
        return is_whole

    def best(self, seconds: float, seed: int) -> tuple[Filling, bool]:
        """Return the best choice among the sections, and whether it is surely the best."""
        model = cp_model.CpModel()
        uses = [
            (
                model.new_int_var(0, self.room // (section.length + self.problem.kerf), ""),
                section,
            )
            for section in self.sections.values()
        ]
        model.add(sum((s.length + self.problem.kerf) * use for use, s in uses) <= self.room)
        made = [model.new_int_var(0, units, "") for units in self.units]
        for i, count in enumerate(made):
            held = zip(uses, self.sections, strict=True)
            model.add(
                count <= sum(counts[i] * use for (use, _), counts in held if counts[i])
            )
        model.maximize(sum(v * count for v, count in zip(self.values, made, strict=True)))
        solver = solver_for(seconds, seed)
        status = solver.solve(model)
        if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
            return Filling(0, self.bound, ()), False
        chosen = [section for use, section in uses for _ in range(solver.value(use))]
        return self._filling(chosen), status == cp_model.OPTIMAL

    def _filling(self, chosen: Iterable[Section]) -> Filling:
        """Return sections as a filling, without the pieces beyond what is wanted."""
        left = list(self.units)
        value = 0
        sections = []
        for section in chosen:
            kept = trimmed(self.problem, section, left)
            for i, count in enumerate(counts_of(self.problem, kept)):
                left[i] -= count
                value += count * self.values[i]
            sections.append(kept)
        return Filling(value, self.bound, tuple(sections))
