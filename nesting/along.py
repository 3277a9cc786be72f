"""What the sections of one board may hold, as arrays, and the best way to lay them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from nesting.contents import Content
from nesting.fillings import Fillings, corners_of, kind_of
from nesting.holding import Best, Boards, Prices
from nesting.patterns import Floats, Ints

MOST_FILLINGS = 40_000


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

    def price(self, duals: Floats) -> tuple[Best, Floats]:
        """Return the board's best pattern, and what each content loses."""
        if not len(self.adds):
            return Best(0.0, None), np.zeros(0)
        laid = along(self, duals)
        losses = laid.best[-1] - laid.worths - laid.rest(self.room - self.lengths)
        adds = self.adds[laid.cut()].sum(axis=0)
        return Best(float(laid.best[-1]), adds if adds.any() else None), losses

    def keep(self, good: NDArray[np.bool_]) -> None:
        """Drop the kinds of which no corner is good."""
        kept = np.flatnonzero(np.isin(self.kinds, self.kinds[good]))
        if len(kept) < len(self.kinds):
            self.adds, self.kinds = self.adds[kept], self.kinds[kept]
            self.lengths = self.lengths[kept]
            self.contents = tuple(self.contents[n] for n in kept)


def contents_for(
    boards: Boards,
    row: int,
    prices: Prices,
    useful: Sequence[int],
    stop: Callable[[], bool],
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


@dataclass(frozen=True, slots=True)
class Along:
    """The best ways to lay contents along a board, at given prices.

    Attributes
    ----------
    sums
        Sums of lengths that the better contents reach, from 0.
    worths
        Of each content; `best` is what those up to each sum are worth at most.
    """

    sums: Ints
    worths: Floats
    best: Floats
    last: Ints
    before: Ints
    lines: Ints

    def rest(self, room: Ints) -> Floats:
        """Return what each room is worth at most."""
        return self.best[np.searchsorted(self.sums, room, side="right") - 1]

    def cut(self) -> list[int]:
        """Return the contents of the best pattern."""
        found, place = [], len(self.sums) - 1
        while place > 0:
            line = int(self.last[place])
            if line < 0:
                place -= 1
            else:
                found.append(int(self.lines[line]))
                place = int(self.before[place, line])
        return found


def along(held: Contents, duals: Floats) -> Along:
    """Return the best ways to lay some contents: a knapsack over their lengths."""
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
    return Along(sums, worths, best, last, before, lines)


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
