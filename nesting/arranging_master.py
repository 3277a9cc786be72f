"""One mix for every panel, each stave once: the integer choice among mixes (CP-SAT).

What a set counts for not looking alike is a matter of all its panels, so it stands in the
model itself: which logs, tones and numbers of staves the set has.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from ortools.linear_solver import pywraplp
from ortools.sat.python import cp_model

from nesting.arranging import (
    Demand,
    Stave,
    Taste,
)
from nesting.arranging_costs import (
    COUNTS,
    set_terms,
)
from nesting.arranging_pool import Mix
from nesting.arranging_tables import Whole
from nesting.solvers import solver_for


@dataclass(frozen=True, slots=True)
class Column:
    """A mix of staves as a panel of one kind, and what it counts in its best order."""

    kind: int
    mix: Mix
    cost: int


@dataclass(frozen=True, slots=True)
class Kinds:
    """Panels that are alike, counted, with the staves there are.

    Attributes
    ----------
    must_use
        Staves that have to be in a panel.
    """

    demands: tuple[Demand, ...]
    counts: tuple[int, ...]
    staves: tuple[Stave, ...]
    taste: Taste
    must_use: frozenset[int] = frozenset()

    def sets(self) -> dict[str, list[int]]:
        """Return the kinds of each set of two panels or more."""
        found: dict[str, list[int]] = defaultdict(list)
        for kind, demand in enumerate(self.demands):
            if demand.set:
                found[demand.set].append(kind)
        return {
            name: kinds for name, kinds in found.items()
            if sum(self.counts[kind] for kind in kinds) > 1
        }  # fmt: skip

    def cost(self, columns: Sequence[Column]) -> int:
        """Return what a choice counts, sets included."""
        total = sum(column.cost for column in columns)
        for kinds in self.sets().values():
            panels = [
                [self.staves[s] for s in column.mix] for column in columns
                if column.kind in kinds
            ]  # fmt: skip
            total += sum(set_terms(panels, self.taste).values())
        return total


@dataclass(frozen=True, slots=True)
class Chosen:
    """A choice, what it counts, and whether it is the best of the columns offered."""

    columns: tuple[Column, ...]
    cost: int
    is_best: bool


class Master:
    """The model; `fixed` columns are in every choice."""

    def __init__(
        self, kinds: Kinds, columns: Sequence[Column], fixed: Sequence[Column] = ()
    ) -> None:
        self.kinds = kinds
        self.columns = tuple(dict.fromkeys([*fixed, *columns]))
        self.model = cp_model.CpModel()
        self.takes = [self.model.new_bool_var("") for _ in self.columns]
        for column, take in zip(self.columns, self.takes, strict=True):
            if column in fixed:
                self.model.add(take == 1)
        self._panels()
        self._staves()
        terms: list[cp_model.LinearExprT] = [
            column.cost * take
            for column, take in zip(self.columns, self.takes, strict=True)
        ]
        for members in kinds.sets().values():
            terms += self._set(members)
        self.model.minimize(sum(terms))

    def _panels(self) -> None:
        for kind, count in enumerate(self.kinds.counts):
            takes = [
                take for column, take in zip(self.columns, self.takes, strict=True)
                if column.kind == kind
            ]  # fmt: skip
            self.model.add(sum(takes) == count)

    def _staves(self) -> None:
        users: dict[int, list[cp_model.IntVar]] = defaultdict(list)
        for column, take in zip(self.columns, self.takes, strict=True):
            for s in column.mix:
                users[s].append(take)
        for s, takes in users.items():
            if s in self.kinds.must_use:
                self.model.add_exactly_one(takes)
            else:
                self.model.add_at_most_one(takes)

    def _set(self, members: Sequence[int]) -> list[cp_model.LinearExprT]:
        """Return what a set counts: its logs, its range of tone, of staves in a panel."""
        taste, staves = self.kinds.taste, self.kinds.staves
        logs: dict[Hashable, list[cp_model.IntVar]] = defaultdict(list)
        tones: dict[int, list[cp_model.IntVar]] = defaultdict(list)
        counts: dict[int, list[cp_model.IntVar]] = defaultdict(list)
        for column, take in zip(self.columns, self.takes, strict=True):
            if column.kind not in members:
                continue
            for log in {staves[s].source for s in column.mix}:
                logs[log].append(take)
            for tone in {staves[s].tone for s in column.mix} - {None}:
                tones[tone or 0].append(take)
            counts[len(column.mix)].append(take)
        terms: list[cp_model.LinearExprT] = [
            taste.set_flitch * self._used(takes) for takes in logs.values()
        ]
        terms.append(-taste.set_flitch)
        terms.append(taste.set_tone * self._range(tones))
        terms.append(COUNTS * self._range(counts))
        return terms

    def _used(self, takes: Sequence[cp_model.IntVar]) -> cp_model.IntVar:
        used = self.model.new_bool_var("")
        for take in takes:
            self.model.add_implication(take, used)
        return used

    def _range(self, values: dict[int, list[cp_model.IntVar]]) -> cp_model.LinearExprT:
        """Return how far the values that are used lie apart, at least."""
        if len(values) < 2:
            return 0
        apart = self.model.new_int_var(0, max(values) - min(values), "")
        used = {value: self._used(takes) for value, takes in values.items()}
        for low, high in combinations(sorted(used), 2):
            self.model.add(apart >= (high - low) * (used[low] + used[high] - 1))
        return apart

    def solve(
        self,
        start: Sequence[Column],
        seed: int,
        work: float,
        seconds: float,
    ) -> Chosen | None:
        """Return the best choice found, from a first one on; `work` is CP-SAT's time."""
        first = set(start)
        for column, take in zip(self.columns, self.takes, strict=True):
            self.model.add_hint(take, column in first)
        solver = solver_for(seconds, seed, work)
        status = solver.solve(self.model)
        if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
            return None
        taken = tuple(
            column for column, take in zip(self.columns, self.takes, strict=True)
            if solver.boolean_value(take)
        )  # fmt: skip
        return Chosen(taken, self.kinds.cost(taken), status == cp_model.OPTIMAL)


