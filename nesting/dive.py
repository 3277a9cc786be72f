"""Diving: from patterns in fractions of boards to whole boards, a share of them a round.

The linear master of what is still wanted says which patterns are used whole. The surest of
them are fixed, new patterns are made for the rest, and so on until few boards remain
(diving heuristics in column generation: Sadykov et al. 2019). Patterns are clipped to what
is still wanted, so none is made in vain; once few boards are left, clipping would take too
much of them, and they are cut within the demand from the start.
"""

from __future__ import annotations

import math
import random
from collections import defaultdict
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from nesting.bounded import Cutter
from nesting.bulk import FROM_BASIS, area_duals, asked_for
from nesting.columns import Column, Master, Rows, price
from nesting.cuttings import Cutting, Left, end_credit
from nesting.patterns import Floats, Kernel, Section, Strip
from nesting.problem import Bin, Problem
from nesting.share import section_credit, shared

SHARE = 0.2  # of the boards left that are fixed in a round
# Boards left from which on patterns are cut within the demand: so many, or a share of all.
BOUNDED, BOUNDED_SHARE = 50.0, 0.2
PER_BIN = 8  # columns of a bin that stay from round to round
NO_BOARD = -1e12  # what a bin that must not be cut is allowed to cost more


def clipped(problem: Problem, rows: Rows, column: Column, left: Floats) -> Column | None:
    """Return a column without what is beyond `left` (by row); None if nothing stays.

    The last stave that is wanted of a panel is made as narrow as will do.
    """
    rest = left.copy()
    sections: list[Section] = []
    one = problem.bins[column.bin]
    for section in column.sections:
        strips = [_clipped_strip(problem, rows, strip, rest) for strip in section.strips]
        kept = tuple(strip for strip in strips if strip is not None)
        if kept:
            length = min(section.length, longest(problem, kept))
            sections.append(Section(length, kept))
    return column_of(problem, rows, one, sections) if sections else None


