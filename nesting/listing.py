"""All sections of one board that lose little at given prices, and what a section holds."""

from __future__ import annotations

import time
from collections import Counter
from collections.abc import Iterator, Sequence
from itertools import islice

import numpy as np

from nesting.patterns import NEVER, Floats, Ints, Section, Strip, Tables
from nesting.problem import Bin, Problem

MOST_SECTIONS = 20000
MOST_STRIPS = 60000


class Listing:
    """A search for all sections of a bin that lose little.

    A section's loss is what its length costs less what its pieces are worth, at the prices
    that the tables were filled with. Strips are added in a fixed order, widest first.
    `most[v, r]` is the most that v cells of width can still be worth, less the price of
    the length, in a section of sum r or longer; the unlimited tables give it.

    Parameters
    ----------
    asked
        What each sum of lengths costs; no longer one costs less.
    row
        Row of the bin among those of the kernel.
    """

    def __init__(self, tables: Tables, worths: Floats, asked: Floats, row: int = 0) -> None:
        kernel = tables.kernel
        self.kernel, self.asked, self.loss = kernel, asked, 0.0
        self.one, self.problem, self.kerf = kernel.bins[row], kernel.problem, kernel.kerf
        self.most = _most(tables, asked, kernel.group_of[row])
        strips = list(islice(strips_of(self.problem, self.one), MOST_STRIPS + 1))
        self.has_all_strips = len(strips) <= MOST_STRIPS
        self.every = sorted(strips, key=lambda strip: (-strip.width, strip.pieces))
        self.sizes = np.array(
            [(s.width + self.kerf, length_of(self.problem, s)) for s in self.every],
            dtype=np.int64,
        ).reshape(-1, 2)
        self.worths = np.array(
            [sum(worths[i] for i, _, _ in strip.pieces) for strip in self.every]
        )
        self.found: dict[tuple[int, ...], Section] = {}

    def run(self, loss: float, end: float) -> bool:
        """Find the sections that lose at most `loss` before the clock reads `end`.

        Whether that was done; it is not if there are more than `MOST_SECTIONS`, or more
        than `MOST_STRIPS` to make them of.
        """
        self.loss, self.end, self.is_whole = loss, end, self.has_all_strips
        self._take(self.one.width + self.kerf)
        units = [item.units for item in self.problem.items]
        self._visit(0, self.one.width + self.kerf, 0, 0.0, units, ())
        return self.is_whole

    def _take(self, width: int) -> None:
        """Choose the strips that are in some section that loses little enough."""
        places = np.searchsorted(self.kernel.sums, self.sizes[:, 1])
        ahead = self.worths + self.most[self._cells(width - self.sizes[:, 0]), places]
        keep = np.flatnonzero(ahead >= -self.loss - 1e-6)
        self.strips = [self.every[n] for n in keep]
        self.held = [tuple(_held(strip).items()) for strip in self.strips]
        self.widths, self.places = self.sizes[keep, 0], places[keep]
        self.values = self.worths[keep]

    def _cells(self, widths: Ints) -> Ints:
        """Return how many cells of the tables widths hold; none below 0."""
        cells: Ints = np.clip(widths // self.kernel.cell, 0, self.kernel.capacity)
        return cells

    def _visit(
        self,
        first: int,
        width: int,
        place: int,
        value: float,
        left: list[int],
        chosen: tuple[Strip, ...],
    ) -> None:
        """Add strips from `first` on to a section of the sum at `place`.

        `width` has a kerf added; `left` is what is wanted beyond the section.
        """
        if chosen:
            self._keep(place, value, chosen)
        if len(self.found) > MOST_SECTIONS or time.monotonic() > self.end:
            self.is_whole = False
            return
        rooms = width - self.widths[first:]
        longest = np.maximum(place, self.places[first:])
        ahead = value + self.values[first:] + self.most[self._cells(rooms), longest]
        for n in np.flatnonzero((rooms >= 0) & (ahead >= -self.loss - 1e-6)):
            number = first + int(n)
            held = self.held[number]
            if any(count > left[i] for i, count in held):
                continue
            rest = list(left)
            for i, count in held:
                rest[i] -= count
            self._visit(
                number,
                int(rooms[n]),
                int(longest[n]),
                value + float(self.values[number]),
                rest,
                (*chosen, self.strips[number]),
            )

    def _keep(self, place: int, value: float, chosen: tuple[Strip, ...]) -> None:
        """Keep a section if it loses no more than allowed and none as good is known."""
        if value - self.asked[place] < -self.loss - 1e-6:
            return
        section = Section(int(self.kernel.sums[place]) - self.kerf, chosen)
        counts = counts_of(self.problem, section)
        known = self.found.get(counts)
        if known is None or section.length < known.length:
            self.found[counts] = section


def _most(tables: Tables, asked: Floats, group: int) -> Floats:
    """Return what sections of each sum or longer are worth at most, per cells of width."""
    rips, sections = tables.rips[:, :, group], tables.sections
    gains = rips - asked[sections]
    longer = np.full((len(rips), len(sections) + 1), NEVER)
    longer[:, :-1] = np.maximum.accumulate(gains[:, ::-1], axis=1)[:, ::-1]
    number = np.searchsorted(sections, np.arange(len(asked)), side="right")
    here = np.where(number > 0, rips[:, number - 1], 0.0) - asked[None, :]
    most: Floats = np.maximum(here, longer[:, number])
    return most


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
