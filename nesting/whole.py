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
from dataclasses import dataclass, replace

import numpy as np

from nesting.along import Contents, contents_for
from nesting.assemble import Pick
from nesting.branching import branch
from nesting.columns import Rows, rows_for
from nesting.contents import Content
from nesting.counted import Bounded, bounded_for
from nesting.fillings import most_useful
from nesting.holding import Best, Boards, Mix, Prices, most_times
from nesting.patterns import Floats
from nesting.problem import Bin, Item, Problem
from nesting.sectioned import Sectioned
from nesting.windows import windows_for

SAFE = 1e-9
WIDEST = 1.05  # of the demand: a set that holds more leaves too many ways to cut it
MOST_IN_PROGRAM = 12_000
CUTS = 12
LONGEST = 10.0  # seconds of one integer program, which can't be stopped


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
class Narrowing:
    """Contents of the boards of a set, fewer with all prices that are tried.

    Boards whose contents are not listed yet are cut in any way.

    Attributes
    ----------
    best
        Prices at which the set holds least.
    """

    boards: Boards
    held: list[Contents | Bounded | None]
    best: Prices
    tried: list[Prices]

    def price(self, duals: Floats) -> list[Best]:
        """Return the best pattern of each board; drop contents that lose too much."""
        found = [None if one is None else one.price(duals) for one in self.held]
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
        mix = Mix(demand, len(self.held))
        found = most_times(demand, self.best.duals, self.price, mix, stop)
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

    def bind(self, stop: Callable[[], bool]) -> bool:
        """Put patterns in the place of contents; False if some board has too many.

        The boards of fewest contents go first.
        """
        rows = self.boards.rows
        loose = np.zeros(len(rows.demand), dtype=bool)
        loose[[rows.first[i.index] for i in self.boards.problem.items if i.is_panel]] = True
        is_whole = True
        listed = [(n, one) for n, one in enumerate(self.held) if isinstance(one, Contents)]
        for row, one in sorted(listed, key=lambda pair: len(pair[1].kinds)):
            found = bounded_for(one, rows.demand, loose, self.best, stop)
            if found is None:
                is_whole = False
                continue
            self.held[row] = found
            self.narrow(stop)
            if self.is_short:
                break
        return is_whole

    @property
    def is_short(self) -> bool:
        """Whether the set holds less than the demand."""
        return self.best.times < 1.0 - SAFE


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

    if not is_decidable(problem, rows, bins):
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
    narrowing.bind(late)
    if narrowing.is_short:
        return CANNOT
    sections, is_impossible = _cut(narrowing, max(0.0, end - time.monotonic()), late)
    if sections is None:
        return CANNOT if is_impossible else OPEN
    return Verdict(cannot=False, pick=_pick(problem, bins, sections))


def leaves_no_offcut(
    problem: Problem, bins: Sequence[Bin], seconds: float, stop: Callable[[], bool]
) -> bool:
    """Whether it is proven that no plan on a set keeps an offcut, nor leaves out a board.

    An offcut that is kept, and a board that is not cut at all, has room for a piece of the
    least size that is kept, in the same three stages. So there is none if the set can't
    make that piece too.
    """
    size = (problem.keep_length, problem.keep_width)
    if not all(
        one.credit > 0 and one.length >= size[0] and one.narrow >= size[1] for one in bins
    ):
        return False
    piece = Item(index=len(problem.items), part="offcut", units=1, sizes=(size,))
    more = replace(problem, items=(*problem.items, piece))
    wanting = [replace(one, wanted=one.wanted | {piece.index}) for one in bins]
    return decide(more, rows_for(more), wanting, seconds, stop).cannot


def _cut(
    narrowing: Narrowing, seconds: float, stop: Callable[[], bool]
) -> tuple[list[list[Content]] | None, bool]:
    """Return sections of each board that make everything, or whether there are none."""
    demand = narrowing.boards.rows.demand
    bounded = [one for one in narrowing.held if isinstance(one, Bounded)]
    if len(bounded) == len(narrowing.held):
        return branch(bounded, demand, narrowing.best, seconds, stop)
    held = [o.held if isinstance(o, Bounded) else o for o in narrowing.held if o]
    if stop() or sum(len(one.kinds) for one in held) > MOST_IN_PROGRAM:
        return None, False
    cuts = sorted(narrowing.tried, key=lambda prices: prices.times)[:CUTS]
    program = Sectioned(held, demand, cuts)
    sections = program.solve(min(seconds, LONGEST))
    return sections, program.is_impossible


def is_decidable(problem: Problem, rows: Rows, bins: Sequence[Bin]) -> bool:
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
