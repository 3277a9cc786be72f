"""Whole numbers: which patterns to cut, and the most valuable way to cut one board.

The linear master of column generation buys fractions of boards. Here its patterns, or the
sections that one board is cut into, are chosen in whole numbers by constraint programming.
Both are for solid pieces; a panel may have staves of many widths and is chosen elsewhere.
"""

from __future__ import annotations

import math
import random
import time
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from ortools.linear_solver import pywraplp
from ortools.sat.python import cp_model

from nesting.columns import Column, Rows
from nesting.cuttings import SCALE
from nesting.patterns import Floats, Kernel, Section, Strip, Tables, Values
from nesting.problem import Bin, Problem

Key = tuple[int | float | str | frozenset[int] | None, ...]
ROUNDS = 60
REFILLS = 6


def solver_for(seconds: float, seed: int) -> cp_model.CpSolver:
    """Return a solver with one worker: what it finds depends only on model and seed."""
    solver = cp_model.CpSolver()
    solver.parameters.max_time_in_seconds = seconds
    solver.parameters.num_workers = 1
    solver.parameters.random_seed = seed
    solver.parameters.catch_sigint_signal = False
    return solver


# --- which patterns to cut ------------------------------------------------------------


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


# --- one board ------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Filling:
    """A way to cut one board: its value, the sections, and what no way can exceed."""

    value: int
    bound: int
    sections: tuple[Section, ...]


def knapsack(
    problem: Problem, one: Bin, values: Sequence[int], *, seconds: float, seed: int = 1
) -> Filling:
    """Return the most valuable way found to cut `one`, each item at most `units` times.

    Column generation finds sections and the bound; a choice among all sections found is
    the way to cut. New sections are looked for, with values shaken, until the value meets
    the bound or time is up. Kept offcuts count nothing.

    Parameters
    ----------
    values
        What a piece of each item is worth, in whole numbers.
    """
    end = time.monotonic() + seconds
    pool = Pool(problem, replace(one, credit=0.0), values)
    pool.generate()
    rng = random.Random(seed)  # noqa: S311 - not for secrets
    best = pool.best(seconds, seed)
    while best.value < pool.bound and time.monotonic() < end:
        size = len(pool.sections)
        while len(pool.sections) < 1.1 * size and time.monotonic() < end:
            for _ in range(REFILLS):
                pool.refill(rng)
        best = pool.best(max(0.1, end - time.monotonic()), seed)
    return replace(best, bound=pool.bound)


