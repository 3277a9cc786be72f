"""Patterns of one board, in which no more pieces count than are wanted.

All patterns of listed contents that lose little, each counted by what it adds to the
demand and no further. So two sections that are good each for itself, but make too much
of the same piece together, are no good pattern.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from nesting.along import Contents, along
from nesting.holding import Best, Prices
from nesting.patterns import Floats, Ints

MOST_PATTERNS = 25_000
MOST_KINDS = 2500
MOST_VISITS = 60_000
SAFE = 1e-9


@dataclass(slots=True)
class Bounded:
    """Patterns of one board.

    Attributes
    ----------
    held
        The contents they are made of.
    loose
        Rows that corners of one kind add to differently: widths of panels.
    cut
        Per pattern: the kinds of its sections, filled up with a kind that holds nothing.
    fixed
        Per pattern: what it adds to the other rows, no more than the demand.
    """

    held: Contents
    demand: Floats
    loose: NDArray[np.bool_]
    cut: Ints
    fixed: Floats

    def price(self, duals: Floats) -> tuple[Best, Floats]:
        """Return the best pattern, and what each pattern loses.

        Widths count by the better of two limits: of every section the corner that is
        worth most; and of every panel all that may be had, but no more than is wanted.
        """
        if not len(self.cut):
            return Best(0.0, None), np.zeros(0)
        corner = np.where(self.loose, self.held.adds, 0.0)
        worth = self._most(corner @ duals)
        widest = np.array([self._most(corner[:, row]) for row in range(len(duals))]).T
        wanted = np.minimum(widest[self.cut].sum(axis=1), self.demand)
        worths = self.fixed @ duals
        worths += np.minimum(worth[self.cut].sum(axis=1), wanted @ duals)
        best = int(worths.argmax())
        adds = self.fixed[best] + self._corners(self.cut[best], corner, corner @ duals)
        adds = np.minimum(adds, self.demand)
        top = float(worths[best])
        return Best(top, adds if adds.any() else None), top - worths

    def _most(self, values: Floats) -> Floats:
        """Return the greatest of a value over the corners of each kind."""
        found = np.zeros(self.nothing + 1)
        np.maximum.at(found, self.held.kinds, values)
        return found

    def _corners(self, cut: Ints, corner: Floats, values: Floats) -> Floats:
        """Return what the corners worth most add, of the sections of some kinds."""
        total = np.zeros(corner.shape[1])
        for kind in cut[cut < self.nothing]:
            lines = np.flatnonzero(self.held.kinds == kind)
            total += corner[lines[values[lines].argmax()]]
        return total

    @property
    def nothing(self) -> int:
        """The kind that holds nothing."""
        return int(self.held.kinds.max(initial=-1)) + 1

    def keep(self, good: NDArray[np.bool_]) -> None:
        """Drop the patterns that are not good."""
        self.cut, self.fixed = self.cut[good], self.fixed[good]


def bounded_for(
    held: Contents,
    demand: Floats,
    loose: NDArray[np.bool_],
    prices: Prices,
    stop: Callable[[], bool],
) -> Bounded | None:
    """Return the patterns of a board at most `times` - 1 is lost by.

    Only those that have no room for one more section: more never does harm. None if there
    are too many, or no time.
    """
    if not len(held.adds):
        nothing = np.zeros((0, len(demand)))
        return Bounded(held, demand, loose, np.zeros((0, 1), dtype=np.int64), nothing)
    names, numbers = np.unique(held.kinds, return_inverse=True)
    held, count = replace(held, kinds=numbers), len(names)
    if count > MOST_KINDS:
        return None
    listing = _Listing(held, prices, count, stop)
    if not listing.visit(listing.all, held.room, 0.0, ()):
        return None
    most = max((len(kinds) for kinds in listing.found), default=1)
    cut = np.full((len(listing.found), most), count, dtype=np.int64)
    for number, kinds in enumerate(listing.found):
        cut[number, : len(kinds)] = kinds
    firm = np.zeros((count + 1, len(demand)))
    firm[held.kinds] = np.where(loose, 0.0, held.adds)
    fixed = np.minimum(firm[cut].sum(axis=1), demand)
    return Bounded(held, demand, loose, cut, fixed)


class _Listing:
    """A search for the patterns of one board, section by section."""

    def __init__(
        self, held: Contents, prices: Prices, count: int, stop: Callable[[], bool]
    ) -> None:
        self.laid = along(held, prices.duals)
        self.stop = stop
        self.all = np.unique(held.kinds)
        self.lengths = np.zeros(count, dtype=np.int64)
        self.lengths[held.kinds] = held.lengths
        self.worths = np.full(count, -np.inf)
        np.maximum.at(self.worths, held.kinds, self.laid.worths)
        self.least = float(self.laid.best[-1]) - (prices.times - 1.0) - SAFE
        self.shortest = int(held.lengths.min())
        self.found: list[tuple[int, ...]] = []
        self.visits = 0

    def visit(self, kinds: Ints, room: int, worth: float, cut: tuple[int, ...]) -> bool:
        """Add a section of one of `kinds`, or later ones; False if there are too many."""
        self.visits += 1
        if self.visits > MOST_VISITS or len(self.found) > MOST_PATTERNS:
            return False
        if self.visits % 128 == 0 and self.stop():
            return False
        if room < self.shortest:
            self.found.append(cut)
            return True
        kinds = kinds[self.lengths[kinds] <= room]
        rest = room - self.lengths[kinds]
        worths = worth + self.worths[kinds]
        good = np.flatnonzero(worths + self.laid.rest(rest) >= self.least)
        for number, n in enumerate(good):
            more = (*cut, int(kinds[n]))
            if not self.visit(kinds[good[number:]], int(rest[n]), float(worths[n]), more):
                return False
        return True