def not_ruled_out(
    kinds: Kinds,
    columns: Sequence[Column],
    most: int,
    start: Sequence[Column],
    stop: Callable[[], bool],
) -> tuple[list[Column], float] | None:
    """Return the columns that a choice of less than `most` may use, and a lower bound.

    The linear program over all columns, solved by adding those that pay; then what a
    column adds to its bound rules it out. A set counts at least its panels' mean. None
    if it was stopped, or has no solution.
    """
    sets = kinds.sets()
    prices = np.array([_with_share(kinds, sets, column) for column in columns])
    kind_of = np.array([column.kind for column in columns], dtype=np.int64)
    by_length = _by_length(columns)
    solver = pywraplp.Solver.CreateSolver("GLOP")
    inf = solver.infinity()
    panels = [solver.Constraint(float(n), float(n)) for n in kinds.counts]
    staves = [
        solver.Constraint(1.0 if s in kinds.must_use else -inf, 1.0)
        for s in range(len(kinds.staves))
    ]
    objective = solver.Objective()
    objective.SetMinimization()
    for row in panels:  # a panel not made, so that there is always a solution
        lack = solver.NumVar(0.0, inf, "")
        row.SetCoefficient(lack, 1.0)
        objective.SetCoefficient(lack, 1e6)
    for s in kinds.must_use:
        lack = solver.NumVar(0.0, inf, "")
        staves[s].SetCoefficient(lack, 1.0)
        objective.SetCoefficient(lack, 1e6)
    index = {column: at for at, column in enumerate(columns)}
    waiting = [index[column] for column in start if column in index]
    inside: set[int] = set()
    while not stop():
        for at in waiting:
            column = columns[at]
            take = solver.NumVar(0.0, inf, "")
            objective.SetCoefficient(take, float(prices[at]))
            panels[column.kind].SetCoefficient(take, 1.0)
            for s in column.mix:
                staves[s].SetCoefficient(take, 1.0)
            inside.add(at)
        if solver.Solve() != pywraplp.Solver.OPTIMAL:
            return None
        worth = np.array([row.dual_value() for row in panels])
        charge = np.array([row.dual_value() for row in staves])
        reduced = prices - worth[kind_of]
        for rows, mixes in by_length:
            reduced[rows] -= charge[mixes].sum(axis=1)
        order = np.argsort(reduced, kind="stable")[:300]
        waiting = [int(a) for a in order if reduced[a] < -1e-6 and int(a) not in inside]
        if not waiting:
            bound = objective.Value()
            near = np.flatnonzero(reduced <= most - bound + 1e-3)
            return [columns[int(at)] for at in near], bound
    return None


def _by_length(columns: Sequence[Column]) -> list[tuple[Whole, Whole]]:
    """Return the places and the mixes of columns, those with as many staves together."""
    places: dict[int, list[int]] = defaultdict(list)
    for at, column in enumerate(columns):
        places[len(column.mix)].append(at)
    return [
        (
            np.array(some, dtype=np.int64),
            np.array([columns[at].mix for at in some], dtype=np.int64),
        )
        for some in places.values()
    ]


def _with_share(kinds: Kinds, sets: dict[str, list[int]], column: Column) -> float:
    """Return a column's cost with its share of what its set counts at least.

    A set has as many logs and as wide a range of tone as any panel of it, so no fewer
    than its panels have in the mean.
    """
    members = sets.get(kinds.demands[column.kind].set or "")
    if not members:
        return float(column.cost)
    panels = sum(kinds.counts[kind] for kind in members)
    alone = [[kinds.staves[s] for s in column.mix]] * 2
    return column.cost + sum(set_terms(alone, kinds.taste).values()) / panels
