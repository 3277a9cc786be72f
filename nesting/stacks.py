"""Boards of few kinds: how many of each to buy, and which sections to cut from them.

One integer program chooses the sections (`nesting.flow`). Which ones it may choose follows
from values of pieces that prove a bound. A plan costs that bound and the losses of its
boards: what a board costs more than its pieces are worth, less what its best pattern would.
No loss is below nought, so a plan that is at most so much above the bound has no board that
loses more, and no section that only boards with a greater loss hold. All other sections are
listed (`nesting.listing`): the best choice among them is the best plan, or no plan is that
close to the bound. (Listing columns within the gap: Baldacci, Christofides and Mingozzi
2008, Math. Program. 115:351-385.)
"""

from __future__ import annotations

import math
import time
from collections.abc import Mapping, Sequence

import numpy as np

from nesting.columns import Relaxation, lagrangian
from nesting.flow import Counts, Flow, Lists, Plans, Sections, cost_of
from nesting.listing import Listing
from nesting.patterns import Floats, Kernel, Section
from nesting.problem import Problem

FEWEST = 40  # sections worth a program of their own
FIRST_SHARE, LEAST_SHARE = 1 / 16, 0.0002  # of the gap, of the bound: the first loss
GROWTH = 2.0
PATIENCE = 0.3  # share of the time left for one program
DEAR = 1e14
SAFE = 1e-7  # share of a bound that sums of fractions may be wrong by


def cut_stacks(
    problem: Problem, kernel: Kernel, relaxed: Relaxation, *, most: int, end: float
) -> Plans:
    """Return the cheapest plan found for at most `most` cents before the clock reads `end`.

    Ever more loss is allowed, until a plan is proven to be the best, or that there is none
    for `most` cents. The kernel has all bins, which must be plain, and items be solid.
    """
    step = step_of(problem)
    lister = Lister(problem, kernel, relaxed)
    bound = up(max(relaxed.bound, lister.bound), step)
    best: Sections | None = None
    loss = max(FIRST_SHARE * (bound - lister.bound), LEAST_SHARE * lister.bound)
    while bound <= most and time.monotonic() < end:
        lists, is_whole = lister.lists(loss, end)
        if sum(map(len, lists.values())) >= FEWEST or loss > most - lister.bound:
            flow = Flow(problem, kernel, lister.places, lists)
            patience = PATIENCE * (end - time.monotonic())
            found, proven = flow.solve(bound, most, step, patience)
            if found is not None:
                best, most = found, cost_of(problem, found) - step
            if proven and is_whole:
                beyond = min(most, math.floor((1 - SAFE) * lister.bound + loss))
                bound = max(bound, up(beyond + 1, step))
        if not is_whole:
            break
        loss *= GROWTH
    return Plans(best, min(bound, most + step))


def step_of(problem: Problem) -> int:
    """Return what all costs of boards and trips are multiples of, in cents."""
    return math.gcd(*(one.cost for one in problem.bins), *problem.trips.values()) or 1


def up(bound: float, step: int) -> int:
    """Round a bound up to what whole boards can cost: multiples of `step`."""
    return math.ceil(bound / step - 1e-6) * step


class Lister:
    """All sections of a kernel's bins that lose little, and the bound they lose against.

    Attributes
    ----------
    bound
        What the values prove, in cents.
    places
        Rows of the kernel's bins by place: those of one place share their sections.
    """

    def __init__(self, problem: Problem, kernel: Kernel, relaxed: Relaxation) -> None:
        duals, self.bound = duals_of(problem, relaxed)
        values = relaxed.rows.values(problem, duals)
        self.kernel, self.worths = kernel, values.piece
        self.tables = kernel.solve(values, exact=True)
        self.places: dict[int, list[int]] = {}
        self.listings: dict[int, Listing] = {}
        for row, top in enumerate(kernel.tops):
            self.places.setdefault(int(kernel.place[row, top]), []).append(row)

    def lists(self, loss: float, end: float) -> tuple[Lists, bool]:
        """Return the sections of each place that lose at most `loss`, and if these are all.

        What holds no more than another that is no longer is left out.
        """
        found: dict[int, Mapping[Counts, Section]] = {}
        is_whole = True
        for place in self.places:
            listing = self._listing(place)
            is_whole = listing.run(loss, end) and is_whole
            found[place] = largest(listing.found)
        return found, is_whole

    def _listing(self, place: int) -> Listing:
        """Return the listing of a place; its strips are made once."""
        if place not in self.listings:
            rows = self.places[place]
            longest = max(rows, key=lambda row: self.kernel.bins[row].length)
            self.listings[place] = Listing(
                self.tables, self.worths, self._asked(rows), longest
            )
        return self.listings[place]

    def _asked(self, rows: Sequence[int]) -> Floats:
        """Return, per sum of lengths, what a section has to be worth so as to lose nothing.

        That is what a bin costs less what the rest of it may be worth, in the best case.
        """
        kernel, tables = self.kernel, self.tables
        asked = np.full(len(kernel.sums), DEAR)
        for row in rows:
            one = kernel.bins[row]
            gain = min(0.0, one.cost - float(tables.worths[row]))
            rests = kernel.floor(one.length + kernel.kerf - kernel.sums)
            fits = rests >= 0
            loses = one.cost - gain - tables.along(row)[rests[fits]]
            asked[fits] = np.minimum(asked[fits], loses)
        return asked


def duals_of(problem: Problem, relaxed: Relaxation) -> tuple[Floats, float]:
    """Return the duals that prove the best bound, and that bound."""
    proven = [
        (lagrangian(problem, relaxed.rows, duals, worths), n)
        for n, (duals, worths) in enumerate(relaxed.history)
    ]
    bound, best = max(proven)
    return relaxed.history[best][0], bound


def largest(found: Mapping[Counts, Section]) -> dict[Counts, Section]:
    """Return sections without those to which a piece could be added at no more length."""

    def may_grow(counts: Counts, section: Section) -> bool:
        more = (
            found.get((*counts[:i], count + 1, *counts[i + 1 :]))
            for i, count in enumerate(counts)
        )
        return any(one is not None and one.length <= section.length for one in more)

    return {c: section for c, section in found.items() if not may_grow(c, section)}