def _clipped_strip(
    problem: Problem, rows: Rows, strip: Strip, rest: Floats
) -> Strip | None:
    """Take a strip's pieces off `rest`; return it without those that are not wanted."""
    pieces, width = [], 0
    for piece in strip.pieces:
        i, size, whole = piece
        item, row = problem.items[i], rows.first[i]
        if rest[row] <= 0:
            continue
        pieces.append(piece)
        if not item.is_panel:
            rest[row] -= 1
            width = max(width, item.sizes[size][1])
            continue
        full = item.need if whole else strip.width - item.joint
        step = problem.step
        ample = -(-(int(rest[row]) + item.joint) // step) * step
        least = strip.width if whole else min(strip.width, max(item.low, ample))
        width = max(width, least)
        rest[row] -= full
    return Strip(width, tuple(pieces)) if pieces else None


def longest(problem: Problem, strips: Iterable[Strip]) -> int:
    """Return how long a section must be for its rows of pieces, and for gangs."""
    items, kerf = problem.items, problem.kerf
    length = 0
    for strip in strips:
        row = sum(items[i].sizes[s][0] + kerf for i, s, _ in strip.pieces) - kerf
        if any(items[i].is_short for i, _, _ in strip.pieces):
            row = max(row, problem.shortest)
        length = max(length, row)
    return length


def column_of(
    problem: Problem, rows: Rows, one: Bin, sections: Iterable[Section]
) -> Column:
    """Return sections laid along a plain bin as a column, its kept offcuts credited."""
    sections = tuple(sections)
    end = sum(section.length + problem.kerf for section in sections)
    credit = sum(section_credit(problem, one, section) for section in sections)
    credit += end_credit(problem, one, end)
    adds = rows.coefficients(problem, sections)
    return Column(one.index, one.cost - credit, adds, sections)


def nearest(
    pool: list[Column], duals: Floats, prices: Floats, uses: list[float]
) -> list[int]:
    """Return the numbers of the columns that are used, or are among the best of a bin.

    The others only slow the master down.
    """
    by_bin: dict[int, list[tuple[float, int]]] = defaultdict(list)
    for number, column in enumerate(pool):
        lacks = column.cost - prices[column.bin] - float(duals @ column.adds)
        by_bin[column.bin].append((-1.0 if uses[number] > 1e-6 else lacks, number))
    kept = [
        number
        for some in by_bin.values()
        for rank, (lacks, number) in enumerate(sorted(some))
        if rank < PER_BIN or lacks < 0
    ]
    return sorted(kept)


@dataclass(slots=True)
class Dive:
    """One dive: patterns fixed so far, patterns to choose among, and what is left.

    Attributes
    ----------
    left
        Per row of the master: what is still wanted.
    free
        Bins that may still be cut.
    pool
        Columns of free bins.
    duals
        Values of the rows, by the last master.
    last
        Boards, in the sum of the master, at which the dive ends.
    rounds
        Of new patterns, between fixing and fixing.
    boards
        Boards still to cut, by the last master.
    few
        Boards left from which on patterns are cut within the demand.
    """

    problem: Problem
    kernels: tuple[Kernel, ...]
    rows: Rows
    rng: random.Random
    stop: Callable[[], bool]
    left: Floats
    free: set[int]
    pool: list[Column]
    duals: Floats
    fixed: list[Column] = field(default_factory=list)
    rounds: int = 5
    last: float = 14.0
    boards: float = math.inf
    few: float = 0.0
    barred: NDArray[np.bool_] = field(init=False)

    def __post_init__(self) -> None:
        """Leave out what is not wanted from the start."""
        self.barred = self.left <= 0

    def run(self) -> tuple[list[Cutting], Left] | None:
        """Fix patterns until few boards are left to cut; return what is cut, and wanted.

        None if it was stopped before.
        """
        while not self.stop():
            uses = self._relax()
            self.boards = sum(uses)
            self.few = self.few or max(BOUNDED, BOUNDED_SHARE * self.boards)
            if self.boards <= self.last:
                return self.shared()
            most = min(SHARE * self.boards, self.boards - 0.7 * self.last)
            if not self._fix(uses, max(1, int(most))):
                return self.shared()
            if self.boards <= self.few:
                self.left = self._wanted(self.shared()[1])
        return None

    def rush(self) -> tuple[list[Cutting], Left]:
        """Cut board after board within the demand until few are left; there is no time."""
        while self._likely() > self.last:
            if not self._rush(int(1 + SHARE * self._likely())):
                break
        return self.shared()

    def _likely(self) -> float:
        """Return about how many boards what is left takes, by its area."""
        costs = [one.cost for one in self.problem.bins]
        worth = float(area_duals(self.problem, self.rows) @ self.left)
        return worth / max(1.0, float(np.median(costs)))

    def _rush(self, most: int) -> int:
        """Cut up to so many of the boards that promise most for their cost."""
        values = np.where(self.left > 0, self.duals, 0.0)
        done = 0
        for kernel in self.kernels:
            spread = self.rows.values(self.problem, values)
            tables = kernel.solve(spread, exact=False)
            cutter = Cutter(tables, self.rows, spread, self.left)
            promise = [
                (-float(tables.worths[row]) / max(1, one.cost), row)
                for row, one in enumerate(kernel.bins)
                if one.index in self.free
            ]
            for _, row in sorted(promise)[:most]:
                cutter.left = self.left
                sections = cutter.pattern(row)
                if sections:
                    one = kernel.bins[row]
                    self.take(column_of(self.problem, self.rows, one, sections))
                    done += 1
        return done

    def shared(self) -> tuple[list[Cutting], Left]:
        """Return the patterns fixed as cuttings, staves handed to panels."""
        patterns = {column.bin: column.sections for column in self.fixed}
        return shared(self.problem, patterns, self.rng)

    def _wanted(self, left: Left) -> Floats:
        """Return per row what is still wanted; nothing where nothing was at first."""
        found = np.zeros(len(self.left))
        for item in self.problem.items:
            row = self.rows.first[item.index]
            if not item.is_panel:
                found[row] = left.pieces[item.index]
                continue
            for net, _, _ in left.panels[item.index]:
                if net > 0:
                    found[row] += net
                    found[row + 1] += -(-net // (item.high - item.joint))
        return np.where(self.barred, 0.0, found)

    def _relax(self) -> list[float]:
        """Solve the master of what is left, patterns added; return the use of the pool."""
        rows = replace(self.rows, demand=self.left)
        asked = asked_for(self.problem, self.rows, 3.0)
        master = Master(self.problem, rows, asked=asked)
        master.solver.SetSolverSpecificParametersAsString(FROM_BASIS)
        self._clip_pool()
        for column in self.pool:
            master.add(column)
        _, self.duals, prices = master.solve()
        for _ in range(self.rounds):
            if self.stop():
                break
            added = self._price(rows, prices)
            if not added:
                break
            for column in added:
                master.add(column)
            self.pool += added
            _, self.duals, prices = master.solve()
        uses = [float(use.solution_value()) for use in master.uses]
        kept = nearest(self.pool, self.duals, prices, uses)
        self.pool = [self.pool[number] for number in kept]
        return [uses[number] for number in kept]

    def _clip_pool(self) -> None:
        """Clip the columns of free bins to what is left; drop those with nothing left."""
        kept = []
        for column in self.pool:
            if column.bin not in self.free:
                continue
            within = column if (column.adds <= self.left).all() else None
            if within is None:
                within = clipped(self.problem, self.rows, column, self.left)
            if within is not None:
                kept.append(within)
        self.pool = kept

    def _price(self, rows: Rows, prices: Floats) -> list[Column]:
        """Return new columns of free bins, within what is left, that pay."""
        allowed = np.full(len(prices), NO_BOARD)
        free = sorted(self.free)
        allowed[free] = prices[free]
        values = np.where(self.left > 0, self.duals, 0.0)
        if self.boards > self.few:
            most = max(40, len(free) // 2)
            added, _ = price(
                self.problem, self.kernels, rows, values, allowed, exact=False, most=most
            )
            within = (clipped(self.problem, self.rows, one, self.left) for one in added)
            made = [one for one in within if one is not None]
        else:
            made = self._cut_within(values, allowed)
        return [one for one in made if self._pays(one, prices)]

    def _pays(self, column: Column, prices: Floats) -> bool:
        gain = float(self.duals @ np.minimum(column.adds, self.left))
        asked = column.cost - float(prices[column.bin]) + 1e-6 * abs(column.cost)
        return gain > asked

    def _cut_within(self, duals: Floats, allowed: Floats) -> list[Column]:
        """Return a pattern within the demand for each bin that promises most."""
        values = self.rows.values(self.problem, duals)
        found = []
        for kernel in self.kernels:
            tables = kernel.solve(values, exact=False)
            cutter = Cutter(tables, self.rows, values, self.left)
            promise = [
                (one.cost - float(tables.worths[row]) - float(allowed[one.index]), row)
                for row, one in enumerate(kernel.bins)
            ]
            for lacks, row in sorted(promise)[: int(10 + 1.3 * self.boards)]:
                if lacks >= 0:
                    break
                sections = cutter.pattern(row)
                if sections:
                    found.append(
                        column_of(self.problem, self.rows, kernel.bins[row], sections)
                    )
        return found

    def _fix(self, uses: list[float], most: int) -> int:
        """Fix up to `most` of the columns used most; return how many."""
        chance = self.rng.random
        ranked = sorted(
            (-use * (0.85 + 0.15 * chance()), number)
            for number, use in enumerate(uses)
            if use > 1e-6
        )
        done = 0
        for use, number in ranked:
            column = self.pool[number]
            if done >= most or (done and -use < 0.4):
                break
            if column.bin not in self.free:
                continue
            within = clipped(self.problem, self.rows, column, self.left)
            if within is None or self._loses(column, within):
                continue
            self.take(within)
            done += 1
        return done

    def _loses(self, column: Column, within: Column) -> bool:
        """Whether clipping takes more than little of what a column is worth."""
        before = float(self.duals @ column.adds) - column.cost
        after = float(self.duals @ np.minimum(within.adds, self.left)) - within.cost
        return after < before - 0.02 * column.cost

    def take(self, column: Column) -> None:
        """Fix a column: its bin is cut, and what it makes is wanted no more."""
        self.fixed.append(column)
        self.free.discard(column.bin)
        self.left = np.maximum(0.0, self.left - column.adds)
        for item in self.problem.items:
            if item.is_panel:
                row = self.rows.first[item.index]
                least = -(-self.left[row] // (item.high - item.joint))
                self.left[row + 1] = max(self.left[row + 1], least) if least else 0.0
