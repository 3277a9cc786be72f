"""Whole numbers: which patterns to cut, and the most valuable way to cut one board.

The linear master of column generation buys fractions of boards. Here its patterns, or the
sections that one board is cut into, are chosen in whole numbers by constraint programming.
Both are for solid pieces; a panel may have staves of many widths and is chosen elsewhere.
"""

from __future__ import annotations

import math
import time
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from ortools.linear_solver import pywraplp
from ortools.sat.python import cp_model

from nesting.columns import Column, Rows
from nesting.cuttings import SCALE
from nesting.patterns import Floats, Kernel, Section, Strip, Tables, Values
from nesting.problem import Bin, Problem
from nesting.solvers import solver_for

Key = tuple[int | float | str | frozenset[int] | None, ...]
ROUNDS = 60
MOST_SECTIONS = 20000
FIRST_SHARE = 0.004


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
        listing = Listing(self.tables, self.worths, self.rate, loss)
        is_whole = listing.run(end)
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


# --- all sections of one board -------------------------------------------------------


class Listing:
    """A search for all sections of a bin that lose at most `loss`.

    A section's loss is what its length costs less what its pieces are worth, at the prices
    that the tables were filled with. Strips are added in a fixed order, widest first.
    `ahead[v, s]` is the most that v cells of width can still be worth, less the price of
    the length, in section s or any longer one; the unlimited tables give it.
    """

    def __init__(self, tables: Tables, worths: Floats, rate: float, loss: float) -> None:
        kernel = tables.kernel
        self.kernel, self.worths, self.rate, self.loss = kernel, worths, rate, loss
        self.problem, self.kerf = kernel.problem, kernel.kerf
        self.units = [item.units for item in self.problem.items]
        self.sums = kernel.sums[tables.sections]
        self.rips = tables.rips[:, :, 0]
        gains = self.rips - rate * self.sums
        self.ahead = np.maximum.accumulate(gains[:, ::-1], axis=1)[:, ::-1]
        strips = strips_of(self.problem, kernel.bins[0])
        self.strips = sorted(strips, key=lambda strip: (-strip.width, strip.pieces))
        self.lengths = [length_of(self.problem, strip) for strip in self.strips]
        self.values = [sum(worths[i] for i, _, _ in strip.pieces) for strip in self.strips]
        self.found: dict[tuple[int, ...], Section] = {}

    def run(self, end: float) -> bool:
        """Fill `found`; whether that was done before the clock read `end`.

        It also ends, not done, if there are more than `MOST_SECTIONS`.
        """
        self.end, self.is_whole = end, True
        self._visit(0, self.kernel.bins[0].width + self.kerf, 0, 0.0, ())
        return self.is_whole

    def _visit(
        self, first: int, width: int, length: int, value: float, chosen: tuple[Strip, ...]
    ) -> None:
        """Add strips from `first` on; `width` and `length` have a kerf added."""
        if chosen:
            self._keep(length, value, chosen)
        if len(self.found) > MOST_SECTIONS or time.monotonic() > self.end:
            self.is_whole = False
            return
        left = list(self.units)
        for strip in chosen:
            for i, _, _ in strip.pieces:
                left[i] -= 1
        for number in range(first, len(self.strips)):
            strip = self.strips[number]
            room = width - strip.width - self.kerf
            if room < 0 or any(n > left[i] for i, n in _held(strip).items()):
                continue
            longest = max(length, self.lengths[number])
            worth = value + self.values[number]
            if worth + self._ahead(room, longest) >= -self.loss - 1e-6:
                self._visit(number, room, longest, worth, (*chosen, strip))

    def _ahead(self, room: int, length: int) -> float:
        """Return the most that can be added, less the price of the whole length."""
        v = min(room // self.kernel.cell, self.kernel.capacity)
        s = int(np.searchsorted(self.sums, length, side="right"))
        here = float(self.rips[v, s - 1]) if s else 0.0
        best = here - self.rate * length
        return max(best, float(self.ahead[v, s])) if s < len(self.sums) else best

    def _keep(self, length: int, value: float, chosen: tuple[Strip, ...]) -> None:
        """Keep a section if it loses no more than allowed and none as good is known."""
        if value - self.rate * length < -self.loss - 1e-6:
            return
        section = Section(length - self.kerf, chosen)
        counts = counts_of(self.problem, section)
        known = self.found.get(counts)
        if known is None or section.length < known.length:
            self.found[counts] = section


def strips_of(problem: Problem, one: Bin) -> Iterator[Strip]:
    """Yield every strip that a bin may be ripped into, each item at most `units` times."""
    shapes = [
        (item.index, size, item.sizes[size])
        for item in problem.items
        if item.index in one.wanted
        for size in range(len(item.sizes))
        if item.sizes[size][0] <= one.length and item.sizes[size][1] <= one.width
    ]

    def longer(
        first: int, room: int, pieces: tuple[tuple[int, int, bool], ...]
    ) -> Iterator[Strip]:
        if pieces:
            yield Strip(max(problem.items[i].sizes[s][1] for i, s, _ in pieces), pieces)
        for number in range(first, len(shapes)):
            i, size, (length, _) = shapes[number]
            used = sum(1 for other, _, _ in pieces if other == i)
            if length + problem.kerf <= room and used < problem.items[i].units:
                yield from longer(
                    number, room - length - problem.kerf, (*pieces, (i, size, False))
                )

    yield from longer(0, one.length + problem.kerf, ())


def _held(strip: Strip) -> Counter[int]:
    """Return how many pieces of each item a strip holds."""
    return Counter(i for i, _, _ in strip.pieces)


def length_of(problem: Problem, strip: Strip) -> int:
    """Return the length of a strip's pieces, a kerf added to each."""
    return sum(
        problem.items[i].sizes[size][0] + problem.kerf for i, size, _ in strip.pieces
    )


def counts_of(problem: Problem, section: Section) -> tuple[int, ...]:
    """Return how many pieces of each item a section holds."""
    held = Counter(i for strip in section.strips for i, _, _ in strip.pieces)
    return tuple(held[item.index] for item in problem.items)


def trimmed(problem: Problem, section: Section, units: Sequence[int]) -> Section:
    """Return the section without the pieces beyond `units`, no longer than it must be."""
    left = list(units)
    strips = []
    for strip in section.strips:
        pieces = []
        for piece in strip.pieces:
            if left[piece[0]] > 0:
                left[piece[0]] -= 1
                pieces.append(piece)
        if pieces:
            strips.append(Strip(strip.width, tuple(pieces)))
    longest = max((length_of(problem, strip) for strip in strips), default=problem.kerf)
    return Section(longest - problem.kerf, tuple(strips))
