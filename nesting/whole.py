"""Whether a set of boards can make everything, decided in whole sections.

First all fillings that a plan could use are listed, then the prices are found anew with
patterns of just these, which leaves fewer of them, and so on; if that holds less than the
demand, nothing does. Else an integer program over what is left decides. The worth of each
board's best pattern at many prices is in it as cuts, so that its relaxation is as good as
that over whole patterns.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from ortools.linear_solver import pywraplp

from nesting.assemble import Pick
from nesting.columns import Rows
from nesting.contents import Content
from nesting.fillings import Fillings, corners_of, kind_of, most_useful
from nesting.holding import Best, Boards, Prices, most_times
from nesting.patterns import Floats, Ints
from nesting.problem import Bin, Problem
from nesting.sets import SLACK
from nesting.windows import windows_for

SAFE = 1e-9
WIDEST = 1.05  # of the demand: a set that holds more leaves too many ways to cut it
MOST_FILLINGS = 40_000
MOST_IN_PROGRAM = 12_000
CUTS = 12


@dataclass(frozen=True, slots=True)
class Verdict:
    """What is known of a set of boards.

    Attributes
    ----------
    cannot
        Whether it is proven that no plan makes everything from the set.
    pick
        Sections that make everything but for what whole widths may take; None if no such
        were found.
    """

    cannot: bool
    pick: Pick | None = None


OPEN, CANNOT = Verdict(cannot=False), Verdict(cannot=True)


@dataclass(slots=True)
class Contents:
    """What one board's sections may hold; one line for each corner.

    Attributes
    ----------
    adds
        What a corner adds to each row.
    kinds
        Which corners belong to one kind and may be mixed: the same number.
    lengths
        Of the section, a kerf added.
    """

    room: int
    adds: Floats
    kinds: Ints
    lengths: Ints
    contents: tuple[Content, ...]

    def keep(self, good: NDArray[np.bool_]) -> None:
        """Drop the kinds of which no corner is good."""
        kept = np.flatnonzero(np.isin(self.kinds, self.kinds[good]))
        if len(kept) < len(self.kinds):
            self.adds, self.kinds = self.adds[kept], self.kinds[kept]
            self.lengths = self.lengths[kept]
            self.contents = tuple(self.contents[n] for n in kept)


def contents_for(
    boards: Boards, row: int, prices: Prices, useful: Sequence[int], stop: Callable[[], bool]
) -> Contents | None:
    """Return all contents of a board's sections at most `times` - 1 is lost by.

    None if there are too many, or no time.
    """
    problem, rows = boards.problem, boards.rows
    fillings = Fillings(boards, row, prices.duals, useful)
    if not fillings.run(prices.times - 1.0, MOST_FILLINGS, stop):
        return None
    numbers: dict[tuple[object, ...], int] = {}
    corners, kinds = [], []
    for number, filling in enumerate(fillings.found):
        if number % 256 == 0 and stop():
            return None
        kind = numbers.setdefault(kind_of(filling), len(numbers))
        for corner in corners_of(problem, rows, filling):
            corners.append(corner)
            kinds.append(kind)
    return Contents(
        boards.bins[row].length + problem.kerf,
        np.array([corner.adds for corner in corners]).reshape(-1, len(rows.demand)),
        np.array(kinds, dtype=np.int64),
        np.array([c.content.length + problem.kerf for c in corners], dtype=np.int64),
        tuple(corner.content for corner in corners),
    )


def best_of(held: Contents, duals: Floats) -> tuple[Best, Floats]:
    """Return a board's best pattern of its contents, and what each content loses.

    A knapsack along the board over the sums of lengths that the better contents reach.
    """
    if not len(held.adds):
        return Best(0.0, None), np.zeros(0)
    worths = held.adds @ duals
    lines = _rising(held.lengths, worths)
    lengths, gains = held.lengths[lines], worths[lines]
    sums = _sums(lengths, held.room)
    before = np.searchsorted(sums, sums[:, None] - lengths[None, :], side="right") - 1
    usable = np.searchsorted(lengths, sums, side="right")
    best, last = np.zeros(len(sums)), np.full(len(sums), -1)
    for place in range(1, len(sums)):
        best[place] = best[place - 1]
        n = usable[place]
        if n:
            found = best[before[place, :n]] + gains[:n]
            line = int(found.argmax())
            if found[line] > best[place]:
                best[place], last[place] = found[line], line
    rest = np.searchsorted(sums, held.room - held.lengths, side="right") - 1
    losses: Floats = best[-1] - worths - best[rest]
    adds, place = np.zeros(held.adds.shape[1]), len(sums) - 1
    while place > 0:
        line = int(last[place])
        if line < 0:
            place -= 1
        else:
            adds += held.adds[lines[line]]
            place = int(before[place, line])
    return Best(float(best[-1]), adds if adds.any() else None), losses


def _rising(lengths: Ints, worths: Floats) -> Ints:
    """Return the contents that are worth more than all of their length or shorter ones."""
    order = np.lexsort((-worths, lengths))
    sorted_ = worths[order]
    rises = np.ones(len(order), dtype=bool)
    rises[1:] = sorted_[1:] > np.maximum.accumulate(sorted_)[:-1]
    return order[rises]


def _sums(lengths: Ints, room: int) -> Ints:
    """Return every sum of lengths up to `room`, from 0."""
    reached = np.zeros(room + 1, dtype=bool)
    reached[0] = True
    for length in {int(v) for v in lengths}:
        for _ in range(room // length):
            reached[length:] |= reached[:-length].copy()
    return np.flatnonzero(reached).astype(np.int64)


@dataclass(slots=True)
class Narrowing:
    """Contents of the boards of a set, fewer with all prices that are tried.

    Boards whose contents are not listed yet are cut in any way.

    Attributes
    ----------
    best
        Prices at which the set holds least.
    """

    boards: Boards
    held: list[Contents | None]
    best: Prices
    tried: list[Prices]

    def price(self, duals: Floats) -> list[Best]:
        """Return the best pattern of each board; drop contents that lose too much."""
        found = [None if one is None else best_of(one, duals) for one in self.held]
        free = self.boards.price(duals) if None in found else []
        best = [free[n] if one is None else one[0] for n, one in enumerate(found)]
        spare = sum(one.worth for one in best) - 1.0
        for held, one in zip(self.held, found, strict=True):
            if held is not None and one is not None and spare >= 0 and len(one[1]):
                held.keep(one[1] <= spare + SAFE)
        return best

    def narrow(self, stop: Callable[[], bool]) -> None:
        """Find prices anew, as far as that goes."""
        demand = self.boards.rows.demand
        found = most_times(demand, self.best.duals, self.price, len(self.held), stop)
        self.tried += found
        self.best = min([self.best, *found], key=lambda prices: prices.times)

    def run(self, stop: Callable[[], bool]) -> bool:
        """List the contents of every board; False if there are too many, or no time.

        The boards of least worth go first, which have the fewest; what the others may
        lose is less then. Ends early once the set holds less than the demand.
        """
        useful = most_useful(self.boards.problem)
        for row in sorted(range(len(self.held)), key=lambda n: self.best.worths[n]):
            found = contents_for(self.boards, row, self.best, useful, stop)
            if found is None:
                return False
            self.held[row] = found
            self.narrow(stop)
            if self.is_short:
                break
        return True

    @property
    def is_short(self) -> bool:
        """Whether the set holds less than the demand."""
        return self.best.times < 1.0 - SAFE


class Program:
    """The integer program: how often each kind of section is cut from each board.

    Every right side is slackened by `SLACK`, more than the solver's tolerance, so that
    what it finds impossible is impossible.
    """

    def __init__(
        self, held: Sequence[Contents], demand: Floats, cuts: Sequence[Prices]
    ) -> None:
        self.held = held
        self.solver = pywraplp.Solver.CreateSolver("SCIP")
        self.solver.SetSolverSpecificParametersAsString("misc/catchctrlc = FALSE")
        self.inf = self.solver.infinity()
        self.demand = demand
        self.cover = [self.solver.Constraint(1.0 - SLACK, self.inf) for _ in demand]
        self.uses = [self._board(number, cuts) for number in range(len(held))]

    def _board(
        self, number: int, cuts: Sequence[Prices]
    ) -> list[tuple[pywraplp.Variable, list[tuple[int, pywraplp.Variable]]]]:
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
            corners = self._corners(use, lines, most)
            for line, corner in corners:
                adds = held.adds[line]
                for row in np.flatnonzero(adds):
                    share = float(adds[row] / self.demand[row])
                    self.cover[row].SetCoefficient(corner, share)
                for duals, limit in limits:
                    limit.SetCoefficient(corner, float(duals @ adds))
            uses.append((use, corners))
        return uses

    def _corners(
        self, use: pywraplp.Variable, lines: Ints, most: int
    ) -> list[tuple[int, pywraplp.Variable]]:
        """Return how much of each corner is in a kind: a mix that adds up to its use."""
        if len(lines) == 1:
            return [(int(lines[0]), use)]
        mixed = self.solver.Constraint(0.0, 0.0)
        mixed.SetCoefficient(use, -1.0)
        corners = []
        for line in lines:
            share = self.solver.NumVar(0.0, most, "")
            mixed.SetCoefficient(share, 1.0)
            corners.append((int(line), share))
        return corners

    def solve(self, seconds: float) -> list[list[Content]] | None:
        """Return the sections of each board that make everything; None if none were found.

        `is_impossible` tells then whether there are none.
        """
        self.solver.SetTimeLimit(max(1, int(1000 * seconds)))
        status = self.solver.Solve()
        self.is_impossible = status == pywraplp.Solver.INFEASIBLE
        if status not in (pywraplp.Solver.OPTIMAL, pywraplp.Solver.FEASIBLE):
            return None
        return [
            [content for use in uses for content in _taken(held, *use)]
            for held, uses in zip(self.held, self.uses, strict=True)
        ]


def _taken(
    held: Contents, use: pywraplp.Variable, corners: Sequence[tuple[int, pywraplp.Variable]]
) -> list[Content]:
    """Return the sections of a kind: of each corner as many as its share comes nearest."""
    count = round(use.solution_value())
    shares = {line: share.solution_value() for line, share in corners}
    found = []
    for _ in range(count):
        line = max(shares, key=lambda line: shares[line])
        shares[line] -= 1.0
        found.append(held.contents[line])
    return found


def decide(
    problem: Problem,
    rows: Rows,
    bins: Sequence[Bin],
    seconds: float,
    stop: Callable[[], bool],
) -> Verdict:
    """Decide in about `seconds` whether a set of boards can make everything.

    Match rules and whole panels are relaxed: staves count by their width in all.
    """
    end = time.monotonic() + seconds

    def late() -> bool:
        return stop() or time.monotonic() > end

    if not _is_decidable(problem, rows, bins):
        return OPEN
    boards = Boards(problem, rows, bins)
    tried = boards.solve(late)
    best = min(tried, key=lambda prices: prices.times)
    narrowing = Narrowing(boards, [None] * len(bins), best, tried)
    if narrowing.is_short:
        return CANNOT
    if best.times > WIDEST or late() or not narrowing.run(late):
        return OPEN
    if narrowing.is_short:
        return CANNOT
    held = [one for one in narrowing.held if one is not None]
    if late() or sum(len(one.kinds) for one in held) > MOST_IN_PROGRAM:
        return OPEN
    cuts = sorted(narrowing.tried, key=lambda prices: prices.times)[:CUTS]
    program = Program(held, rows.demand, cuts)
    sections = program.solve(max(0.1, end - time.monotonic()))
    if sections is None:
        return CANNOT if program.is_impossible else OPEN
    return Verdict(cannot=False, pick=_pick(problem, bins, sections))


def _is_decidable(problem: Problem, rows: Rows, bins: Sequence[Bin]) -> bool:
    """Whether all boards are clear, no piece stays in a gang, and everything is wanted."""
    return (
        all(one.is_plain for one in bins)
        and not any(item.is_short for item in problem.items)
        and bool(np.all(rows.demand > 0))
    )


def _pick(
    problem: Problem, bins: Sequence[Bin], sections: Sequence[Sequence[Content]]
) -> Pick:
    chosen = {}
    for one, contents in zip(bins, sections, strict=True):
        window = windows_for(problem, one)[0]
        if contents:
            chosen[one.index] = tuple((window, content) for content in contents)
    return Pick(chosen, 0.0, is_complete=True, is_best=False)
