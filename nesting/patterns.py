"""The dynamic programs: the most valuable way to cut one board for given values.

Three stages, every cut right through: crosscut the board into sections, rip the sections
into strips, crosscut the strips into pieces (Gilmore and Gomory 1965, three-stage
guillotine cutting). Every length is stored with one kerf added, and so is every capacity,
which makes all three stages additive knapsacks. Kept offcuts are one more thing to make:
one at the end of each strip, one beside the last strip, one at the end of the board.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from nesting.problem import Bin, Problem

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
NEVER = -1e15
MOST_SECTIONS = 120


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


@dataclass(frozen=True, slots=True)
class Band:
    """A rectangle of a section that is ripped on its own, in the bin's usable frame.

    Attributes
    ----------
    x, y, length, height
        Where it lies; all bands of a section share x and length.
    strips
        Its strips from y up, a kerf between neighbours.
    starts
        For a strip cut between marks: where each of its pieces starts, from x. Empty if
        the pieces follow each other from x.
    """

    x: int
    y: int
    length: int
    height: int
    strips: tuple[Strip, ...]
    starts: tuple[int, ...] = ()


class Kernel:
    """What the programs share whatever the values: lengths, widths, sums, groups of bins.

    Bins are grouped by what they serve and what their offcuts are worth; the programs run
    for all groups at once, one more array axis.

    Parameters
    ----------
    problem
        Items and rules.
    bins
        Bins to cut; their marks and zones are left out of account.

    Attributes
    ----------
    sums
        Every sum of lengths (a kerf added to each) that some pieces reach, and the
        shortest gang; ascending, from 0.
    cell
        Grid steps per cell of width; all widths (a kerf added) are whole cells.
    widths, actual
        Strip widths worth cutting: in cells, and in grid steps without the kerf.
    lost
        Per bin with marks: share of its value that they cost when it was last priced. It
        says where to begin the next time, and changes no result.
    """

    def __init__(self, problem: Problem, bins: Iterable[Bin]) -> None:
        self.problem = problem
        self.bins = tuple(bins)
        self.kerf = problem.kerf
        length = max(one.length for one in self.bins)
        width = max(max(one.width, one.width2) for one in self.bins)
        wanted = sorted(frozenset().union(*(one.wanted for one in self.bins)))
        self.shapes = sorted(
            (
                (i, s, size[0] + self.kerf)
                for i in wanted
                for s, size in enumerate(problem.items[i].sizes)
                if size[0] <= length
            ),
            key=lambda shape: shape[2],
        )
        self.lengths = np.array([shape[2] for shape in self.shapes], dtype=np.int64)
        widths = self._widths(width)
        self.cell = math.gcd(*widths) if widths else 1
        self.capacity = (width + self.kerf) // self.cell
        self.widths = np.array(sorted(w // self.cell for w in widths), dtype=np.int64)
        self.actual = self.widths * self.cell - self.kerf
        self.is_short = np.array(
            [
                problem.items[i].is_short and size - self.kerf < problem.shortest
                for i, _, size in self.shapes
            ],
            dtype=bool,
        )
        self.gang = problem.shortest + self.kerf
        self.sums = self._sums(length + self.kerf)
        self.previous = self.floor(self.sums[None, :] - self.lengths[:, None])
        self.below = (
            int(np.searchsorted(self.sums, self.gang)) if self.is_short.any() else 0
        )
        self.lost: dict[tuple[int, bool], float] = {}
        self._group()

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
        if self.is_short.any() and self.gang <= limit:
            reached[self.gang] = True
        for length in sorted({int(v) for v in self.lengths}):
            for start in range(length):
                column = reached[start::length]
                np.logical_or.accumulate(column, out=column)
        return np.flatnonzero(reached).astype(np.int64)

    def _group(self) -> None:
        """Group bins by items served and by credit; list the widths met in each group."""
        refused = self._refused()
        sets = sorted(set(refused), key=sorted)
        self.serves = np.array([[i not in out for i, _, _ in self.shapes] for out in sets])
        numbers = {out: number for number, out in enumerate(sets)}
        kinds = [
            (numbers[out], one.credit) for out, one in zip(refused, self.bins, strict=True)
        ]
        groups = sorted(set(kinds))
        self.set_of = np.array([group[0] for group in groups], dtype=np.int64)
        self.credits = np.array([group[1] for group in groups])
        rank = {group: number for number, group in enumerate(groups)}
        self.group_of = [rank[kind] for kind in kinds]
        self.tops = np.array([self.index(one.length) for one in self.bins])
        self._lay_lanes()

    def _refused(self) -> list[frozenset[int]]:
        """Return, per bin, the items that would fit it and yet must not come from it.

        What does not fit needs no bar: no program cuts it. So bins that differ only in
        what fits them share their programs.
        """
        items = self.problem.items
        wanted = sorted({i for i, _, _ in self.shapes})
        sizes = np.array(
            [
                (k, length, items[i].low if items[i].is_panel else width)
                for k, i in enumerate(wanted)
                for length, width in items[i].sizes
            ]
        ).reshape(-1, 3)
        found = []
        for one in self.bins:
            fits = (sizes[:, 1] <= one.length) & (sizes[:, 2] <= max(one.width, one.width2))
            able = {wanted[k] for k in sizes[fits, 0]}
            found.append(frozenset(able - one.wanted))
        return found

    def _lay_lanes(self) -> None:
        """List the lanes: bins of one lane are equally wide at each sum, and in one group.

        `place[lane, r]` is the row of `places` (group and width there) at sum r.
        """
        lanes: dict[tuple[int, ...], int] = {}
        self.lane_of = np.zeros(len(self.bins), dtype=np.int64)
        places: dict[tuple[int, int], int] = {}
        rows: list[Ints] = []
        for row, one in enumerate(self.bins):
            wide, group = max(one.width, one.width2), self.group_of[row]
            taper = (one.narrow, one.length) if one.narrow < wide else (wide,)
            lane = lanes.setdefault((group, wide, *taper), len(lanes))
            self.lane_of[row] = lane
            if lane == len(rows):
                rows.append(self._places_along(group, one, places))
        self.lane_place = np.array(rows, dtype=np.int64)
        self.place = self.lane_place[self.lane_of]
        self.places = list(places)
        self.is_even = bool((self.lane_place == self.lane_place[:, :1]).all())

    def _places_along(
        self, group: int, one: Bin, places: dict[tuple[int, int], int]
    ) -> Ints:
        """Return the place of a bin at every sum; new ones are added to `places`."""
        widths, where = np.unique(
            taper_widths(self.sums - self.kerf, one), return_inverse=True
        )
        keys = [(group, int(width)) for width in widths]
        numbers = np.array([places.setdefault(key, len(places)) for key in keys])
        found: Ints = numbers[where]
        return found

    def floor(self, values: Ints) -> Ints:
        """Return the index of the greatest sum not above each value (-1: none)."""
        return np.searchsorted(self.sums, values, side="right") - 1

    @cached_property
    def floors(self) -> Ints:
        """Index of the greatest sum not above 0, 1, ... up to the longest bin."""
        return self.floor(np.arange(max(one.length for one in self.bins) + self.kerf + 1))

    @cached_property
    def column_of(self) -> dict[int, int]:
        """The column of each strip width, in grid steps, without the kerf."""
        return {int(width): w for w, width in enumerate(self.actual)}

    @cached_property
    def row_of(self) -> dict[tuple[int, int], int]:
        """The row of each shape: an item, and one of its sizes."""
        return {(i, s): a for a, (i, s, _) in enumerate(self.shapes)}

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
            table[row, fits] = (
                values.net[i] * (self.actual[fits] - item.joint) + values.stave[i]
            )
            if item.single:
                whole = values.net[i] * item.need + values.stave[i] * item.staves
                fits = self.actual == item.single
                table[row, fits] = np.maximum(table[row, fits], whole)
        return table

    def solve(self, values: Values, *, exact: bool) -> Tables:
        """Fill the tables for `values`.

        If not `exact`, only sections as long as one or two pieces are tried: faster, good
        for columns, but no bound.
        """
        return Tables(
            self, self.piece_values(values), None if exact else self.plain_sections
        )

    @cached_property
    def plain_sections(self) -> Ints:
        """Sums of one or two lengths, of the shortest gang, and the greatest sum."""
        lengths = np.unique(self.lengths)
        pairs = (lengths[:, None] + lengths[None, :]).ravel()
        wanted = np.concatenate([lengths, pairs, [self.gang], self.sums[-1:]])
        found = np.flatnonzero(np.isin(self.sums, wanted) & (self.sums > 0))
        if len(found) <= MOST_SECTIONS:
            return found
        singles = np.flatnonzero(np.isin(self.sums, [*lengths, self.gang]))
        others = np.setdiff1d(found, singles)
        step = len(others) // max(1, MOST_SECTIONS - len(singles)) + 1
        return np.union1d(singles, others[::step])


class Tables:
    """The filled programs of one kernel for one vector of values.

    Attributes
    ----------
    strips
        `strips[r, m, w]`: value of a strip as long as sum r and as wide as candidate w,
        for set m of items.
    sections
        Sums that are worth being a section: longer than the one before, and worth more.
    rips
        `rips[v, s, g]`: value of section s when v cells of width are there, for group g.
    boards
        `boards[r, b]`: value of sections along the bins of lane b up to sum r.
    is_exact
        Whether all sections are tried.
    worths
        Value of the best pattern of each bin of the kernel, its kept offcuts credited;
        `nesting.marked` lowers it for bins with marks.
    """

    def __init__(self, kernel: Kernel, worth: Floats, among: Ints | None) -> None:
        self.kernel = kernel
        self.worth = worth
        self.is_exact = among is None
        by_set = np.where(kernel.serves[:, :, None], worth[None, :, :], NEVER)
        by_set = np.ascontiguousarray(by_set.transpose(1, 0, 2))
        every = np.ones(len(kernel.lengths), dtype=bool)
        self.strips = self._crosscut(by_set, every, len(kernel.sums))
        self.long_strips = self._crosscut(by_set, ~kernel.is_short, kernel.below)
        self.by_set = by_set
        self.sections = self._worth_a_section()
        if among is not None:
            self.sections = np.intersect1d(self.sections, among)
        if not len(self.sections):  # nothing is worth anything: any one section will do
            self.sections = np.array([len(kernel.sums) - 1])
        self.lengths = kernel.sums[self.sections] - kernel.kerf
        self.in_section = self._strips_in_sections()
        self.rips = self._rip()
        self.lead = self._salvage_lead()
        self.at_place = self._at_places()
        self.starts = kernel.floor(
            kernel.sums[:, None] - kernel.sums[self.sections][None, :]
        )
        self.boards = self._along()
        whole = self._whole()
        self.ends = whole.argmax(axis=1)
        self.worths = whole[np.arange(len(kernel.bins)), self.ends]
        self._known: dict[tuple[int, int, int], Section] = {}

    def _crosscut(self, worth: Floats, rows: NDArray[np.bool_], count: int) -> Floats:
        """Best value of a strip of each of the first `count` lengths and each width."""
        kernel = self.kernel
        lengths, first = np.unique(kernel.lengths[rows], return_index=True)
        if not len(lengths):
            return np.zeros((count, *worth.shape[1:]))
        previous = kernel.previous[rows][first]
        worth = np.maximum.reduceat(worth[rows], first)
        usable = np.searchsorted(lengths, kernel.sums, side="right")
        best = np.zeros((count, *worth.shape[1:]))
        for r in range(1, count):
            n = usable[r]
            best[r] = best[r - 1]
            if n:
                found = (best[previous[:n, r]] + worth[:n]).max(axis=0)
                np.maximum(best[r], found, out=best[r])
        return best

    def _worth_a_section(self) -> Ints:
        """Return the sums at which some strip is worth more than at the sum before.

        Any other section could be shortened to the sum before without losing a piece. But
        where offcuts count, a longer one may keep more beside its strips, or behind them:
        then every section that is long enough for that is one of its own.
        """
        kernel = self.kernel
        rises = self.strips[1:] > self.strips[:-1]
        gains = np.asarray(rises.any(axis=(1, 2)), dtype=bool).reshape(-1)
        if kernel.below and kernel.below < len(kernel.sums):
            gains[kernel.below - 1] = True
        if (kernel.credits > 0).any():
            gains |= kernel.sums[1:] - kernel.kerf >= kernel.problem.keep_length
        return np.flatnonzero(gains) + 1

    def _strips_in_sections(self) -> Floats:
        """Value of every strip of every section per group, kept offcuts at its end in."""
        kernel, problem = self.kernel, self.kernel.problem
        plain = self.strips[self.sections]
        short = self.sections < kernel.below
        plain[short] = self.long_strips[self.sections[short]]
        plain = plain[:, kernel.set_of]
        wide = kernel.actual >= problem.keep_width
        if not wide.any() or not (kernel.credits > 0).any():
            return plain
        rate = kernel.credits[:, None] * np.where(wide, kernel.actual, 0)[None, :]
        lead = self.strips[:, kernel.set_of] - kernel.sums[:, None, None] * rate
        np.maximum.accumulate(lead, axis=0, out=lead)
        last = (
            np.searchsorted(kernel.sums, self.lengths - problem.keep_length, side="right")
            - 1
        )
        ended = lead[np.maximum(last, 0)] + self.lengths[:, None, None] * rate
        ended[(last < 0) | short] = NEVER
        ended[:, :, ~wide] = NEVER
        best: Floats = np.maximum(plain, ended)
        return best

    def _rip(self) -> Floats:
        """Value of each section for every width, in cells."""
        kernel = self.kernel
        count = self.in_section.shape[0] * self.in_section.shape[1]
        across = np.ascontiguousarray(self.in_section.reshape(count, -1).T)
        best = np.zeros((kernel.capacity + 1, count))
        usable = np.searchsorted(
            kernel.widths, np.arange(kernel.capacity + 1), side="right"
        )
        for v in range(1, kernel.capacity + 1):
            n = usable[v]
            if n:
                found = (best[v - kernel.widths[:n]] + across[:n]).max(axis=0)
                np.maximum(best[v - 1], found, out=best[v])
        return best.reshape(kernel.capacity + 1, *self.in_section.shape[:2])

    def _salvage_lead(self) -> Floats:
        """Best section value less the credit of the width it uses, up to each cell."""
        kernel = self.kernel
        cells = np.arange(kernel.capacity + 1)[:, None, None] * kernel.cell
        rate = self.lengths[:, None] * kernel.credits[None, :]
        lead: Floats = np.maximum.accumulate(self.rips - cells * rate[None], axis=0)
        return lead

    def _at_places(self) -> Floats:
        """Value of every section at every width met, the strip beside it credited."""
        kernel = self.kernel
        table = np.zeros((len(kernel.places), len(self.sections)))
        for row, (g, width) in enumerate(kernel.places):
            if width > 0:
                plain = self.rips[self.cells(width), :, g]
                table[row] = np.maximum(plain, self.saved_beside(g, width))
        return table

    def saved_beside(self, g: int, width: int) -> Floats:
        """Value of every section at a width if wood is kept beside its last strip."""
        kernel, problem = self.kernel, self.kernel.problem
        if kernel.credits[g] <= 0 or width < problem.keep_width:
            return np.full(len(self.sections), NEVER)
        last = min((width - problem.keep_width) // kernel.cell, kernel.capacity)
        saved: Floats = self.lead[last, :, g] + kernel.credits[g] * width * self.lengths
        saved[self.lengths < problem.keep_length] = NEVER
        return saved

    def cells(self, width: int) -> int:
        """Return how many cells a width of `width` grid steps holds."""
        return min((width + self.kernel.kerf) // self.kernel.cell, self.kernel.capacity)

    def _along(self) -> Floats:
        """Values of sections along each lane, laid from its wide end."""
        kernel = self.kernel
        best = np.zeros((len(kernel.sums), len(kernel.lane_place)))
        here = np.ascontiguousarray(self.at_place[kernel.lane_place[:, 0]].T)
        tried, count = np.zeros(len(self.sections), dtype=np.int64), 0
        number_of = {int(r): s for s, r in enumerate(self.sections)}
        for r in range(1, len(kernel.sums)):
            best[r] = best[r - 1]
            if not kernel.is_even:
                here = self.at_place[kernel.lane_place[:, r]].T
            if count:
                some = tried[:count]
                found = best[self.starts[r, some]] + here[some]
                np.maximum(best[r], found.max(axis=0), out=best[r])
            s = number_of.get(r)
            if s is not None and (not kernel.is_even or (here[s] > best[r]).any()):
                # on even lanes any other section loses to shorter ones side by side
                np.maximum(best[r], best[self.starts[r, s]] + here[s], out=best[r])
                tried[count] = s
                count += 1
        self.tried = tried[:count]
        return best

    def _whole(self) -> Floats:
        """Return what each bin is worth if its last section ends at each sum.

        What is left beyond it is credited by the bin's greatest width, which is not below
        what any rectangle in it is worth.
        """
        kernel, problem = self.kernel, self.kernel.problem
        length = np.array([one.length for one in kernel.bins])
        wide = np.array([max(one.width, one.width2) for one in kernel.bins])
        rate = np.where(wide >= problem.keep_width, kernel.credits[kernel.group_of], 0.0)
        left = length[:, None] - kernel.sums[None, :]
        whole = self.boards.T[kernel.lane_of]
        whole += np.where(left >= problem.keep_length, left * (rate * wide)[:, None], 0.0)
        whole[np.arange(len(kernel.sums))[None, :] > kernel.tops[:, None]] = NEVER
        return whole

    def along(self, row: int) -> Floats:
        """Return the value of sections along a bin up to each sum."""
        return np.ascontiguousarray(self.boards[:, int(self.kernel.lane_of[row])])

    def lasts(self, row: int, most: float) -> list[int]:
        """Return the sections that may be the last in a bin of one width.

        Only of patterns that are worth at most `most` less than the best one.
        """
        top = self.kernel.tops[row]
        ends = int(np.searchsorted(self.sections, top, side="right"))
        along = self.along(row)
        values = along[self.starts[top, :ends]]
        values = values + self.at_place[self.kernel.place[row, top], :ends]
        return [int(s) for s in np.flatnonzero(values >= along[top] - most)]

    def pattern(self, row: int, last: int = -1) -> tuple[Section, ...]:
        """Return the sections of a bin's best pattern, from its wide end on.

        `last` is a section that it must have, of a bin of one width; -1 leaves that open.
        """
        if last < 0:
            return self.sections_to(row, int(self.ends[row]))
        top = self.kernel.tops[row]
        ended = self.section(last, *self.kernel.places[self.kernel.place[row, top]])
        return (ended, *self.sections_to(row, int(self.starts[top, last])))

    def sections_to(self, row: int, r: int) -> tuple[Section, ...]:
        """Return the best sections along a bin up to sum r."""
        kernel = self.kernel
        lane = int(kernel.lane_of[row])
        best = self.along(row)
        found: list[Section] = []
        while True:
            r = first_as_good(best, r)
            if r == 0:
                return tuple(found)
            n = int(np.searchsorted(self.sections[self.tried], r, side="right"))
            place = int(kernel.lane_place[lane, r])
            some = self.tried[:n]
            worth = best[self.starts[r, some]] + self.at_place[place, some]
            s = int(some[worth.argmax()])
            found.append(self.section(s, *kernel.places[place]))
            r = int(self.starts[r, s])

    def section(self, s: int, g: int, width: int) -> Section:
        """Return the strips of section s ripped from `width` grid steps, for group g."""
        key = (s, g, width)
        if key not in self._known:
            self._known[key] = self._section(*key)
        return self._known[key]

    def _section(self, s: int, g: int, width: int) -> Section:
        kernel, problem = self.kernel, self.kernel.problem
        v = self.cells(width)
        credit = kernel.credits[g]
        if (
            credit > 0
            and width >= problem.keep_width
            and self.lengths[s] >= problem.keep_length
        ):
            last = min((width - problem.keep_width) // kernel.cell, kernel.capacity)
            if (
                self.lead[last, s, g] + credit * width * self.lengths[s]
                > self.rips[v, s, g]
            ):
                v = self.cells_beside(s, g, width)
        return Section(int(self.lengths[s]), self.strips_to(s, g, v))

    def cells_beside(self, s: int, g: int, width: int) -> int:
        """Return the cells that section s uses of `width` if the rest is kept whole."""
        kernel = self.kernel
        last = min((width - kernel.problem.keep_width) // kernel.cell, kernel.capacity)
        spent = np.arange(last + 1) * kernel.cell * kernel.credits[g] * self.lengths[s]
        return int((self.rips[: last + 1, s, g] - spent).argmax())

    def strips_to(self, s: int, g: int, v: int) -> tuple[Strip, ...]:
        """Return the best strips of section s across v cells of width, for group g."""
        kernel = self.kernel
        column = self.rips[:, s, g]
        strips: list[Strip] = []
        while True:
            v = first_as_good(column, v)
            if v == 0:
                return tuple(strip for strip in strips if strip.pieces)
            n = int(np.searchsorted(kernel.widths, v, side="right"))
            w = int((column[v - kernel.widths[:n]] + self.in_section[s, g, :n]).argmax())
            strips.append(self.strip(s, g, w))
            v -= int(kernel.widths[w])

    def strip(self, s: int, g: int, w: int) -> Strip:
        """Return what strip candidate w of section s is crosscut into."""
        kernel = self.kernel
        r, m = int(self.sections[s]), int(kernel.set_of[g])
        long_only = r < kernel.below
        column = self.long_strips[:, m, w] if long_only else self.strips[:, m, w]
        if not long_only and self.in_section[s, g, w] > column[r]:
            r = self.sum_before(g, w, int(self.lengths[s]))
        rows = (
            np.flatnonzero(~kernel.is_short) if long_only else np.arange(len(kernel.shapes))
        )
        return Strip(int(kernel.actual[w]), self.pieces_to(column, rows, m, w, r))

    def sum_before(self, g: int, w: int, length: int) -> int:
        """Return the sum up to which a strip is cut if the rest of `length` is kept."""
        kernel = self.kernel
        last = int(kernel.floor(np.array(length - kernel.problem.keep_length))) + 1
        spent = kernel.credits[g] * kernel.actual[w] * kernel.sums[:last]
        return int((self.strips[:last, kernel.set_of[g], w] - spent).argmax())

    def pieces_to(
        self, column: Floats, rows: Ints, m: int, w: int, r: int
    ) -> tuple[tuple[int, int, bool], ...]:
        """Return the best pieces of shapes `rows` in candidate w up to sum r, for set m.

        `column` holds what strips of that width are worth up to each sum.
        """
        kernel = self.kernel
        pieces: list[tuple[int, int, bool]] = []
        width = int(kernel.actual[w])
        while True:
            r = first_as_good(column, r)
            if r == 0:
                return tuple(pieces)
            n = int(np.searchsorted(kernel.lengths[rows], kernel.sums[r], side="right"))
            here = rows[:n]
            a = int(
                here[(column[kernel.previous[here, r]] + self.by_set[here, m, w]).argmax()]
            )
            i, size, _ = kernel.shapes[a]
            item = kernel.problem.items[i]
            pieces.append((i, size, item.is_panel and item.single == width))
            r = int(kernel.previous[a, r])

    def offcut_credit(self, value: float, sections: Iterable[Section]) -> float:
        """Return the part of a pattern's `value` that is the credit of its kept offcuts."""
        kernel = self.kernel
        worth = 0.0
        column_of, row_of = kernel.column_of, kernel.row_of
        for section in sections:
            for strip in section.strips:
                w = column_of[strip.width]
                worth += sum(float(self.worth[row_of[i, s], w]) for i, s, _ in strip.pieces)
        return max(0.0, value - worth)


def first_as_good(values: Floats, index: int) -> int:
    """Return the first place whose value is not below that at `index` (sorted values)."""
    return int(np.searchsorted(values[: index + 1], values[index], side="left"))


def taper_widths(ends: Ints, one: Bin) -> Ints:
    """Return the width of a bin at distances from its wide end, rounded down."""
    wide, narrow = max(one.width, one.width2), one.narrow
    if wide == narrow:
        return np.full(len(ends), wide)
    fall = -(-(wide - narrow) * np.maximum(ends, 0) // max(1, one.length))
    widths: Ints = np.clip(wide - fall, narrow, wide)
    return widths
