"""How many times the demand a given set of bins holds, in fractions of sections.

The duals of this linear master are prices of pieces and of each window's length; with them
the contents of sections that lose little are listed.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np
from ortools.linear_solver import pywraplp

from nesting.columns import Rows
from nesting.contents import Content, Listing
from nesting.patterns import Floats, Kernel, Section, Tables
from nesting.problem import Bin, Item, Problem
from nesting.windows import Window, windows_for

FULL = 1000.0  # what the whole demand is worth at the master's prices
ROUNDS = 30


class Reach:
    """The linear master over the sections of given windows.

    Attributes
    ----------
    times
        How many times the demand the windows hold in fractions.
    duals, rates
        Price of each row of the demand; price of a step of length of each window.
    """

    def __init__(self, problem: Problem, bins: Sequence[Bin], rows: Rows) -> None:
        self.problem = problem
        self.bins = tuple(bins)
        self.rows = rows
        self.units = [_units(item, rows) for item in problem.items]
        self.windows = tuple(w for one in bins for w in windows_for(problem, one))
        self.spots: list[list[int]] = []
        pretended: list[Bin] = []
        for window in self.windows:
            self.spots.append([])
            for span in window.spans:
                self.spots[-1].append(len(pretended))
                pretended.append(_pretended(problem, window, span.height, span.allowed))
        self.kernel = Kernel(problem, pretended)
        self._rows()
        self.times = 0.0
        self.duals = np.zeros(len(self.rows.demand))
        self.rates = [0.0] * len(self.windows)
        self.taken: list[list[tuple[Floats, Content]]] = [[] for _ in self.windows]
        self.seen: set[tuple[int, int, tuple[float, ...]]] = set()

    def _rows(self) -> None:
        self.solver = pywraplp.Solver.CreateSolver("GLOP")
        inf = self.solver.infinity()
        self.cover = [self.solver.Constraint(0.0, inf) for _ in self.rows.demand]
        self.reached = self.solver.NumVar(0.0, 3.0, "")
        self.solver.Objective().SetCoefficient(self.reached, FULL)
        self.solver.Objective().SetMaximization()
        for row, demand in zip(self.cover, self.rows.demand, strict=True):
            if demand > 0:  # every row is a share of its demand
                row.SetCoefficient(self.reached, -1.0)
        self.limits: list[pywraplp.Constraint] = []
        self.rooms: list[int] = []
        self.held_by: list[list[int]] = [[] for _ in self.windows]
        for one in self.bins:
            own = [n for n, w in enumerate(self.windows) if w.bin == one.index]
            for room, held in _rooms(one, [self.windows[n] for n in own]):
                row = self.solver.Constraint(-inf, 1.0)
                self.rooms.append(room + self.problem.kerf)
                for n in held:
                    self.held_by[own[n]].append(len(self.limits))
                self.limits.append(row)

    def solve(self, first: Floats, stop: Callable[[], bool]) -> None:
        """Generate columns until none pays; `first` are prices to begin with."""
        demand = self.rows.demand
        self.duals = first * (FULL / max(1e-9, float(first @ demand)))
        for _ in range(ROUNDS):
            self.tables = self._price()
            if not self._take() or stop():
                break
            if self.solver.Solve() != pywraplp.Solver.OPTIMAL:
                break  # the prices of the round before are as good as any
            self.times = self.reached.solution_value()
            shares = np.array([-row.dual_value() for row in self.cover])
            self.duals = np.maximum(0.0, shares) / np.maximum(demand, 1.0)
            prices = [
                max(0.0, row.dual_value()) / room
                for row, room in zip(self.limits, self.rooms, strict=True)
            ]
            self.rates = [sum(prices[n] for n in held) for held in self.held_by]
            if not self.duals.any():
                break

    def _price(self) -> Tables:
        return self.kernel.solve(self.rows.values(self.problem, self.duals), exact=True)

    def _take(self) -> int:
        """Add the sections that pay; return how many."""
        kernel, tables, taken = self.kernel, self.tables, 0
        sums = kernel.sums[tables.sections]
        for number, (window, spots) in enumerate(
            zip(self.windows, self.spots, strict=True)
        ):
            fits = int(
                np.searchsorted(sums, window.length + self.problem.kerf, side="right")
            )
            places = [kernel.place[spot, tables.sections[:fits]] for spot in spots]
            worth = sum(
                (tables.at_place[place, np.arange(fits)] for place in places),
                np.zeros(fits),
            )
            gains = worth - self.rates[number] * sums[:fits]
            for s in np.flatnonzero(gains > 1e-4 * np.maximum(worth, 1e-9)):
                parts = [
                    tables.section(int(s), *kernel.places[place[s]]) for place in places
                ]
                taken += self._add(number, parts)
        return taken

    def _add(self, number: int, parts: Sequence[Section]) -> bool:
        """Add a section of a window unless one that holds the same is known."""
        adds = self.rows.coefficients(self.problem, parts)
        length = max(part.length for part in parts)
        key = (number, length, tuple(adds))
        if key in self.seen or not adds.any():
            return False
        self.seen.add(key)
        strips = tuple(part.strips for part in parts)
        self.taken[number].append((adds, Content(length, strips, 0.0)))
        use = self.solver.NumVar(0.0, self.solver.infinity(), "")
        for n in self.held_by[number]:
            self.limits[n].SetCoefficient(use, (length + self.problem.kerf) / self.rooms[n])
        for row in np.flatnonzero(adds):
            self.cover[row].SetCoefficient(
                use, float(adds[row]) / max(1.0, self.rows.demand[row])
            )
        return True

    def contents(self, number: int, loss: float, most: int) -> list[Content]:
        """Return contents of a window's sections that lose at most `loss`, best first."""
        listing = Listing(
            self.problem,
            self.windows[number],
            self.tables,
            self.spots[number],
            self.rows.values(self.problem, self.duals),
            self.rates[number],
            self.units,
        )
        found = listing.run(loss, most)
        known = {content.spans for content in found}
        for adds, content in self.taken[number]:
            length = content.length + self.problem.kerf
            lost = self.rates[number] * length - float(self.duals @ adds)
            if lost <= loss and content.spans not in known:
                found.append(replace(content, loss=lost))
        return sorted(found, key=lambda content: content.loss)[: most + most // 2]


def _units(item: Item, rows: Rows) -> int:
    """Return how many units of an item a demand is, begun ones counted."""
    demand = rows.demand[rows.first[item.index]]
    return math.ceil(float(demand) / (item.need if item.is_panel else 1))


def _pretended(
    problem: Problem, window: Window, height: int, allowed: frozenset[int]
) -> Bin:
    """Return a span of a window as a clear bin without offcuts."""
    return replace(
        problem.bins[window.bin],
        length=window.length,
        width=height,
        width2=height,
        credit=0.0,
        wanted=allowed,
        limited={},
        marks=(),
    )


def _rooms(one: Bin, windows: Sequence[Window]) -> list[tuple[int, list[int]]]:
    """Return lengths of a bin, and the windows whose sections must share each."""
    found: dict[tuple[int, ...], int] = {}
    for place in {w.end for w in windows} | {w.start for w in windows}:
        ended = tuple(n for n, w in enumerate(windows) if w.end <= place)
        begun = tuple(n for n, w in enumerate(windows) if w.start >= place)
        for room, held in ((place, ended), (one.length - place, begun)):
            if held and room < found.get(held, one.length + 1):
                found[held] = room
    return [(room, list(held)) for held, room in found.items()]
