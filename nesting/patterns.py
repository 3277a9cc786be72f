"""The dynamic programs: the most valuable way to cut one board for given values.

Three stages, every cut right through: crosscut the board into sections, rip the sections
into strips, crosscut the strips into pieces (Gilmore and Gomory 1965, three-stage
guillotine cutting). Every length is stored with one kerf added, and so is every capacity,
which makes all three stages additive knapsacks. Kept offcuts are one more thing to make:
one at the end of each strip, one beside the last strip, one at the end of the board.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from nesting.problem import Item, Problem

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
NEVER = -1e15


@dataclass(frozen=True, slots=True)
class Values:
    """What one unit of each row of the master is worth, in cents.

    Attributes
    ----------
    piece
        Per item: a solid piece.
    net
        Per item: one grid step of net stave width of a panel.
    stave
        Per item: one stave.
    """

    piece: Floats
    net: Floats
    stave: Floats


@dataclass(frozen=True, slots=True)
class Strip:
    """A strip of a section: its rough width and what is crosscut from it, in order.

    `pieces` are (item, size, is_whole): the size is an index into the item's sizes and
    `is_whole` says that a panel is made from this one piece.
    """

    width: int
    pieces: tuple[tuple[int, int, bool], ...]


@dataclass(frozen=True, slots=True)
class Section:
    """A section: its length and its strips from the lower edge up."""

    length: int
    strips: tuple[Strip, ...]


class Kernel:
    """What the programs share for one set of items, whatever the values.

    Parameters
    ----------
    problem
        Items and rules.
    allowed
        Items that may be cut.
    length, width
        Largest capacities, in grid steps, without a kerf added.
    """

    def __init__(self, problem: Problem, allowed: Iterable[int], length: int, width: int) -> None:
        self.problem = problem
        self.allowed = tuple(sorted(allowed))
        kerf = problem.kerf
        self.kerf = kerf
        shapes = [(i, s) for i in self.allowed for s in range(len(problem.items[i].sizes))]
        self.shapes = [
            (i, s, problem.items[i].sizes[s][0] + kerf)
            for i, s in shapes
            if problem.items[i].sizes[s][0] <= length
        ]
        self.shapes.sort(key=lambda shape: shape[2])
        self.lengths = np.array([shape[2] for shape in self.shapes], dtype=np.int64)
        widths = self._widths(width)
        self.cell = math.gcd(*widths) if widths else 1
        self.capacity = (width + kerf) // self.cell
        self.widths = np.array(sorted(w // self.cell for w in widths), dtype=np.int64)
        self.actual = self.widths * self.cell - kerf
        self.sums = self._sums(length + kerf)
        self.previous = self.floor(self.sums[None, :] - self.lengths[:, None])
        self.usable = np.searchsorted(self.lengths, self.sums, side="right")
        self.gang = problem.shortest + kerf
        self.is_short = np.array(
            [problem.items[i].sizes[s][0] < problem.shortest and problem.items[i].is_short
             for i, s, _ in self.shapes], dtype=bool,
        )  # fmt: skip
        self._nets = np.maximum(0, self.actual)

    def _widths(self, width: int) -> set[int]:
        """Strip widths worth cutting, kerf added, in grid steps."""
        found: set[int] = set()
        for i, s, _ in self.shapes:
            item = self.problem.items[i]
            if item.is_panel:
                found.update(range(item.low, item.high + 1, self.problem.step))
                if item.single:
                    found.add(item.single)
            else:
                found.add(item.sizes[s][1])
        return {w + self.kerf for w in found if w <= width}

    def _sums(self, limit: int) -> Ints:
        """Return every sum of lengths up to `limit`, and the shortest gang, sorted."""
        reached = np.zeros(limit + 1, dtype=bool)
        reached[0] = True
        if any(self.problem.items[i].is_short for i in self.allowed):
            gang = self.problem.shortest + self.kerf
            if gang <= limit:
                reached[gang] = True
        for length in sorted({int(v) for v in self.lengths}):
            for start in range(length):
                column = reached[start::length]
                np.logical_or.accumulate(column, out=column)
        return np.flatnonzero(reached).astype(np.int64)

    def floor(self, values: Ints) -> Ints:
        """Return the index of the greatest sum not above each value (-1: none)."""
        return np.searchsorted(self.sums, values, side="right") - 1

    def index(self, length: int) -> int:
        """Return the index of the greatest sum that fits in `length` (kerf not added)."""
        return int(self.floor(np.array(length + self.kerf)))

    def piece_values(self, values: Values) -> Floats:
        """Return what each shape is worth in a strip of each width."""
        table = np.full((len(self.shapes), len(self.widths)), NEVER)
        for row, (i, s, _) in enumerate(self.shapes):
            item = self.problem.items[i]
            if not item.is_panel:
                table[row, self.actual >= item.sizes[s][1]] = values.piece[i]
                continue
            fits = (self.actual >= item.low) & (self.actual <= item.high)
            table[row, fits] = values.net[i] * (self.actual[fits] - item.joint) + values.stave[i]
            if item.single:
                whole = values.net[i] * item.need + values.stave[i] * item.staves
                fits = self.actual == item.single
                table[row, fits] = np.maximum(table[row, fits], whole)
        return table

    def solve(self, values: Values, credit: float, sections: Ints | None = None) -> Tables:
        """Fill the tables for `values`; `sections` restricts the section lengths.

        `credit` is the worth of a square grid step of kept offcut, in cents. With
        `sections` None every sum of lengths may be a section, which a proven bound needs.
        """
        worth = self.piece_values(values)
        if sections is None:
            sections = np.arange(1, len(self.sums))
        return Tables(self, worth, sections, credit)

    def single_sections(self) -> Ints:
        """Return the sections as long as one piece, or as the shortest gang."""
        wanted = {int(v) for v in self.lengths}
        if self.is_short.any():
            wanted.add(self.gang)
        return np.flatnonzero(np.isin(self.sums, sorted(wanted)))

    def pair_sections(self, limit: int = 160) -> Ints:
        """Return sections as long as one or two pieces, or as the longest sums there are."""
        lengths = np.unique(self.lengths)
        pairs = (lengths[:, None] + lengths[None, :]).ravel()
        wanted = np.concatenate([lengths, pairs, [self.gang], self.sums[-1:]])
        found = np.flatnonzero(np.isin(self.sums, wanted))
        found = found[found > 0]
        if len(found) <= limit:
            return found
        return np.union1d(self.single_sections(), found[:: len(found) // limit + 1])

    def crosscut(self, worth: Floats, rows: NDArray[np.bool_], count: int) -> Floats:
        """Best value of a strip of each of the first `count` lengths and each width."""
        worth = worth[rows]
        previous = self.previous[rows]
        usable = np.searchsorted(self.lengths[rows], self.sums, side="right")
        best = np.zeros((count, len(self.widths)))
        for r in range(1, count):
            top = best[r - 1]
            n = usable[r]
            if n:
                found = (best[previous[:n, r]] + worth[:n]).max(axis=0)
                np.maximum(top, found, out=best[r])
            else:
                best[r] = top
        return best


class Tables:
    """The filled tables of one kernel for one vector of values.

    Attributes
    ----------
    strips
        `strips[r, w]`: value of a strip as long as sum r and as wide as candidate w.
    rips
        `rips[v, s]`: value of section s when v cells of width are there.
    """

    def __init__(self, kernel: Kernel, worth: Floats, sections: Ints, credit: float) -> None:
        self.kernel = kernel
        self.worth = worth
        self.credit = credit
        self.sections = sections
        self.lengths = kernel.sums[sections] - kernel.kerf
        every = np.ones(len(kernel.lengths), dtype=bool)
        self.strips = kernel.crosscut(worth, every, len(kernel.sums))
        self.below = int(np.searchsorted(kernel.sums, kernel.gang)) if kernel.is_short.any() else 0
        self.long_strips = kernel.crosscut(worth, ~kernel.is_short, self.below)
        self.in_section = self._strips_in_sections()
        self.rips = self._rip()
        self._salvage = self._salvage_base()
        self._boards: dict[int, Floats] = {}
        self._starts: Ints | None = None

    def _strips_in_sections(self) -> Floats:
        """Value of every strip of every section, a kept offcut at its end counted."""
        kernel, problem = self.kernel, self.kernel.problem
        plain = self.strips[self.sections]
        short = self.sections < self.below
        plain[short] = self.long_strips[self.sections[short]]
        wide = kernel.actual >= problem.keep_width
        if self.credit <= 0 or not wide.any():
            return plain
        rate = self.credit * np.where(wide, kernel.actual, 0)
        lead = np.maximum.accumulate(self.strips - np.outer(kernel.sums, rate), axis=0)
        last = np.searchsorted(kernel.sums, self.lengths - problem.keep_length, side="right") - 1
        ended = lead[np.maximum(last, 0)] + np.outer(self.lengths, rate)
        ended[(last < 0) | short] = NEVER
        ended[:, ~wide] = NEVER
        return np.maximum(plain, ended)

    def _rip(self) -> Floats:
        """Value of each section for every width, in cells."""
        kernel = self.kernel
        across = np.ascontiguousarray(self.in_section.T)
        best = np.zeros((kernel.capacity + 1, len(self.sections)))
        for v in range(1, kernel.capacity + 1):
            n = int(np.searchsorted(kernel.widths, v, side="right"))
            if n:
                found = (best[v - kernel.widths[:n]] + across[:n]).max(axis=0)
                np.maximum(best[v - 1], found, out=best[v])
        return best

    def _salvage_base(self) -> Floats | None:
        """Best section value less the credit of the width it uses, up to each cell."""
        if self.credit <= 0:
            return None
        cells = np.arange(self.kernel.capacity + 1)[:, None] * self.kernel.cell
        lead: Floats = np.maximum.accumulate(
            self.rips - self.credit * cells * self.lengths[None, :], axis=0
        )
        return lead

    def cells(self, width: int) -> int:
        """Return how many cells of width `width` grid steps hold."""
        return min((width + self.kernel.kerf) // self.kernel.cell, self.kernel.capacity)

    def section_values(self, width: int) -> Floats:
        """Value of each section ripped from `width` grid steps, leftover strip credited."""
        problem = self.kernel.problem
        if width <= 0:
            return np.zeros(len(self.sections))
        plain: Floats = self.rips[self.cells(width)]
        if self._salvage is None or width < problem.keep_width:
            return plain
        last = min((width - problem.keep_width) // self.kernel.cell, self.kernel.capacity)
        saved = self._salvage[last] + self.credit * width * self.lengths
        return np.where(self.lengths >= problem.keep_length, np.maximum(plain, saved), plain)

    def _previous(self) -> Ints:
        """Index of the sum left of each section that ends at each sum."""
        if self._starts is None:
            sums = self.kernel.sums
            self._starts = self.kernel.floor(sums[:, None] - sums[self.sections][None, :])
        return self._starts

    def straight(self, width: int) -> Floats:
        """Values over all sums of a straight board of this width."""
        if width not in self._boards:
            self.fill([width])
        return self._boards[width]

    def fill(self, widths: Iterable[int]) -> None:
        """Compute the crosscut values of straight boards of several widths at once."""
        missing = sorted({w for w in widths if w not in self._boards})
        if not missing:
            return
        worth = np.array([self.section_values(w) for w in missing])
        best = np.zeros((len(missing), len(self.kernel.sums)))
        previous = self._previous()
        ends = np.searchsorted(self.sections, np.arange(len(self.kernel.sums)), side="right")
        for r in range(1, len(self.kernel.sums)):
            n = ends[r]
            best[:, r] = best[:, r - 1]
            if n:
                found = (best[:, previous[r, :n]] + worth[:, :n]).max(axis=1)
                np.maximum(best[:, r], found, out=best[:, r])
        for row, width in enumerate(missing):
            self._boards[width] = best[row]

    def tapered(self, length: int, wide: int, narrow: int) -> tuple[Floats, Ints]:
        """Values over the sums of a tapered board, laid from its wide end, and widths."""
        top = self.kernel.index(length) + 1
        at_end = taper_widths(self.kernel.sums[:top] - self.kernel.kerf, length, wide, narrow)
        best = np.zeros(top)
        previous = self._previous()
        for r in range(1, top):
            n = int(np.searchsorted(self.sections, r, side="right"))
            best[r] = best[r - 1]
            if n:
                worth = self.section_values(int(at_end[r]))
                best[r] = max(best[r], (best[previous[r, :n]] + worth[:n]).max())
        return best, at_end

    def board_value(self, length: int, width: int, narrow: int) -> float:
        """Value of the best pattern of a board of this usable length and end widths."""
        best, kept = self._with_end(length, width, narrow)
        return float((best + kept).max())

    def _with_end(self, length: int, width: int, narrow: int) -> tuple[Floats, Floats]:
        """Values over the sums of a board, and the credit for what is left at its end.

        For a tapered board the credit is that of the width where the leftover starts,
        which is not below what any rectangle in it is worth.
        """
        problem = self.kernel.problem
        top = self.kernel.index(length) + 1
        sums = self.kernel.sums[:top]
        if width == narrow:
            best, wide = self.straight(width)[:top], np.full(top, width)
        else:
            best, _ = self.tapered(length, width, narrow)
            wide = taper_widths(sums, length, width, narrow)
        left = length - sums
        kept = np.where(
            (left >= problem.keep_length) & (wide >= problem.keep_width),
            self.credit * left * wide,
            0.0,
        )
        return best, kept

    def board(self, length: int, width: int, narrow: int) -> tuple[float, tuple[Section, ...]]:
        """Return the best pattern's value and its sections, from the wide end on."""
        best, kept = self._with_end(length, width, narrow)
        value = best + kept
        r = int(value.argmax())
        top = float(value[r])
        widths = taper_widths(self.kernel.sums[: len(best)] - self.kernel.kerf, length, width, narrow)
        previous = self._previous()
        found: list[Section] = []
        while True:
            r = first_as_good(best, r)
            if r == 0:
                break
            n = int(np.searchsorted(self.sections, r, side="right"))
            worth = self.section_values(int(widths[r]))
            s = int((best[previous[r, :n]] + worth[:n]).argmax())
            found.append(self.section(s, int(widths[r])))
            r = int(previous[r, s])
        return top, tuple(found)

    def section(self, s: int, width: int) -> Section:
        """Return the strips of section s ripped from `width` grid steps."""
        problem = self.kernel.problem
        v = self.cells(width)
        if self._salvage is not None and width >= problem.keep_width:
            last = min((width - problem.keep_width) // self.kernel.cell, self.kernel.capacity)
            if self.lengths[s] >= problem.keep_length:
                saved = self._salvage[last, s] + self.credit * width * self.lengths[s]
                if saved > self.rips[v, s]:
                    cells = np.arange(last + 1) * self.kernel.cell
                    lead = self.rips[: last + 1, s] - self.credit * cells * self.lengths[s]
                    v = int(lead.argmax())
        column = self.rips[:, s]
        strips: list[Strip] = []
        while True:
            v = first_as_good(column, v)
            if v == 0:
                break
            n = int(np.searchsorted(self.kernel.widths, v, side="right"))
            w = int((column[v - self.kernel.widths[:n]] + self.in_section[s, :n]).argmax())
            strips.append(self._strip(s, w))
            v -= int(self.kernel.widths[w])
        return Section(int(self.lengths[s]), tuple(strip for strip in strips if strip.pieces))

    def _strip(self, s: int, w: int) -> Strip:
        """Return what strip candidate w of section s is crosscut into."""
        kernel, problem = self.kernel, self.kernel.problem
        r = int(self.sections[s])
        table = self.strips
        if r < self.below:
            table = self.long_strips
        column = table[:, w]
        if self.credit > 0 and self.in_section[s, w] > column[r]:
            last = int(np.searchsorted(kernel.sums, self.lengths[s] - problem.keep_length, side="right"))
            rate = self.credit * kernel.actual[w]
            r = int((self.strips[:last, w] - rate * kernel.sums[:last]).argmax())
            column = self.strips[:, w]
        return Strip(int(kernel.actual[w]), self._pieces(column, r, w, long_only=table is self.long_strips))

    def strip_pieces(self, r: int, w: int) -> tuple[tuple[int, int, bool], ...]:
        """Return what a strip as long as sum r and as wide as candidate w is cut into."""
        return self._pieces(self.strips[:, w], r, w, long_only=False)

    def _pieces(
        self, column: Floats, r: int, w: int, *, long_only: bool
    ) -> tuple[tuple[int, int, bool], ...]:
        """Trace the pieces of a strip back from the values along it."""
        kernel = self.kernel
        rows = np.flatnonzero(~kernel.is_short) if long_only else np.arange(len(kernel.shapes))
        pieces: list[tuple[int, int, bool]] = []
        width = int(kernel.actual[w])
        while True:
            r = first_as_good(column, r)
            if r == 0:
                break
            n = int(np.searchsorted(kernel.lengths[rows], kernel.sums[r], side="right"))
            here = rows[:n]
            a = int(here[(column[kernel.previous[here, r]] + self.worth[here, w]).argmax()])
            i, size, _ = kernel.shapes[a]
            pieces.append((i, size, self._is_whole(i, width)))
            r = int(kernel.previous[a, r])
        return tuple(pieces)

    def _is_whole(self, i: int, width: int) -> bool:
        """Whether a strip of this width is one whole panel rather than a stave."""
        item = self.kernel.problem.items[i]
        return item.is_panel and item.single == width


def first_as_good(values: Floats, index: int) -> int:
    """Return the first place whose value is not below that at `index` (sorted values)."""
    return int(np.searchsorted(values[: index + 1], values[index], side="left"))


def taper_widths(ends: Ints, length: int, wide: int, narrow: int) -> Ints:
    """Return the width of a board at distances from its wide end, rounded down."""
    if wide == narrow:
        return np.full(len(ends), wide)
    return np.clip(wide - (-(-(wide - narrow) * np.maximum(ends, 0) // max(1, length))), narrow, wide)
