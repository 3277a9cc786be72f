"""The most valuable guillotine way to cut one sheet, with no more pieces than are wanted.

`Counted` fills it well and fast; `proven` builds rectangles from the pieces up, the most
promising first, until nothing better can come (Viswanathan and Bagchi 1993, Oper. Res.
41:768-776; Cung, Hifi and Le Cun 2000, Int. Trans. Oper. Res. 7:185-210).
"""

from __future__ import annotations

import heapq
from collections.abc import Sequence

import numpy as np

from nesting.compiled import IS_COMPILED, Whole, blank, blank_real, real, whole
from nesting.sheet_free import NOISE, Array, Filled, Free, FreeTable
from nesting.sheet_loops import ACROSS, ALONG, ONE, fill_counted
from nesting.sheet_sizes import (
    CROSSCUT,
    RIP,
    Leaf,
    Split,
    Stock,
    Tree,
    Want,
    coarser,
    common_step,
    counts_of,
    enlarged,
    grid_for,
)

MOST_POINTS = 220 if IS_COMPILED else 48  # of either side, for filling
MOST_CELLS = 60_000  # of a grid, for proving


class Counted:
    """Fills one kind of sheet within the demand, for values and demands that change."""

    def __init__(self, wants: Sequence[Want], stock: Stock) -> None:
        step = common_step(wants, stock)
        some, sheet = coarser(wants, stock, step, up=True)
        while _points(some, sheet) > MOST_POINTS:
            step *= 2
            some, sheet = coarser(wants, stock, step, up=True)
        self.step = step
        self.table = FreeTable(some, sheet, grid_for(some, sheet))
        self.kinds = len(wants)
        table = self.table
        self.xs, self.ys, self.rest_x, self.rest_y, self.ways = (
            whole([int(one) for one in np.ravel(part)])
            for part in (table.xs, table.ys, table.rest_x, table.rest_y, table.ways)
        )

    def fill(self, values: Sequence[float], most: Sequence[int]) -> Tree:
        """Return a good way to cut the sheet for these values, within `most` of each."""
        table = self.table
        cells = len(table.xs) * len(table.ys)
        best, made, place = blank_real(cells), blank(cells), blank(cells)
        held = blank(cells * self.kinds)
        fill_counted(
            self.xs, self.ys, self.rest_x, self.rest_y, self.ways, whole(list(most)),
            real([float(v) for v in values]), best, made, place, held,
        )  # fmt: skip
        return enlarged(self._tree(made, place, cells - 1), self.step)

    def _tree(self, made: Whole, place: Whole, cell: int) -> Tree:
        wide = len(self.table.ys)
        i, j = divmod(cell, wide)
        how, at = made[cell], place[cell]
        if how == ONE:
            number, way, *_ = self.table.ways[at // 4]
            return Leaf(number, way)
        if how == ALONG:
            rest = int(self.table.rest_x[i, at])
            return Split(
                CROSSCUT, int(self.table.xs[at]),
                self._tree(made, place, at * wide + j),
                self._tree(made, place, rest * wide + j),
            )  # fmt: skip
        if how == ACROSS:
            rest = int(self.table.rest_y[j, at])
            return Split(
                RIP, int(self.table.ys[at]),
                self._tree(made, place, i * wide + at),
                self._tree(made, place, i * wide + rest),
            )  # fmt: skip
        return self._tree(made, place, at) if how else None


def _points(wants: Sequence[Want], stock: Stock) -> int:
    grid = grid_for(wants, stock)
    return max(len(grid.xs), len(grid.ys))


def proven(
    wants: Sequence[Want], stock: Stock, values: Sequence[float], *, nodes: int = 20_000,
    known: Tree = None,
) -> Filled:  # fmt: skip
    """Return the best way found, and what no way exceeds: the same if it is proven.

    `nodes` is how many rectangles are looked at, at most; `known` a way to start from.
    """
    if not is_small(wants, stock):
        filled = Free(wants, stock).fill(values)
        is_better = _is_within(filled.tree, wants) and filled.value > _worth(known, values)
        tree = filled.tree if is_better else known
        return Filled(tree, _worth(tree, values), filled.bound)
    step = common_step(wants, stock)
    some, sheet = coarser(wants, stock, step, up=False)
    table = FreeTable(some, sheet, grid_for(some, sheet))
    free = table.fill(values)
    tree = table.tree(free, values)
    if _is_within(tree, wants):
        worth = float(free[-1, -1])
        return Filled(enlarged(tree, step), worth, worth)
    search = _Search(table, some, values, free)
    search.least = _worth(known, values)
    bound = search.run(nodes)
    found = known if search.top is None else enlarged(search.tree(search.top), step)
    return Filled(found, search.least, max(search.least, bound))


def is_small(wants: Sequence[Want], stock: Stock) -> bool:
    """Whether the grid of a sheet has so few rectangles that a proof may come soon."""
    some, sheet = coarser(wants, stock, common_step(wants, stock), up=False)
    grid = grid_for(some, sheet)
    return len(grid.xs) * len(grid.ys) <= MOST_CELLS


def _is_within(tree: Tree, wants: Sequence[Want]) -> bool:
    return all(count <= wants[number].count for number, count in counts_of(tree).items())


def _worth(tree: Tree, values: Sequence[float]) -> float:
    return float(sum(values[number] * count for number, count in counts_of(tree).items()))


class _Search:
    """Rectangles built from pieces, side by side or one above the other, best first.

    `room[i, j]` is what the wood around a rectangle in the corner can be worth at most,
    `made` says of each rectangle what it was made of.
    """

    def __init__(
        self,
        table: FreeTable,
        wants: Sequence[Want],
        values: Sequence[float],
        free: Array,
    ) -> None:
        self.table, self.values = table, values
        self.most = np.array([one.count for one in wants], dtype=np.int16)
        self.room = _room(table, free)
        self.least = 0.0
        self.noise = NOISE * max(1.0, float(free[-1, -1]))
        if all(float(v).is_integer() for v in values):
            self.noise = 1 - 1e-6  # sums are whole: better is better by one
        self.top: int | None = None
        self.made: list[tuple[int, int, int]] = []
        self.sizes: list[tuple[int, int]] = []
        self.worths: list[float] = []
        self.counts: list[Array] = []
        self.known: dict[bytes, list[tuple[int, int]]] = {}
        self.heap: list[tuple[float, float, int]] = []

    def run(self, nodes: int) -> float:
        """Look at the most promising rectangles; return what none exceeds."""
        for number, way, x, y in self.table.ways:
            counts = np.zeros(len(self.most), dtype=np.int16)
            counts[number] = 1
            self._add((x, y), self.values[number], counts, (0, number, way))
        closed = _Closed(len(self.most))
        while self.heap:
            promise, _, number = heapq.heappop(self.heap)
            if -promise <= self.least + self.noise:
                break
            if closed.size >= nodes:
                return -promise
            closed.add(number, self.sizes[number], self.worths[number], self.counts[number])
            self._join(closed, number)
        return self.least

    def _join(self, closed: _Closed, number: int) -> None:
        """Join a rectangle with all that were looked at, itself among them."""
        xs, ys, room = self.table.xs, self.table.ys, self.room
        (x, y), worth, counts = self.sizes[number], self.worths[number], self.counts[number]
        can = (closed.counts + counts <= self.most).all(axis=1)
        for how in (ALONG, ACROSS):
            if how == ALONG:
                longs, wides = closed.xs + x, np.maximum(closed.ys, y)
            else:
                longs, wides = np.maximum(closed.xs, x), closed.ys + y
            some = np.flatnonzero(
                can & (longs <= self.table.stock.length) & (wides <= self.table.stock.width)
            )
            if not len(some):
                continue
            i, j = np.searchsorted(xs, longs[some]), np.searchsorted(ys, wides[some])
            worths = closed.worths[some] + worth
            for at in np.flatnonzero(worths + room[i, j] > self.least + self.noise):
                other = int(some[at])
                self._add(
                    (int(longs[other]), int(wides[other])), float(worths[at]),
                    closed.counts[other] + counts, (how, number, closed.numbers[other]),
                )  # fmt: skip

    def _add(
        self,
        size: tuple[int, int],
        worth: float,
        counts: Array,
        made: tuple[int, int, int],
    ) -> None:
        """Take up a rectangle unless a smaller one holds the same."""
        i = int(np.searchsorted(self.table.xs, size[0]))
        j = int(np.searchsorted(self.table.ys, size[1]))
        promise = worth + float(self.room[i, j])
        if promise <= self.least + self.noise:
            return
        alike = self.known.setdefault(counts.tobytes(), [])
        if any(x <= size[0] and y <= size[1] for x, y in alike):
            return
        alike.append(size)
        number = len(self.made)
        self.made.append(made)
        self.sizes.append(size)
        self.worths.append(worth)
        self.counts.append(counts)
        if worth > self.least:
            self.least, self.top = worth, number
        heapq.heappush(self.heap, (-promise, -worth, number))

    def tree(self, number: int) -> Tree:
        """Return the cuts that take a rectangle apart."""
        how, one, other = self.made[number]
        if not how:
            return Leaf(one, other)
        at = self.sizes[one][0 if how == ALONG else 1]
        return Split(
            CROSSCUT if how == ALONG else RIP, at, self.tree(one), self.tree(other)
        )


class _Closed:
    """Rectangles that were looked at, as arrays that grow."""

    def __init__(self, kinds: int) -> None:
        self.size = 0
        self.numbers: list[int] = []
        self._xs, self._ys = np.zeros(64, dtype=np.int64), np.zeros(64, dtype=np.int64)
        self._worths = np.zeros(64)
        self._counts = np.zeros((64, kinds), dtype=np.int16)

    def add(self, number: int, size: tuple[int, int], worth: float, counts: Array) -> None:
        """Add one."""
        if self.size == len(self._xs):
            self._xs, self._ys = np.tile(self._xs, 2), np.tile(self._ys, 2)
            self._worths = np.tile(self._worths, 2)
            self._counts = np.tile(self._counts, (2, 1))
        at = self.size
        self._xs[at], self._ys[at] = size
        self._worths[at], self._counts[at] = worth, counts
        self.numbers.append(number)
        self.size += 1

    @property
    def xs(self) -> Array:
        """Lengths."""
        return self._xs[: self.size]

    @property
    def ys(self) -> Array:
        """Widths."""
        return self._ys[: self.size]

    @property
    def worths(self) -> Array:
        """Values."""
        return self._worths[: self.size]

    @property
    def counts(self) -> Array:
        """Pieces of each kind."""
        return self._counts[: self.size]


def _room(table: FreeTable, free: Array) -> Array:
    """Return what the wood around each rectangle can be worth at most.

    The rectangle lies in the corner and grows: wood is laid beside it or above it, each
    time as wide or long as it then is, until it is the sheet.
    """
    xs, ys = table.xs, table.ys
    room = np.zeros_like(free)
    above = np.searchsorted(ys, table.stock.width - ys, side="right") - 1
    for i in range(len(xs) - 1, -1, -1):
        beside = np.zeros(len(ys))
        if i + 1 < len(xs):
            beside = (room[i + 1 :] + free[table.rest_x[i + 1 :, i]]).max(axis=0)
        last = table.stock.length - xs[-1]
        if last:  # beyond the last sum of sizes lies waste, or wood beside this
            rest = np.searchsorted(xs, table.stock.length - xs[i], side="right") - 1
            beside = np.maximum(beside, free[rest])
        least = np.maximum(beside, free[i, above])
        for j in range(len(ys) - 1, -1, -1):
            room[i, j] = least[j]
            if j + 1 < len(ys):
                more = room[i, j + 1 :] + free[i, table.rest_y[j + 1 :, j]]
                room[i, j] = max(least[j], more.max())
    return room
