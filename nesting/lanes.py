"""Strips of a section that touch a mark: what fits before it, behind it and across it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from nesting.patterns import NEVER, Floats, Ints, Kernel, Tables
from nesting.problem import Bin
from stock.boards import Mark

MOST_BLOCKS = 700

Pieces = tuple[tuple[int, int, bool], ...]


def pitch_for(kernel: Kernel) -> int:
    """Return the size of blocks along a bin, in grid steps: the finest that are few enough.

    It divides all lengths, a kerf added, or else is a multiple of what divides them.
    """
    common, room = int(np.gcd.reduce(kernel.lengths)), int(kernel.sums[-1])
    for pitch in range(max(1, room // MOST_BLOCKS), common + 1):
        if common % pitch == 0 and room <= MOST_BLOCKS * pitch:
            return pitch
    return min(common * (room // (MOST_BLOCKS * common) + 1), int(kernel.lengths[0]))


class Lanes:
    """Strips of any free length in bins of one group, beside marks and across them.

    Attributes
    ----------
    free
        `free[j, w]`: value of what fits in a strip of candidate width w whose length, a
        kerf added, lies in block j; kept offcuts at its end are in it.
    ended
        The same as `free`, but with an offcut kept.
    section_in
        The longest section that a length in each block holds; -1 for none.
    """

    def __init__(self, tables: Tables, g: int, pitch: int) -> None:
        kernel = tables.kernel
        self.tables, self.g, self.pitch = tables, g, pitch
        self.is_aligned = not (kernel.lengths % pitch).any()
        self.strips = np.ascontiguousarray(tables.strips[:, kernel.set_of[g]])
        self.known: dict[tuple[int, ...], Floats] = {}
        self.tops = np.arange(len(kernel.floors) // pitch + 1) * pitch + pitch - 1
        sums = kernel.sums[tables.sections]
        self.section_in = np.searchsorted(sums, self.tops, side="right") - 1
        plain = self.strips[kernel.floor(self.tops)]
        self.ended = self._ended(self.tops - kernel.kerf)
        self.free = np.maximum(plain, self.ended)

    def _ended(self, lengths: Ints) -> Floats:
        """Value of strips of these lengths if an offcut is kept at their end."""
        kernel, problem = self.tables.kernel, self.tables.kernel.problem
        found = np.full((len(lengths), len(kernel.widths)), NEVER)
        wide = kernel.actual >= problem.keep_width
        rate = kernel.credits[self.g] * kernel.actual[wide]
        if not rate.any():
            return found
        lead = self.strips[:, wide] - kernel.sums[:, None] * rate
        np.maximum.accumulate(lead, axis=0, out=lead)
        last = kernel.floor(lengths - problem.keep_length)
        kept = np.flatnonzero(last >= 0)
        found[np.ix_(kept, wide)] = lead[last[kept]] + lengths[kept, None] * rate
        return found

    def across(self, shapes: tuple[int, ...]) -> Floats:
        """Return the same as `free`, but with a piece of one of these shapes, no offcut."""
        if shapes in self.known:
            return self.known[shapes]
        kernel, tables = self.tables.kernel, self.tables
        found = np.full(self.free.shape, NEVER)
        for a in shapes:
            r = kernel.previous[a, kernel.floor(self.tops)]
            held = self.strips[np.maximum(r, 0)] + tables.by_set[a, kernel.set_of[self.g]]
            held[r < 0] = NEVER
            np.maximum(found, held, out=found)
        self.known[shapes] = found
        return found

    def free_pieces(self, j: int, w: int) -> Pieces:
        """Return what `free[j, w]` is worth."""
        kernel = self.tables.kernel
        r = int(kernel.floor(self.tops[j]))
        if self.ended[j, w] > self.strips[r, w]:
            return self.ended_pieces(j, w)
        return self._pieces(r, w)

    def pieces_across(self, j: int, w: int, shapes: tuple[int, ...]) -> Pieces:
        """Return what `across(shapes)[j, w]` is worth."""
        kernel = self.tables.kernel
        m, top = int(kernel.set_of[self.g]), kernel.floor(self.tops[j])

        def worth(a: int) -> float:
            r = int(kernel.previous[a, top])
            held = float(self.tables.by_set[a, m, w] + self.strips[r, w])
            return held if r >= 0 else NEVER

        best = max(shapes, key=worth)
        i, size, _ = kernel.shapes[best]
        item = kernel.problem.items[i]
        whole = item.is_panel and item.single == int(kernel.actual[w])
        return ((i, size, whole), *self._pieces(int(kernel.previous[best, top]), w))

    def ended_pieces(self, j: int, w: int) -> Pieces:
        """Return what `ended[j, w]` is worth, its offcut left out."""
        length = int(self.tops[j]) - self.tables.kernel.kerf
        return self._pieces(self.tables.sum_before(self.g, w, length), w)

    def _pieces(self, r: int, w: int) -> Pieces:
        kernel, m = self.tables.kernel, int(self.tables.kernel.set_of[self.g])
        rows = np.arange(len(kernel.shapes))
        return self.tables.pieces_to(self.strips[:, w], rows, m, w, r)


@dataclass(frozen=True, slots=True)
class Hold:
    """A mark as it bears on a bin.

    Attributes
    ----------
    shapes
        Shapes of pieces that may lie across it.
    offcuts
        Whether kept offcuts may.
    """

    mark: Mark
    shapes: tuple[int, ...]
    offcuts: bool


def holds_of(kernel: Kernel, one: Bin) -> tuple[Hold, ...]:
    """Return the marks of a bin that keep some of its pieces away."""
    found = []
    served = [a for a, (i, _, _) in enumerate(kernel.shapes) if i in one.wanted]
    for mark in one.marks:
        shapes = tuple(
            a
            for a in served
            if not mark.forbids(kernel.problem.items[kernel.shapes[a][0]].face)
        )
        there = mark.touches(0, 0, one.length, max(one.width, one.width2))
        if there and len(shapes) < len(served):
            found.append(Hold(mark, shapes, not mark.forbids("hidden")))
    return tuple(found)
