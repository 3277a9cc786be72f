"""The most valuable guillotine way to cut one sheet, any number of each piece.

Dynamic programming over the grid of reachable sizes (Gilmore and Gomory 1966; Beasley
1985, J. Oper. Res. Soc. 36:297-306): the best of a rectangle is one piece, or the best two
rectangles that one cut right through it gives.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from nesting.sheet_sizes import (
    CROSSCUT,
    RIP,
    Grid,
    Leaf,
    Split,
    Stock,
    Tree,
    Want,
    coarser,
    common_step,
    enlarged,
    fitting,
    grid_for,
)

Array = npt.NDArray[Any]

NOISE = 1e-9  # of the value of the sheet: what adding up in another order may change
MOST_POINTS = 1200  # of either side; beyond, sizes are rounded to coarser steps


@dataclass(frozen=True, slots=True)
class Filled:
    """A way to cut a sheet, its value, and a value that no way exceeds."""

    tree: Tree
    value: float
    bound: float


class FreeTable:
    """Best values of all rectangles of a grid, with no limit on the pieces of a kind.

    `best[i, j]` is that of a rectangle `xs[i]` long and `ys[j]` wide.
    """

    def __init__(self, wants: Sequence[Want], stock: Stock, grid: Grid) -> None:
        self.wants = wants
        self.stock = stock
        self.grid = grid
        self.xs, self.ys = np.array(grid.xs), np.array(grid.ys)
        self.rest_x, self.rest_y = _rests(self.xs), _rests(self.ys)
        self.ways = [
            (number, way, *size)
            for number in sorted(stock.serves)
            if wants[number].count > 0
            for way, size in enumerate(wants[number].sizes)
            if size in fitting(wants[number], stock)
        ]

    def fill(self, values: Sequence[float]) -> Array:
        """Return the best values of all rectangles of the grid."""
        single = np.zeros((len(self.xs), len(self.ys)))
        for number, _, x, y in self.ways:
            i, j = int(np.searchsorted(self.xs, x)), int(np.searchsorted(self.ys, y))
            np.maximum(single[i:, j:], values[number], out=single[i:, j:])
        best = np.zeros_like(single)
        fresh: list[int] = []  # widths that give more than the next narrower one
        for j in range(1, len(self.ys)):
            column = np.maximum(single[:, j], best[:, j - 1])
            cuts = [f for f in fresh if 2 * self.ys[f] <= self.ys[j]]
            if cuts:
                pairs = best[:, cuts] + best[:, self.rest_y[j, cuts]]
                np.maximum(column, pairs.max(axis=1), out=column)
            best[:, j] = self._crosscut(column)
            if (best[:, j] > best[:, j - 1]).any():
                fresh.append(j)
        return best

    def _crosscut(self, column: Array) -> Array:
        """Return the best values of one width with crosscuts in any number."""
        while True:
            steps = 1 + np.flatnonzero(np.diff(column) > 0)
            if not len(steps):
                return column
            pairs = column[steps][None, :] + column[self.rest_x[:, steps]]
            pairs[self.xs[:, None] < self.xs[steps][None, :]] = 0
            better = np.maximum(column, pairs.max(axis=1))
            if (better <= column * (1 + NOISE)).all():
                return column
            column = better

    def tree(self, best: Array, values: Sequence[float]) -> Tree:
        """Return cuts that give the whole sheet's value."""
        return self._tree(best, values, len(self.xs) - 1, len(self.ys) - 1)

    def _tree(self, best: Array, values: Sequence[float], i: int, j: int) -> Tree:
        worth = best[i, j]
        least = worth - NOISE * max(1.0, abs(float(best[-1, -1])))
        if worth <= NOISE:
            return None
        i = int(np.argmax(best[: i + 1, j] >= least))
        j = int(np.argmax(best[i, : j + 1] >= least))
        for number, way, x, y in self.ways:
            if x <= self.xs[i] and y <= self.ys[j] and values[number] >= least:
                return Leaf(number, way)
        pairs = best[1:i, j] + best[self.rest_x[i, 1:i], j]
        if len(pairs) and pairs.max() >= least:
            at = 1 + int(pairs.argmax())
            rest = int(self.rest_x[i, at])
            return Split(
                CROSSCUT, int(self.xs[at]),
                self._tree(best, values, at, j), self._tree(best, values, rest, j),
            )  # fmt: skip
        pairs = best[i, 1:j] + best[i, self.rest_y[j, 1:j]]
        at = 1 + int(pairs.argmax())
        rest = int(self.rest_y[j, at])
        return Split(
            RIP, int(self.ys[at]),
            self._tree(best, values, i, at), self._tree(best, values, i, rest),
        )  # fmt: skip


def _rests(points: Array) -> Array:
    """Return, per pair of points, the place of the last one within their difference."""
    places = np.searchsorted(points, points[:, None] - points[None, :], side="right") - 1
    return np.maximum(places, 0)


class Free:
    """Fills one kind of sheet freely, for values that change; sizes rounded if need be.

    `points` is how many places a side may have at most, 0 for the most that are ever used.
    """

    def __init__(self, wants: Sequence[Want], stock: Stock, points: int = 0) -> None:
        step = common_step(wants, stock)
        down = coarser(wants, stock, step, up=False)
        while _points(*down) > (points or MOST_POINTS):
            step *= 2
            down = coarser(wants, stock, step, up=False)
        self.step = step
        self.is_exact = step == common_step(wants, stock)
        self.relaxed = _table(*down)
        self.real = self.relaxed
        if not self.is_exact:
            self.real = _table(*coarser(wants, stock, step, up=True))

    def fill(self, values: Sequence[float]) -> Filled:
        """Return the best way for these values, and what no way exceeds."""
        best = self.relaxed.fill(values)
        bound = float(best[-1, -1])
        if not self.is_exact:
            best = self.real.fill(values)
        tree = self.real.tree(best, values)
        return Filled(enlarged(tree, self.step), float(best[-1, -1]), bound)


def _points(wants: Sequence[Want], stock: Stock) -> int:
    grid = grid_for(wants, stock)
    return max(len(grid.xs), len(grid.ys))


def _table(wants: Sequence[Want], stock: Stock) -> FreeTable:
    return FreeTable(wants, stock, grid_for(wants, stock))