class Pool:
    """Sections of one bin, the linear master over them, and the bound it has proved.

    The master takes sections that fill the length, and counts of pieces that are neither
    more than wanted nor more than the sections hold. For values w of what the sections
    hold, none above the true values v, no way to cut the bin is worth more than
    `units . (v - w) + best pattern for w` (Lagrangian bound, Geoffrion 1974).
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

    def generate(self) -> None:
        """Run column generation until no section pays, or for `ROUNDS` rounds."""
        tables = self.price(self.worths)
        for _ in range(ROUNDS):
            if not self.take(tables, self._rate()):
                break
            self.worths = self._solve()
            tables = self.price(self.worths)

    def _solve(self) -> Floats:
        """Solve the master; return what it pays for a piece in a section."""
        if self.solver.Solve() != pywraplp.Solver.OPTIMAL:
            raise ArithmeticError("the linear master of a board was not solved")
        duals = np.array([row.dual_value() for row in self.held])
        worths: Floats = np.clip(duals, 0.0, np.array(self.values, dtype=float))
        return worths

    def _rate(self) -> float:
        """Return what the master asks for a grid step of length."""
        return max(0.0, self.along.dual_value()) if self.sections else 0.0

    def price(self, worths: Floats) -> Tables:
        """Fill the tables for `worths`, and lower the bound if they prove a lower one."""
        none = np.zeros(len(worths))
        tables = self.kernel.solve(Values(worths, none, none), exact=True)
        spare = np.array(self.units) @ (np.array(self.values) - worths)
        self.bound = min(self.bound, math.floor(spare + float(tables.worths[0]) + 1e-6))
        return tables

    def take(self, tables: Tables, rate: float) -> int:
        """Add the best section of each length that is worth more than `rate` asks."""
        before = len(self.sections)
        kernel = self.kernel
        taken = kernel.sums[tables.sections]
        fits = tables.lengths <= self.room - kernel.kerf
        paying = fits & (tables.at_place[0] - rate * taken > 1e-6)
        for s in np.flatnonzero(paying):
            section = tables.section(int(s), *kernel.places[0])
            self.add(section)
            self.add(trimmed(self.problem, section, self.units))
        return len(self.sections) - before

    def add(self, section: Section) -> None:
        """Add a section unless one that holds the same is as short."""
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

    def refill(self, rng: random.Random) -> None:
        """Fill the bin section by section at shaken values; keep every section met.

        What is used up is worth nothing in the sections after.
        """
        left, room = list(self.units), self.room
        mix = rng.random()
        shaken = np.array([rng.uniform(0.6, 1.4) for _ in self.values])
        worths = (mix * self.worths + (1 - mix) * np.array(self.values)) * shaken
        while True:
            open_ = np.array([count > 0 for count in left])
            none = np.zeros(len(left))
            tables = self.kernel.solve(Values(worths * open_, none, none), exact=True)
            self.take(tables, 0.0)
            found = [
                tables.section(s, *self.kernel.places[0])
                for s in self._fitting(tables, room)
            ]
            if not found:
                return
            found = [trimmed(self.problem, section, left) for section in found]
            for section in found:
                self.add(section)
            chosen = max(found, key=lambda one: self._rank(one, worths, rng))
            for i, count in enumerate(counts_of(self.problem, chosen)):
                left[i] -= count
            room -= chosen.length + self.problem.kerf

    def _fitting(self, tables: Tables, room: int) -> list[int]:
        """Return the sections that hold something and fit in `room`."""
        fits = (self.kernel.sums[tables.sections] <= room) & (tables.at_place[0] > 1e-9)
        return [int(s) for s in np.flatnonzero(fits)]

    def _rank(self, section: Section, worths: Floats, rng: random.Random) -> float:
        """Return a section's value per length, shaken a little."""
        value = float(np.array(counts_of(self.problem, section)) @ worths)
        return value / (section.length + self.problem.kerf) * rng.uniform(0.8, 1.2)

    def best(self, seconds: float, seed: int) -> Filling:
        """Return the best choice among the sections."""
        model = cp_model.CpModel()
        uses = {
            counts: model.new_int_var(0, self.room // max(1, section.length), "")
            for counts, section in self.sections.items()
        }
        lengths = [section.length + self.problem.kerf for section in self.sections.values()]
        taken = sum(a * use for a, use in zip(lengths, uses.values(), strict=True))
        model.add(taken <= self.room)
        made = [model.new_int_var(0, units, "") for units in self.units]
        for i, count in enumerate(made):
            model.add(count <= sum(counts[i] * use for counts, use in uses.items()))
        model.maximize(sum(v * count for v, count in zip(self.values, made, strict=True)))
        solver = solver_for(seconds, seed)
        if solver.solve(model) not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
            return Filling(0, self.bound, ())
        left = list(self.units)
        sections = []
        for counts, use in uses.items():
            for _ in range(solver.value(use)):
                section = trimmed(self.problem, self.sections[counts], left)
                for i, held in enumerate(counts_of(self.problem, section)):
                    left[i] -= held
                sections.append(section)
        used = [units - count for units, count in zip(self.units, left, strict=True)]
        value = sum(v * count for v, count in zip(self.values, used, strict=True))
        return Filling(value, self.bound, tuple(sections))


def counts_of(problem: Problem, section: Section) -> tuple[int, ...]:
    """Return how many pieces of each item a section holds."""
    held = Counter(i for strip in section.strips for i, _, _ in strip.pieces)
    return tuple(held[item.index] for item in problem.items)


def trimmed(problem: Problem, section: Section, units: Sequence[int]) -> Section:
    """Return the section without the pieces beyond `units`, no longer than it must be."""
    left = list(units)
    strips = []
    longest = 0
    for strip in section.strips:
        pieces = []
        for i, size, whole in strip.pieces:
            if left[i] > 0:
                left[i] -= 1
                pieces.append((i, size, whole))
        if pieces:
            strips.append(Strip(strip.width, tuple(pieces)))
            sizes = [
                problem.items[i].sizes[size][0] + problem.kerf for i, size, _ in pieces
            ]
            longest = max(longest, sum(sizes) - problem.kerf)
    return Section(longest, tuple(strips))
