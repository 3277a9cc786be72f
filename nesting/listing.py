"""All sections of one board that lose little at given prices, and what a section holds."""

from __future__ import annotations

import time
from collections import Counter
from collections.abc import Iterator, Sequence

import numpy as np

from nesting.patterns import Floats, Section, Strip, Tables
from nesting.problem import Bin, Problem

MOST_SECTIONS = 20000


class Listing:
    """A search for all sections of a bin that lose at most `loss`.

    A section's loss is what its length costs less what its pieces are worth, at the prices
    that the tables were filled with. Strips are added in a fixed order, widest first.
    `ahead[v, s]` is the most that v cells of width can still be worth, less the price of
    the length, in section s or any longer one; the unlimited tables give it.
    """

    def __init__(self, tables: Tables, worths: Floats, rate: float, loss: float) -> None:
        kernel = tables.kernel
        self.kernel, self.worths, self.rate, self.loss = kernel, worths, rate, loss
        self.problem, self.kerf = kernel.problem, kernel.kerf
        self.units = [item.units for item in self.problem.items]
        self.sums = kernel.sums[tables.sections]
        self.rips = tables.rips[:, :, 0]
        gains = self.rips - rate * self.sums
        self.ahead = np.maximum.accumulate(gains[:, ::-1], axis=1)[:, ::-1]
        strips = strips_of(self.problem, kernel.bins[0])
        self.strips = sorted(strips, key=lambda strip: (-strip.width, strip.pieces))
        self.lengths = [length_of(self.problem, strip) for strip in self.strips]
        self.values = [sum(worths[i] for i, _, _ in strip.pieces) for strip in self.strips]
        self.found: dict[tuple[int, ...], Section] = {}

    def run(self, end: float) -> bool:
        """Fill `found`; whether that was done before the clock read `end`.

        It also ends, not done, if there are more than `MOST_SECTIONS`.
        """
        self.end, self.is_whole = end, True
        self._visit(0, self.kernel.bins[0].width + self.kerf, 0, 0.0, ())
        return self.is_whole

    def _visit(
        self, first: int, width: int, length: int, value: float, chosen: tuple[Strip, ...]
    ) -> None:
        """Add strips from `first` on; `width` and `length` have a kerf added."""
        if chosen:
            self._keep(length, value, chosen)
        if len(self.found) > MOST_SECTIONS or time.monotonic() > self.end:
            self.is_whole = False
            return
        left = list(self.units)
        for strip in chosen:
            for i, _, _ in strip.pieces:
                left[i] -= 1
        for number in range(first, len(self.strips)):
            strip = self.strips[number]
            room = width - strip.width - self.kerf
            if room < 0 or any(n > left[i] for i, n in _held(strip).items()):
                continue
            longest = max(length, self.lengths[number])
            worth = value + self.values[number]
            if worth + self._ahead(room, longest) >= -self.loss - 1e-6:
                self._visit(number, room, longest, worth, (*chosen, strip))

    def _ahead(self, room: int, length: int) -> float:
        """Return the most that can be added, less the price of the whole length."""
        v = min(room // self.kernel.cell, self.kernel.capacity)
        s = int(np.searchsorted(self.sums, length, side="right"))
        here = float(self.rips[v, s - 1]) if s else 0.0
        best = here - self.rate * length
        return max(best, float(self.ahead[v, s])) if s < len(self.sums) else best

    def _keep(self, length: int, value: float, chosen: tuple[Strip, ...]) -> None:
        """Keep a section if it loses no more than allowed and none as good is known."""
        if value - self.rate * length < -self.loss - 1e-6:
            return
        section = Section(length - self.kerf, chosen)
        counts = counts_of(self.problem, section)
        known = self.found.get(counts)
        if known is None or section.length < known.length:
            self.found[counts] = section


def strips_of(problem: Problem, one: Bin) -> Iterator[Strip]:
    """Yield every strip that a bin may be ripped into, each item at most `units` times."""
    shapes = [
        (item.index, size, item.sizes[size])
        for item in problem.items
        if item.index in one.wanted
        for size in range(len(item.sizes))
        if item.sizes[size][0] <= one.length and item.sizes[size][1] <= one.width
    ]

    def longer(
        first: int, room: int, pieces: tuple[tuple[int, int, bool], ...]
    ) -> Iterator[Strip]:
        if pieces:
            yield Strip(max(problem.items[i].sizes[s][1] for i, s, _ in pieces), pieces)
        for number in range(first, len(shapes)):
            i, size, (length, _) = shapes[number]
            used = sum(1 for other, _, _ in pieces if other == i)
            if length + problem.kerf <= room and used < problem.items[i].units:
                yield from longer(
                    number, room - length - problem.kerf, (*pieces, (i, size, False))
                )

    yield from longer(0, one.length + problem.kerf, ())


def _held(strip: Strip) -> Counter[int]:
    """Return how many pieces of each item a strip holds."""
    return Counter(i for i, _, _ in strip.pieces)


def length_of(problem: Problem, strip: Strip) -> int:
    """Return the length of a strip's pieces, a kerf added to each."""
    return sum(
        problem.items[i].sizes[size][0] + problem.kerf for i, size, _ in strip.pieces
    )


def counts_of(problem: Problem, section: Section) -> tuple[int, ...]:
    """Return how many pieces of each item a section holds."""
    held = Counter(i for strip in section.strips for i, _, _ in strip.pieces)
    return tuple(held[item.index] for item in problem.items)


def trimmed(problem: Problem, section: Section, units: Sequence[int]) -> Section:
    """Return the section without the pieces beyond `units`, no longer than it must be."""
    left = list(units)
    strips = []
    for strip in section.strips:
        pieces = []
        for piece in strip.pieces:
            if left[piece[0]] > 0:
                left[piece[0]] -= 1
                pieces.append(piece)
        if pieces:
            strips.append(Strip(strip.width, tuple(pieces)))
    longest = max((length_of(problem, strip) for strip in strips), default=problem.kerf)
    return Section(longest - problem.kerf, tuple(strips))
