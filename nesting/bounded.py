"""Cutting a board from what is still wanted and never more, by the programs' advice.

The dynamic programs of `nesting.patterns` know no demand. Here a board is cut piece by
piece: each piece is the one whose value, plus what the programs promise for the rest of
its strip, its section and its board, is the greatest among those still wanted (a rollout
of the programs' values under the demand; Bertsekas, Tsitsiklis and Wu 1997).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from nesting.columns import Rows
from nesting.patterns import NEVER, Floats, Ints, Section, Strip, Tables, Values

SECTIONS = 4  # section lengths tried at each place


@dataclass(slots=True)
class _Filled:
    """A section filled within the demand: its strips, their worth, what is left then."""

    strips: list[Strip]
    worth: float
    length: int
    left: Floats


class Cutter:
    """Cuts the bins of one kernel, for one vector of values.

    Parameters
    ----------
    left
        Per row of the master: what is still wanted.
    """

    def __init__(self, tables: Tables, rows: Rows, values: Values, left: Floats) -> None:
        self.tables = tables
        self.kernel = tables.kernel
        self.problem = self.kernel.problem
        self.left = left
        items = self.problem.items
        shapes = self.kernel.shapes
        self.item = np.array([i for i, _, _ in shapes], dtype=np.int64)
        self.row = np.array([rows.first[i] for i, _, _ in shapes], dtype=np.int64)
        self.is_panel = np.array([items[i].is_panel for i, _, _ in shapes], dtype=bool)
        self.joint = np.array([items[i].joint for i, _, _ in shapes], dtype=np.int64)
        self.low = np.array([items[i].low for i, _, _ in shapes], dtype=np.int64)
        self.net = np.where(self.is_panel, values.net[self.item], 0.0)
        self.stave = np.where(self.is_panel, values.stave[self.item], 0.0)

    def pattern(self, bin_row: int) -> tuple[Section, ...]:
        """Return sections for a bin of the kernel, cut within the demand."""
        kernel = self.kernel
        lane = int(kernel.lane_of[bin_row])
        r = int(kernel.tops[bin_row])
        left = self.left.copy()
        found: list[Section] = []
        while r > 0:
            filled = self._best_section(lane, r, left)
            if filled is None:
                break
            found.append(Section(filled.length, tuple(filled.strips)))
            left = filled.left
            used = filled.length + kernel.kerf
            r = int(kernel.floor(np.array(kernel.sums[r] - used)))
        return tuple(found)

    def _best_section(self, lane: int, r: int, left: Floats) -> _Filled | None:
        """Return the section from sum r downwards that promises most, filled."""
        kernel, tables = self.kernel, self.tables
        n = int(np.searchsorted(tables.sections, r, side="right"))
        place = int(kernel.lane_place[lane, r])
        promise = tables.boards[tables.starts[r, :n], lane] + tables.at_place[place, :n]
        best, best_score = None, 0.0
        for s in np.argsort(-promise, kind="stable")[:SECTIONS]:
            filled = self._fill(int(s), place, left)
            if filled is None:
                continue
            rest = kernel.floor(np.array(kernel.sums[r] - filled.length - kernel.kerf))
            score = filled.worth + float(tables.boards[max(0, int(rest)), lane])
            if best is None or score > best_score:
                best, best_score = filled, score
        return best

    def _fill(self, s: int, place: int, left: Floats) -> _Filled | None:
        """Fill section s strip by strip."""
        kernel, tables = self.kernel, self.tables
        g, width = kernel.places[place]
        m = int(kernel.set_of[g])
        room = min((width + kernel.kerf) // kernel.cell, kernel.capacity)
        left = left.copy()
        strips: list[Strip] = []
        worth, longest = 0.0, 0
        r = int(tables.sections[s])
        is_long = r < kernel.below
        able = kernel.serves[m] & (kernel.lengths <= kernel.sums[r])
        if is_long:
            able = able & ~kernel.is_short
        while True:
            n = int(np.searchsorted(kernel.widths, room, side="right"))
            open_ = np.flatnonzero(able & (left[self.row] > 0))
            if not n or not len(open_):
                break
            value = self._values(open_, n, left)
            ahead = tables.strips[kernel.previous[open_, r], m, :n]
            across = tables.rips[room - kernel.widths[:n], s, g]
            score = value + ahead + across[None, :]
            spot = int(score.argmax())
            a, w = divmod(spot, n)
            if value[a, w] <= 0:
                break
            strip, gain, length = self._strip(int(open_[a]), w, r, m, left, able)
            strips.append(strip)
            worth += gain
            longest = max(longest, length)
            room -= int(kernel.widths[w])
        if not strips:
            return None
        if any(self.problem.items[i].is_short for t in strips for i, _, _ in t.pieces):
            longest = max(longest, self.problem.shortest)
        return _Filled(strips, worth, longest, left)

    def _values(self, some: Ints, n: int, left: Floats) -> Floats:
        """Return what shapes are worth at the first n widths, no more than is wanted.

        Staves wider than their panels still want are worth no more than what they want.
        """
        value = self.tables.worth[some, :n].copy()
        panels = np.flatnonzero(self.is_panel[some])
        if len(panels):
            which = some[panels]
            most = left[self.row[which]] * self.net[which] + self.stave[which]
            some_value = value[panels]
            capped = np.minimum(some_value, most[:, None])
            value[panels] = np.where(some_value > NEVER / 2, capped, NEVER)
        return value

    def _strip(
        self, a: int, w: int, r: int, m: int, left: Floats, able: NDArray[np.bool_]
    ) -> tuple[Strip, float, int]:
        """Cut a strip of width candidate w led by shape a; take it off `left`."""
        kernel, tables = self.kernel, self.tables
        width = int(kernel.actual[w])
        pieces: list[tuple[int, int, bool]] = []
        gain, length = 0.0, -kernel.kerf
        while True:
            i, size, long = kernel.shapes[a]
            item = self.problem.items[i]
            whole = item.is_panel and item.single == width
            pieces.append((i, size, whole))
            length += long
            gain += float(self._values(np.array([a]), w + 1, left)[0, w])
            row = self.row[a]
            if not item.is_panel:
                left[row] -= 1
            else:
                left[row] -= item.need if whole else width - item.joint
            r = int(kernel.previous[a, r])
            open_ = np.flatnonzero(
                able & (left[self.row] > 0) & (kernel.lengths <= kernel.sums[r])
            )
            if not len(open_):
                break
            value = self._values(open_, w + 1, left)[:, w]
            score = value + tables.strips[kernel.previous[open_, r], m, w]
            best = int(score.argmax())
            if value[best] <= 0:
                break
            a = int(open_[best])
        return Strip(width, tuple(pieces)), gain, length
