"""Whole boards as a flow along their length: which sections to cut, and how they fit.

A section is two-dimensional, but sections lie along a board one after another, as pieces
do in cutting stock of one dimension. A board is a path from 0 to its length, whose arcs are
sections or what is left over (Valerio de Carvalho 1999, Ann. Oper. Res. 86:629-659). HiGHS
solves the integer program: on this kind it is far ahead of SCIP and CP-SAT.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import timedelta
from itertools import pairwise

from ortools.math_opt.python import mathopt

from nesting.listing import counts_of, trimmed
from nesting.patterns import Kernel, Section
from nesting.problem import Problem

Counts = tuple[int, ...]
Lists = Mapping[int, Mapping[Counts, Section]]
Sections = dict[int, tuple[Section, ...]]


@dataclass(frozen=True, slots=True)
class Plans:
    """What came of a search for the cheapest plan.

    Attributes
    ----------
    sections
        Bins by index with their sections; None if nothing was found for what it may cost.
    bound
        What no plan goes below, in cents; no top-ups to smallest orders, no offcuts in it.
    """

    sections: Sections | None
    bound: int


def cost_of(problem: Problem, sections: Sections) -> int:
    """Return what bins and the trips for them cost in cents, without top-ups."""
    bins = [problem.bins[index] for index in sections]
    yards = {one.yard for one in bins}
    trips = sum(cost for yard, cost in problem.trips.items() if yard in yards)
    return sum(one.cost for one in bins) + trips


@dataclass(frozen=True, slots=True)
class Arcs:
    """The flow along the boards of one place.

    Attributes
    ----------
    sections, left
        Variables by the nodes they lead from and to; nodes are distances along the board.
    ends
        How many boards of each row of the kernel end where: (node, boards).
    """

    sections: dict[tuple[int, int], mathopt.Variable]
    left: dict[tuple[int, int], mathopt.Variable]
    ends: dict[int, tuple[int, mathopt.Variable]]


class Flow:
    """The integer program: how often each section is cut, and boards as a flow.

    Parameters
    ----------
    places
        Rows of the kernel's bins by place: those of one place share their sections.
    lists
        Sections by place and by what they hold.
    """

    def __init__(
        self,
        problem: Problem,
        kernel: Kernel,
        places: Mapping[int, Sequence[int]],
        lists: Lists,
    ) -> None:
        self.problem, self.kernel, self.lists = problem, kernel, lists
        self.model = mathopt.Model()
        self.wanted = [item.units for item in problem.items]
        self.cover = [self._row(float(units), math.inf) for units in self.wanted]
        self.uses: dict[tuple[int, Counts], mathopt.Variable] = {}
        self.arcs = {place: self._along(place, rows) for place, rows in places.items()}

    def _row(self, low: float, high: float) -> mathopt.LinearConstraint:
        return self.model.add_linear_constraint(lb=low, ub=high)

    def _integer(self, most: float = math.inf) -> mathopt.Variable:
        return self.model.add_integer_variable(lb=0.0, ub=most)

    def _along(self, place: int, rows: Sequence[int]) -> Arcs:
        """Add the sections of a place and the flow along its boards."""
        kerf, bins = self.kernel.kerf, self.kernel.bins
        found = Arcs({}, {}, {})
        rooms = {row: bins[row].length + kerf for row in rows}
        lengths = {section.length + kerf for section in self.lists[place].values()}
        arcs = arcs_of(sorted(lengths), max(rooms.values()))
        nodes = sorted({0, *rooms.values(), *(end for _, end in arcs)})
        through = {node: self._row(0.0, 0.0) for node in nodes}
        for some, pairs in ((found.sections, arcs), (found.left, pairwise(nodes))):
            for start, end in pairs:
                some[start, end] = self._integer()
                through[start].set_coefficient(some[start, end], -1.0)
                through[end].set_coefficient(some[start, end], 1.0)
        for row, room in rooms.items():
            bought = self._integer(float(len(self._stack(row))))
            through[0].set_coefficient(bought, 1.0)
            through[room].set_coefficient(bought, -1.0)
            found.ends[row] = (room, bought)
        self._hold(place, found)
        return found

    def _hold(self, place: int, arcs: Arcs) -> None:
        """Cut no section more often than there is room for one of its length."""
        kerf = self.kernel.kerf
        held: dict[int, mathopt.LinearConstraint] = {}
        for (start, end), flow in arcs.sections.items():
            row = held.setdefault(end - start, self._row(-math.inf, 0.0))
            row.set_coefficient(flow, -1.0)
        for counts, section in self.lists[place].items():
            times = max(-(-self.wanted[i] // n) for i, n in enumerate(counts) if n)
            use = self._integer(float(times))
            self.uses[place, counts] = use
            held[section.length + kerf].set_coefficient(use, 1.0)
            for i, count in enumerate(counts):
                if count:
                    self.cover[i].set_coefficient(use, float(count))

    def _stack(self, row: int) -> tuple[int, ...]:
        """Return the bins that are like that of a row of the kernel."""
        index = self.kernel.bins[row].index
        return self.problem.stacks[self.problem.stack_of[index]]

    def solve(
        self, least: int, most: int, step: int, seconds: float
    ) -> tuple[Sections | None, bool]:
        """Return the cheapest sections that cost `least` to `most` cents, and if proven.

        All costs are multiples of `step`. None and proven: these sections allow no such
        plan.
        """
        self._charge(least, most, step)
        limits = mathopt.SolveParameters(
            time_limit=timedelta(seconds=max(0.1, seconds)),
            relative_gap_tolerance=0.0,
            absolute_gap_tolerance=0.99,  # costs are whole steps
        )
        result = mathopt.solve(self.model, mathopt.SolverType.HIGHS, params=limits)
        reasons = mathopt.TerminationReason
        proven = result.termination.reason in (reasons.OPTIMAL, reasons.INFEASIBLE)
        if not result.has_primal_feasible_solution():
            return None, proven
        return self._sections(result.variable_values()), proven

    def _charge(self, least: int, most: int, step: int) -> None:
        """Minimise what boards and trips cost, in steps, within its limits."""
        paid: list[tuple[mathopt.Variable, float]] = []
        visits: dict[str, mathopt.Variable] = {}
        for row, (_, bought) in self._ends():
            one = self.kernel.bins[row]
            paid.append((bought, one.cost / step))
            if one.yard is None or not self.problem.trips.get(one.yard):
                continue
            if one.yard not in visits:
                visits[one.yard] = self._integer(1.0)
                paid.append((visits[one.yard], self.problem.trips[one.yard] / step))
            follows = self._row(-math.inf, 0.0)
            follows.set_coefficient(bought, 1.0)
            follows.set_coefficient(visits[one.yard], -float(len(self._stack(row))))
        total = self._row(least / step, most / step)
        self.model.objective.is_maximize = False
        for variable, cost in paid:
            self.model.objective.set_linear_coefficient(variable, cost)
            total.set_coefficient(variable, cost)

    def _ends(self) -> Iterator[tuple[int, tuple[int, mathopt.Variable]]]:
        for arcs in self.arcs.values():
            yield from arcs.ends.items()

    def _sections(self, values: Mapping[mathopt.Variable, float]) -> Sections:
        """Lay the sections that are cut on boards, without pieces that are not wanted."""
        waiting: dict[tuple[int, int], list[Section]] = {}
        for (place, counts), use in self.uses.items():
            section = self.lists[place][counts]
            same = waiting.setdefault((place, section.length + self.kernel.kerf), [])
            same += [section] * round(values[use])
        left = list(self.wanted)
        found: Sections = {}
        for place, arcs in self.arcs.items():
            free = {row: iter(self._stack(row)) for row in arcs.ends}
            for row, lengths in paths(arcs, values):
                laid = []
                for length in lengths:
                    if waiting[place, length]:
                        section = trimmed(self.problem, waiting[place, length].pop(), left)
                        for i, count in enumerate(counts_of(self.problem, section)):
                            left[i] -= count
                        laid.append(section)
                if any(section.strips for section in laid):
                    found[next(free[row])] = tuple(s for s in laid if s.strips)
        return found


def arcs_of(lengths: Sequence[int], room: int) -> list[tuple[int, int]]:
    """Return from where to where sections may lie along a board of `room`.

    Longer ones come first, which leaves out other orders of the same sections.
    """
    nodes = {0}
    arcs = []
    for length in sorted(lengths, reverse=True):
        waiting = sorted(nodes)
        for start in waiting:  # grows as sections of this length follow each other
            end = start + length
            if end > room:
                continue
            arcs.append((start, end))
            if end not in nodes:
                nodes.add(end)
                waiting.append(end)
    return arcs


def paths(
    arcs: Arcs, values: Mapping[mathopt.Variable, float]
) -> Iterator[tuple[int, list[int]]]:
    """Take a flow apart: yield the row of each board and the lengths of its sections."""
    sections = Counter({key: round(values[flow]) for key, flow in arcs.sections.items()})
    left = Counter({key: round(values[flow]) for key, flow in arcs.left.items()})
    ends = {row: round(values[bought]) for row, (_, bought) in arcs.ends.items()}
    while any(ends.values()):
        node, lengths = 0, []
        while True:
            key = next((k for k, n in sections.items() if n and k[0] == node), None)
            if key is not None:
                sections[key] -= 1
                lengths.append(key[1] - key[0])
            else:
                key = next((k for k, n in left.items() if n and k[0] == node), None)
                if key is None:
                    break
                left[key] -= 1
            node = key[1]
        row = next(row for row, n in ends.items() if n and arcs.ends[row][0] == node)
        ends[row] -= 1
        yield row, lengths
