"""What a marked board is worth at most, for given values of the pieces.

Holds for every plan in three stages (`nesting.patterns`) whose pieces keep clear of the
marks that their faces forbid, wherever its sections, strips and pieces lie: waste may lie
between any of them, and a section may straddle marks. Kept offcuts keep clear of marks that
hidden faces forbid, and are credited as on a clear board.

Proof. Let a section from x, of length l, share wood with a mark (start to end along the
board, low to high across). Of a section that keeps an offcut beside its strips nothing is
said here: it is worth what it is worth on a clear board. Of any other, either

- no strip has wood of the mark in it: then those below it fit in the width `low`, those
  above it in the board's width less `high`; or
- some strip of width w has. Its pieces and offcuts lie before or behind the mark, so they
  fit in strips as long as start - x and x + l - end, unless one lies across the mark, which
  the mark must allow. All other strips fit in the board's width less w.

The greater of both is at most what the section is worth. Several marks each prove such a
limit, and the least holds. Sections that touch no mark lie in the clear stretches of the
board between marks and sections that do; a stretch is worth no more than a clear board as
long. The best order of stretches and of sections on marks is a longest path. A plan that
keeps an offcut as wide as the board, between its sections or behind them, is worth no more
than its sections moved together on a clear board, and what is left of the length.

Places and lengths are tried in blocks of `pitch` grid steps: a block counts as its first
step where that leaves more wood, and as its last where that does. Sections with which a
clear board loses more than `allowed` are left out; the result is proven once the best
pattern found loses no more than that.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from nesting.lanes import Lanes, holds_of, pitch_for
from nesting.patterns import NEVER, Floats, Ints, Section, Tables
from nesting.spots import Limiter

FIRST_LOSS, WIDEN = 0.006, 1.6  # share of a clear board's value that marks may cost


@dataclass(frozen=True, slots=True)
class Stretch:
    """A stretch without marks, and the places from which its clear wood may begin.

    Attributes
    ----------
    end
        Where the next mark begins, or the bin ends.
    at
        Places, ascending: its own begin, then ends of spots, kerfs added.
    value
        Best value of all that lies before each place.
    spot
        Spot that ends there; -1 for none.
    """

    end: int
    at: Ints
    value: Floats
    spot: Ints


class MarkedBin:
    """One straight bin with marks, cut for the values of some tables.

    Attributes
    ----------
    worth
        What no pattern of the bin exceeds.
    """

    def __init__(self, limiter: Limiter, row: int, lost: float) -> None:
        self.limiter, self.row = limiter, row
        self.clear, self.room, self.kerf = limiter.clear, limiter.room, limiter.kerf
        self.tables = limiter.tables
        self.kept, self.kept_to = self._kept()
        self.begins, self.ends = self._clear_stretches()
        whole, self.lost = float(self.clear[-1]), lost
        while True:
            self.spots = limiter.spots(self.lost * whole)
            self.worth = max(self.kept, self._chain())
            least = (whole - self.worth) / max(whole, 1e-9)
            if least <= self.lost:
                break
            self.lost = min(WIDEN * self.lost, 1.000001 * least)
        self.lost = max(least, FIRST_LOSS)

    def _kept(self) -> tuple[float, int]:
        """Return what the bin is worth if full width is kept, and the sum it is cut to."""
        limiter, kernel = self.limiter, self.tables.kernel
        width = limiter.one.width
        sums = kernel.sums[: kernel.tops[self.row] + 1]
        left = limiter.one.length - sums
        rate = kernel.credits[limiter.g]
        worth = self.tables.boards[self.row, : len(sums)] + rate * left * width
        worth[left < kernel.problem.keep_length] = NEVER
        if rate <= 0 or width < kernel.problem.keep_width:
            return NEVER, 0
        return float(worth.max()), int(worth.argmax())

    def _clear_stretches(self) -> tuple[list[int], list[int]]:
        """Return where stretches without marks begin and end."""
        begins, ends = [0], []
        for hold in sorted(self.limiter.holds, key=lambda hold: hold.mark.start):
            if ends and hold.mark.start <= begins[-1]:
                begins[-1] = max(begins[-1], hold.mark.end)
            else:
                ends.append(hold.mark.start)
                begins.append(hold.mark.end)
        return begins, [*ends, self.limiter.one.length]

    def _chain(self) -> float:
        """Return the value of the best way along the bin; keep how it goes.

        From each place of a stretch ways lead to the spots that start before the next
        stretch, and to the next stretch itself.
        """
        spots, pitch, last = self.spots, self.limiter.pitch, len(self.begins) - 1
        leaves = np.searchsorted(self.begins, spots.start, side="right") - 1
        after = spots.start + spots.block * pitch
        enters = np.searchsorted(np.array(self.ends) + self.kerf, after, side="right")
        enters = np.clip(enters, leaves + 1, last)
        reached = np.full(len(spots.start), NEVER)
        self.came_from = np.zeros(len(spots.start), dtype=np.int64)
        self.stretches: list[Stretch] = []
        self.left_from: list[int] = []
        carried = 0.0
        for n, begin in enumerate(self.begins):
            ended = np.flatnonzero(enters == n)
            stretch = self._stretch(n, begin, carried, ended, after, reached)
            out = np.flatnonzero(leaves == n)
            if len(out) and n < last:
                places, which = np.unique(spots.start[out], return_inverse=True)
                values, origins = self._along(stretch, places + pitch - 1)
                reached[out] = values[which] + spots.value[out]
                self.came_from[out] = origins[which]
            values, origins = self._along(stretch, np.array([self.room]))
            carried = float(values[0])
            self.stretches.append(stretch)
            self.left_from.append(int(origins[0]))
        return carried

    def _stretch(
        self, n: int, begin: int, carried: float, ended: Ints, after: Ints, reached: Floats
    ) -> Stretch:
        """Return stretch n, of all spots that end at one place only the best."""
        places = np.maximum(after[ended], begin)
        order = np.lexsort((-reached[ended], places))
        firsts = order[np.flatnonzero(np.diff(places[order], prepend=-1))]
        best = ended[firsts]
        return Stretch(
            self.ends[n],
            np.concatenate([[begin], places[firsts]]),
            np.concatenate([[carried], reached[best]]),
            np.concatenate([[-1], best]),
        )

    def _along(self, stretch: Stretch, places: Ints) -> tuple[Floats, Ints]:
        """Return the best values up to places, all clear, and what they begin from."""
        tops = np.minimum(places, stretch.end + self.kerf)
        there = tops[:, None] - stretch.at[None, :]
        found = self.clear[np.clip(there, 0, self.room)] + stretch.value
        found[stretch.at[None, :] > places[:, None]] = NEVER
        origin = found.argmax(axis=1)
        return found[np.arange(len(places)), origin], origin

    def pattern(self) -> tuple[Section, ...]:
        """Return sections that are worth as much, though they may not be there to cut.

        Only how much they hold counts: no limit refuses it.
        """
        if self.worth <= self.kept:
            return self.tables.sections_to(self.row, self.kept_to)
        pitch, found = self.limiter.pitch, list[Section]()
        n, place = len(self.begins) - 1, self.room
        origin = self.left_from[n]
        while True:
            stretch = self.stretches[n]
            found += self._sections(stretch, origin, place)
            spot = int(stretch.spot[origin])
            if spot >= 0:
                spots = self.spots.among(np.array([spot]))
                found.append(self.limiter.section_at(spots))
                start = int(spots.start[0])
                n = int(np.searchsorted(self.begins, start, side="right")) - 1
                place, origin = start + pitch - 1, int(self.came_from[spot])
            elif n > 0:
                n, place = n - 1, self.room
                origin = self.left_from[n]
            else:
                return tuple(found)

    def _sections(self, stretch: Stretch, origin: int, place: int) -> tuple[Section, ...]:
        """Return the sections of clear wood between an origin and a place."""
        top = min(place, stretch.end + self.kerf)
        there = min(max(top - int(stretch.at[origin]), 0), self.room)
        return self.tables.sections_to(self.row, int(self.tables.kernel.floors[there]))


def marked_bins(tables: Tables, pays: Sequence[float]) -> dict[int, MarkedBin]:
    """Return the marked bins of tables that are worth more than `pays`, by their rows.

    Their values in the tables are lowered. Bins whose edges are not parallel are left as
    they are.
    """
    kernel = tables.kernel
    lanes: dict[int, Lanes] = {}
    found = {}
    for row, one in enumerate(kernel.bins):
        if one.marks and one.width == one.width2 and tables.worths[row] > pays[row]:
            holds = holds_of(kernel, one)
            if holds:
                g = kernel.group_of[row]
                if g not in lanes:
                    lanes[g] = Lanes(tables, g, pitch_for(kernel))
                limiter = Limiter(tables, row, lanes[g], holds)
                lost = kernel.lost.get(row, FIRST_LOSS)
                found[row] = MarkedBin(limiter, row, lost)
                kernel.lost[row] = found[row].lost
                tables.worths[row] = min(tables.worths[row], found[row].worth)
    return found
