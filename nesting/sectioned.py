"""Integer programs that cut a set of boards: section by section, or pattern by pattern.

Every right side is slackened by `SLACK`, more than the solver's tolerance, so that what is
found impossible is impossible.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from ortools.linear_solver import pywraplp

from nesting.along import Contents
from nesting.contents import Content
from nesting.counted import Bounded
from nesting.holding import Prices
from nesting.patterns import Floats, Ints
from nesting.sets import SLACK

Shares = list[tuple[int, pywraplp.Variable]]  # corners, and how much of each is cut


class Program:
    """What both programs share: the demand is made, a kind is a mix of its corners.

    Attributes
    ----------
    is_impossible
        Once solved: whether it is proven that nothing makes everything.
    """

    def __init__(self, demand: Floats) -> None:
        self.solver = pywraplp.Solver.CreateSolver("SCIP")
        self.solver.SetSolverSpecificParametersAsString("misc/catchctrlc = FALSE")
        self.inf = self.solver.infinity()
        self.demand = demand
        self.cover = [self.solver.Constraint(1.0 - SLACK, self.inf) for _ in demand]
        self.is_impossible = False

    def make(self, use: pywraplp.Variable, adds: Floats) -> None:
        """Let a variable add to the demand."""
        for row in np.flatnonzero(adds):
            share = float(adds[row] / self.demand[row])
            self.cover[row].SetCoefficient(use, share)

    def mix(self, row: pywraplp.Constraint, lines: Ints, most: int) -> Shares:
        """Return how much of each corner is in a kind; `row` makes them add up to it."""
        corners = []
        for line in lines:
            share = self.solver.NumVar(0.0, float(most), "")
            row.SetCoefficient(share, 1.0)
            corners.append((int(line), share))
        return corners

    def run(self, seconds: float) -> bool:
        """Whether something was found in time that makes everything."""
        self.solver.SetTimeLimit(max(1, int(1000 * seconds)))
        status = self.solver.Solve()
        self.is_impossible = status == pywraplp.Solver.INFEASIBLE
        return status in (pywraplp.Solver.OPTIMAL, pywraplp.Solver.FEASIBLE)


class Sectioned(Program):
    """How often each kind of section is cut from each board.

    Parameters
    ----------
    cuts
        Prices: the sections of a board are worth no more than its best pattern. So the
        relaxation is as good as one over whole patterns.
    """

    def __init__(
        self, held: Sequence[Contents], demand: Floats, cuts: Sequence[Prices]
    ) -> None:
        super().__init__(demand)
        self.held = held
        self.uses = [self._board(number, cuts) for number in range(len(held))]

    def _board(
        self, number: int, cuts: Sequence[Prices]
    ) -> list[tuple[pywraplp.Variable, Shares]]:
        """Add a board: its sections lie along it and are worth no more than its best."""
        held = self.held[number]
        along = self.solver.Constraint(-self.inf, 1.0 + SLACK)
        limits = [
            (cut.duals / cut.worths[number], self.solver.Constraint(-self.inf, 1.0 + SLACK))
            for cut in cuts
            if cut.worths[number] > 0
        ]
        uses = []
        for kind in np.unique(held.kinds):
            lines = np.flatnonzero(held.kinds == kind)
            length = int(held.lengths[lines[0]])
            most = held.room // length
            use = self.solver.IntVar(0, most, "")
            along.SetCoefficient(use, length / held.room)
            corners = [(int(lines[0]), use)]
            if len(lines) > 1:
                row = self.solver.Constraint(0.0, 0.0)
                row.SetCoefficient(use, -1.0)
                corners = self.mix(row, lines, most)
            for line, corner in corners:
                self.make(corner, held.adds[line])
                for duals, limit in limits:
                    limit.SetCoefficient(corner, float(duals @ held.adds[line]))
            uses.append((use, corners))
        return uses

    def solve(self, seconds: float) -> list[list[Content]] | None:
        """Return the sections of each board that make everything; None if none found."""
        if not self.run(seconds):
            return None
        return [
            [content for _, corners in uses for content in _taken(held, corners)]
            for held, uses in zip(self.held, self.uses, strict=True)
        ]


class Patterned(Program):
    """Which pattern each board is cut by; widths are mixed among the kinds it holds."""

    def __init__(self, boards: Sequence[Bounded], demand: Floats) -> None:
        super().__init__(demand)
        self.boards = boards
        self.uses = [self._board(bounded) for bounded in boards]

    def _board(
        self, bounded: Bounded
    ) -> tuple[list[pywraplp.Variable], list[tuple[int, Shares]]]:
        """Add a board: one pattern, and the corners of its sections."""
        one = self.solver.Constraint(-self.inf, 1.0)
        takes = []
        for adds in bounded.fixed:
            take = self.solver.BoolVar("")
            one.SetCoefficient(take, 1.0)
            self.make(take, adds)
            takes.append(take)
        loose = np.where(bounded.loose, bounded.held.adds, 0.0)
        mixes = []
        for kind in np.unique(bounded.cut[bounded.cut < bounded.nothing]):
            lines = np.flatnonzero(bounded.held.kinds == kind)
            made = (bounded.cut == kind).sum(axis=1)
            row = self.solver.Constraint(0.0, 0.0)
            for number in np.flatnonzero(made):
                row.SetCoefficient(takes[number], -float(made[number]))
            corners = self.mix(row, lines, int(made.max()))
            for line, corner in corners:
                self.make(corner, loose[line])
            mixes.append((int(kind), corners))
        return takes, mixes

    def solve(self, seconds: float) -> list[list[Content]] | None:
        """Return the sections of each board that make everything; None if none found."""
        if not self.run(seconds):
            return None
        return [
            [content for _, corners in mixes for content in _taken(one.held, corners)]
            for one, (_, mixes) in zip(self.boards, self.uses, strict=True)
        ]


def _taken(held: Contents, corners: Shares) -> list[Content]:
    """Return the sections of a kind: of each corner those its share comes nearest."""
    shares = {line: share.solution_value() for line, share in corners}
    found = []
    for _ in range(round(sum(shares.values()))):
        line = max(shares, key=lambda line: shares[line])
        shares[line] -= 1.0
        found.append(held.contents[line])
    return found
