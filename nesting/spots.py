"""Sections of a bin that touch marks: where they may lie, and what limits their value."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from nesting.lanes import Hold, Lanes
from nesting.patterns import NEVER, Floats, Ints, Section, Strip, Tables
from nesting.problem import Bin
from stock.boards import Mark

CHUNK = 20_000


@dataclass(frozen=True, slots=True)
class Spots:
    """Places of sections that touch marks, and what these are worth at most.

    Attributes
    ----------
    start
        First step of the block in which the section begins.
    block
        Number of the block in which its length, a kerf added, lies.
    loss
        What a clear bin loses at least if it is cut there.
    """

    start: Ints
    block: Ints
    loss: Floats
    value: Floats

    def among(self, kept: NDArray[np.bool_] | Ints) -> Spots:
        """Return only these."""
        return Spots(self.start[kept], self.block[kept], self.loss[kept], self.value[kept])


NONE = Spots(*(np.zeros(0, kind) for kind in (np.int64, np.int64, float, float)))


@dataclass(frozen=True, slots=True)
class Bearing:
    """How a mark bears on the sections of a bin, wherever in them it lies.

    Attributes
    ----------
    strips
        Per block tried and width: value of a section with such a strip on the mark.
    first
        Per block tried: the width with which most may be had.
    most
        Per block tried: value of a section in which the whole mark lies.
    beside
        Per section: its value with no strip on the mark, or with wood kept beside.
    """

    strips: Floats
    first: Ints
    most: Floats
    beside: Floats


@dataclass(frozen=True, slots=True)
class Way:
    """How a mark's spots are come to and left.

    Attributes
    ----------
    hold
        The first mark that all of them touch, or one that lies across from it.
    first, last
        Numbers of the first and the last block in which they may begin.
    clear
        Number of the first block behind which no mark lies.
    before, after
        Per block: the best value of all before a spot that begins there, and of all
        behind a spot that ends there, a kerf added.
    is_exact
        Whether `before` is what some way is worth, not only a bound.
    """

    hold: Hold
    first: int
    last: int
    clear: int
    before: Floats
    after: Floats
    is_exact: bool

    def spare(self, before: Floats, after: Floats) -> float:
        """Return what is lost at least elsewhere, against these values of a clear bin."""
        own = slice(self.first, self.last + 1)
        lost = np.min(before[own] - self.before[own], initial=np.inf)
        return float(lost + np.min(after - self.after))


class Limiter:
    """What sections of one straight bin are worth at most where they touch its marks.

    Parameters
    ----------
    lanes
        Strips of the bin's group.
    holds
        The bin's marks.

    Attributes
    ----------
    clear
        Value of a clear stretch of the bin that holds 0, 1, ... steps, kerfs added.
    section, strip
        Values of sections, and of their strips, where they touch no mark.
    saved
        Value of sections that keep wood beside their strips.
    rest
        Value of what a section holds beside a strip of each width.
    shortest
        Steps from the begin of any section to the next at least.
    before, after
        Values of a clear bin before and behind each block.
    """

    def __init__(
        self, tables: Tables, row: int, lanes: Lanes, holds: tuple[Hold, ...]
    ) -> None:
        kernel = tables.kernel
        self.tables, self.lanes, self.holds = tables, lanes, holds
        self.one: Bin = kernel.bins[row]
        self.g, self.pitch, self.kerf = lanes.g, lanes.pitch, kernel.kerf
        self.room = self.one.length + self.kerf
        self.clear = tables.along(row)[kernel.floors[: self.room + 1]]
        self.saved = tables.saved_beside(self.g, self.one.width)
        self.capacity = tables.cells(self.one.width)
        self.section = np.maximum(tables.rips[self.capacity, :, self.g], self.saved)
        left = self.capacity - kernel.widths
        self.rest = np.where(
            left >= 0, tables.rips[np.maximum(left, 0), :, self.g].T, NEVER
        )
        self.strip = tables.in_section[:, self.g, :]
        self.section_in = lanes.section_in[: self.room // self.pitch + 1]
        self.blocks = self._blocks()
        self.shortest = int(self.blocks[0]) * self.pitch if len(self.blocks) else self.room
        self.row_of = np.zeros(len(self.section_in), dtype=np.int64)
        self.row_of[self.blocks] = np.arange(len(self.blocks))
        self.value = self.section[self.section_in[self.blocks]]
        rest = self.room + self.pitch - 1 - self.blocks * self.pitch
        self.around = self.clear[np.minimum(rest, self.room)]
        grid = np.arange(self.room // self.pitch + 1) * self.pitch
        self.before = self.clear[np.minimum(grid + self.pitch - 1, self.room)]
        self.after = self.clear[self.room - grid]
        self.left, self.right = self._touched(grid)
        self.with_strip = self.strip + self.rest
        self.bearings = {hold: self._bearing(hold) for hold in holds}

    def _touched(self, grid: Ints) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
        """Whether beginning a block earlier, or ending one later, touches one mark more."""
        left, right = np.zeros_like(grid), np.zeros_like(grid)
        for hold in self.holds:
            left += grid + self.pitch - 1 < hold.mark.end
            right += grid - self.kerf > hold.mark.start
        return np.diff(left, prepend=-1) != 0, np.diff(right, append=-1) != 0

    def _blocks(self) -> Ints:
        """Return the blocks of lengths to be tried.

        A section on a mark may be longer than what it holds, so that a bound needs all.
        """
        blocks = np.flatnonzero(self.section_in >= 0)
        if self.tables.is_exact:
            return blocks
        sums = self.tables.kernel.sums[self.tables.sections]
        return np.intersect1d(blocks, sums // self.pitch)

    def spots(self, way: Way, allowed: float) -> Spots:
        """Return the sections on a mark with which no more than `allowed` is lost."""
        whole = float(self.clear[-1])
        goal = whole - allowed
        around = self.around - way.spare(self.before, self.after)
        near = np.flatnonzero(self.value + around >= goal)
        if not len(near):
            return NONE
        rough = np.minimum(self.bearings[way.hold].most[near], self.value[near])
        blocks = self.blocks[near]
        start, which = self._places(way, blocks, rough + around[near] >= goal)
        if not len(start):
            return NONE
        begins, ends = self._steps(way)
        kept = begins[start] & ends[start + blocks[which]]
        start, which = start[kept], which[kept]
        inside = self._inside(way.hold.mark, start * self.pitch, blocks[which])
        value = self.value[near[which]]
        around = way.before[start] + way.after[start + blocks[which]]
        kept = np.where(inside, rough[which], value) + around >= goal
        start, which, value = start[kept], which[kept], value[kept]
        loss = whole - value - around[kept]
        found = Spots(start * self.pitch, blocks[which], loss, value)
        for hold in self.holds:
            found = self._limited(found, hold, allowed)
        return found

    def _places(
        self, way: Way, blocks: Ints, is_near: NDArray[np.bool_]
    ) -> tuple[Ints, Ints]:
        """Return where sections of these blocks may begin, and the numbers of the blocks.

        Those that are not near are left out where the whole mark lies inside them.
        """
        mark, pitch = way.hold.mark, self.pitch
        first = (mark.start + self.kerf - 2 * (pitch - 1)) // pitch + 1 - blocks
        first = np.maximum(first, way.first)
        last = np.minimum(self.room // pitch - blocks, way.last)
        inner = -(-(mark.end + self.kerf) // pitch) - blocks
        outer = np.full(len(blocks), mark.start // pitch - 1)
        whole = is_near | (inner > outer)
        firsts = np.concatenate([first, np.maximum(first, outer + 1)])
        lasts = np.concatenate([np.where(whole, last, np.minimum(last, inner - 1)), last])
        lasts[len(blocks) :][whole] = -1
        counts = np.maximum(lasts - firsts + 1, 0)
        which = np.repeat(np.arange(len(counts)), counts)
        start = np.arange(len(which)) - np.repeat(np.cumsum(counts) - counts, counts)
        return start + firsts[which], which % max(1, len(blocks))

    def _steps(self, way: Way) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
        """Return in which blocks spots may begin, and with which they may end.

        Where nothing more fits before a block than before the last one, a section may as
        well begin there and be longer, unless it then touches one more mark; where nothing
        more fits behind a block than behind the next one, it may as well end there.
        """
        begins, ends = self.left.copy(), self.right.copy()
        begins[1:] |= way.before[1:] > way.before[:-1]
        begins[way.first : way.first + 1] = True
        ends[:-1] |= way.after[:-1] > way.after[1:]
        ends[: way.clear] = True
        if not way.is_exact:
            begins[:] = True
        return begins, ends

    def _inside(self, mark: Mark, start: Ints, block: Ints) -> NDArray[np.bool_]:
        """Whether the whole mark lies in a section wherever in its block that begins."""
        ends = start + block * self.pitch - self.kerf
        found: NDArray[np.bool_] = (start <= mark.start - self.pitch) & (ends >= mark.end)
        return found

    def _bearing(self, hold: Hold) -> Bearing:
        """Return how a mark bears on sections wherever in them it lies."""
        pitch, mark, s = self.pitch, hold.mark, self.section_in[self.blocks]
        free = self.blocks * pitch + 2 * (pitch - 1) + self.kerf - (mark.end - mark.start)
        aligned = self.lanes.is_aligned and pitch - 1 <= self.kerf
        free = np.maximum(free // pitch + (not aligned), 0)
        free = np.minimum(free, len(self.lanes.free) - 1)
        strips = self._or_across(hold, self.blocks, self.lanes.free[free])
        strips = np.minimum(strips, self.strip[s]) + self.rest[s]
        below, above = self._sides(mark)
        rips = self.tables.rips
        beside = rips[below, :, self.g] + rips[above, :, self.g]
        beside = np.maximum(beside, self.saved)
        first = strips.argmax(axis=1)
        most = np.maximum(beside[s], strips[np.arange(len(s)), first])
        return Bearing(strips, first, most, beside)

    def _or_across(
        self, hold: Hold, at: Ints | tuple[Ints, Ints], strips: Floats
    ) -> Floats:
        """Return strips on a mark, or if better, with a piece or offcut across it.

        `at` are the blocks of their lengths, and their widths unless all are meant.
        """
        if hold.shapes:
            strips = np.maximum(strips, self.lanes.across(hold.shapes)[at])
        if hold.offcuts:
            strips = np.maximum(strips, self.lanes.ended[at])
        return strips

    def _surely(self, hold: Hold, spots: Spots) -> Ints:
        """Return which spots touch a mark wherever in their block they begin."""
        ends = spots.start + spots.block * self.pitch - self.kerf
        begins = spots.start + self.pitch - 1
        return np.flatnonzero((begins < hold.mark.end) & (ends > hold.mark.start))

    def _limited(self, spots: Spots, hold: Hold, allowed: float) -> Spots:
        """Lower the values of spots that surely touch a mark; drop what loses too much."""
        sure = self._surely(hold, spots)
        if not len(sure):
            return spots
        value = spots.value.copy()
        for at in range(0, len(sure), CHUNK):
            some = sure[at : at + CHUNK]
            limit = self._limits(hold, spots.among(some), allowed)
            value[some] = np.minimum(value[some], limit)
        loss = spots.loss + spots.value - value
        return replace(spots, loss=loss, value=value).among(loss <= allowed)

    def _limits(self, hold: Hold, spots: Spots, allowed: float) -> Floats:
        """Return what sections that touch a mark are worth at most.

        The strip that promises most on the mark is tried first, then those that promise
        more than came of it. Strips with which more than `allowed` is lost are left out.
        """
        bearing, row = self.bearings[hold], self.row_of[spots.block]
        s = self.section_in[spots.block]
        inside = self._inside(hold.mark, spots.start, spots.block)
        first, every = bearing.first[row], np.arange(len(row))
        best = np.maximum(bearing.beside[s], self._with_strip(hold, spots, every, first))
        least = np.maximum(best, spots.value + spots.loss - allowed)
        promised = np.where(inside[:, None], bearing.strips[row], self.with_strip[s])
        spot, w = np.nonzero(promised > least[:, None])
        if len(spot):
            worth = self._with_strip(hold, spots, spot, w)
            firsts = np.flatnonzero(np.diff(spot, prepend=-1))
            best[spot[firsts]] = np.maximum(
                best[spot[firsts]], np.maximum.reduceat(worth, firsts)
            )
        return best

    def _with_strip(self, hold: Hold, spots: Spots, spot: Ints, w: Ints) -> Floats:
        """Value of sections of some spots, by number, with strips of widths w on a mark."""
        before, behind = self._free(hold.mark, spots)
        strips = self.lanes.free[before[spot], w] + self.lanes.free[behind[spot], w]
        block = spots.block[spot]
        strips = self._or_across(hold, (block, w), strips)
        s = self.section_in[block]
        found: Floats = np.minimum(strips, self.strip[s, w]) + self.rest[s, w]
        return found

    def _sides(self, mark: Mark) -> tuple[int, int]:
        """Return the cells of width below and above a mark."""
        width = self.one.width
        below, above = min(mark.low, width), min(width - mark.high, width)
        return self.tables.cells(max(0, below)), self.tables.cells(max(0, above))

    def _free(self, mark: Mark, spots: Spots) -> tuple[Ints, Ints]:
        """Return the blocks of free length of a strip before and behind a mark."""
        pitch, last = self.pitch, len(self.lanes.free) - 1
        before = (mark.start - spots.start + self.kerf) // pitch
        end = spots.start + spots.block * pitch + 2 * (pitch - 1)
        behind = (end - mark.end) // pitch
        return (
            np.minimum(np.maximum(before, 0), last),
            np.minimum(np.maximum(behind, 0), last),
        )

    def section_at(self, spots: Spots) -> Section:
        """Return a section that is worth as much as the one spot allows."""
        tables = self.tables
        s, value = int(self.section_in[spots.block[0]]), float(spots.value[0])
        length = int(tables.lengths[s])
        if value >= self.section[s]:
            return tables.section(s, self.g, self.one.width)
        if value <= self.saved[s]:
            v = tables.cells_beside(s, self.g, self.one.width)
            return Section(length, tables.strips_to(s, self.g, v))
        holds = [hold for hold in self.holds if len(self._surely(hold, spots))]
        limits = [float(self._limits(hold, spots, np.inf)[0]) for hold in holds]
        return Section(length, self._strips(holds[int(np.argmin(limits))], spots, s))

    def _strips(self, hold: Hold, spots: Spots, s: int) -> tuple[Strip, ...]:
        """Return the strips of a section limited by a mark: beside it, or one on it."""
        tables, lanes, g = self.tables, self.lanes, self.g
        before, behind = (int(found[0]) for found in self._free(hold.mark, spots))
        free = lanes.free[[before]] + lanes.free[[behind]]
        block = int(spots.block[0])
        strips = np.minimum(self._or_across(hold, spots.block, free)[0], self.strip[s])
        w = int((strips + self.rest[s]).argmax())
        if self.bearings[hold].beside[s] >= strips[w] + self.rest[s, w]:
            low, high = self._sides(hold.mark)
            return tables.strips_to(s, g, low) + tables.strips_to(s, g, high)
        others = tables.strips_to(s, g, self.capacity - int(tables.kernel.widths[w]))
        if strips[w] >= self.strip[s, w]:
            return (tables.strip(s, g, w), *others)
        if free[0, w] >= strips[w]:
            pieces = lanes.free_pieces(before, w) + lanes.free_pieces(behind, w)
        elif hold.shapes and lanes.across(hold.shapes)[block, w] >= strips[w]:
            pieces = lanes.pieces_across(block, w, hold.shapes)
        else:
            pieces = lanes.ended_pieces(block, w)
        return (Strip(int(tables.kernel.actual[w]), pieces), *others)
