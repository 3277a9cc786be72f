"""What a marked board is worth at most, for given values of the pieces.

Holds for every plan in three stages (`nesting.patterns`) whose pieces keep clear of the
marks that their faces forbid, wherever its sections, strips and pieces lie: waste may lie
between any of them, and a section may straddle marks. A piece is as wide as its strip. Kept
offcuts keep clear of marks that hidden faces forbid, and are credited as on a clear board.

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

from dataclasses import dataclass

import numpy as np

from nesting.lanes import Hold, Lanes, holds_of, pitch_for
from nesting.patterns import NEVER, Floats, Ints, Section, Tables
from nesting.spots import Limiter, Spots, Way

NOWHERE = -(10**9)
FIRST_LOSS = 0.006  # share of a clear board's value that marks may cost, and how it grows
MORE, WIDEN = 1.2, 1.6
MOST_SPOTS = 60_000


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
    left, spot
        The spot that ends there, by the stretch before it and its number; -1 for none.
    """

    end: int
    at: Ints
    value: Floats
    left: Ints
    spot: Ints


@dataclass(frozen=True, slots=True)
class Crossing:
    """The spots that lead from one stretch to later ones.

    Attributes
    ----------
    enters
        The stretch that each leads to.
    end
        Where each ends, a kerf added.
    reached
        Best value up to there.
    """

    spots: Spots
    enters: Ints
    end: Ints
    reached: Floats


class MarkedBin:
    """One straight bin with marks, cut for the values of some tables.

    Attributes
    ----------
    best
        What its pattern is worth.
    worth
        What no pattern of the bin exceeds.
    """

    def __init__(self, limiter: Limiter, row: int, lost: float) -> None:
        self.limiter, self.row = limiter, row
        self.clear, self.room, self.kerf = limiter.clear, limiter.room, limiter.kerf
        self.tables, self.pitch = limiter.tables, limiter.pitch
        self.kept, self.kept_to = self._kept()
        self.begins, self.ends, self.firsts = self._stretches()
        grid = np.arange(self.room // self.pitch + 1) * self.pitch
        self.owner = np.searchsorted(self.begins, grid, side="right") - 1
        self._search(lost)

    def _search(self, lost: float) -> None:
        """Set the worth: allow losses until the best pattern's own loss is allowed.

        What loses more than is allowed is worth less than the rest of the whole: that holds
        where the search ends early, too.
        """
        whole, is_exact = float(self.clear[-1]), self.tables.is_exact
        while True:
            allowed = lost * whole
            self.best = max(self.kept, self._chain(allowed, self._behind(allowed)))
            least = (whole - self.best) / max(whole, 1e-9)
            tried = sum(len(crossing.enters) for crossing in self.crossings)
            if least <= lost or not is_exact or tried > MOST_SPOTS:
                break
            lost = min(WIDEN * lost, 1.000001 * least)
        self.worth = max(self.best, whole - allowed) if is_exact else self.best
        self.lost = max(FIRST_LOSS, min(MORE * least, WIDEN * lost))
        if tried > MOST_SPOTS:
            self.lost = lost / WIDEN

    def _kept(self) -> tuple[float, int]:
        """Return what the bin is worth if full width is kept, and the sum it is cut to."""
        limiter, kernel = self.limiter, self.tables.kernel
        width = limiter.one.width
        sums = kernel.sums[: kernel.tops[self.row] + 1]
        left = limiter.one.length - sums
        rate = kernel.credits[limiter.g]
        worth = self.tables.along(self.row)[: len(sums)] + rate * left * width
        worth[left < kernel.problem.keep_length] = NEVER
        if rate <= 0 or width < kernel.problem.keep_width:
            return NEVER, 0
        return float(worth.max()), int(worth.argmax())

    def _stretches(self) -> tuple[list[int], list[int], list[Hold]]:
        """Return where stretches begin and end, and the mark that each leads to.

        Beside a mark lie stretches without clear wood, each no longer than any section, so
        that sections that all touch it lead from one to the next.
        """
        begins, ends, firsts = [0], list[int](), list[Hold]()
        for start, end, hold in self._groups():
            ends.append(start)
            firsts.append(hold)
            for place in range(start + self.kerf, end, self.limiter.shortest):
                begins.append(place)
                ends.append(NOWHERE)
                firsts.append(hold)
            begins.append(end)
        return begins, [*ends, self.limiter.one.length], firsts

    def _groups(self) -> list[tuple[int, int, Hold]]:
        """Return where marks begin and end, those side by side as one, and the first."""
        found: list[tuple[int, int, Hold]] = []
        length = self.limiter.one.length
        for hold in sorted(self.limiter.holds, key=lambda hold: hold.mark.start):
            start, end = max(0, hold.mark.start), min(hold.mark.end, length)
            if found and start <= found[-1][1]:
                begin, other, first = found[-1]
                found[-1] = (begin, max(other, end), first)
            else:
                found.append((start, end, hold))
        return found

    def _way(self, n: int, before: Floats, after: Floats, *, is_exact: bool) -> Way:
        """Return how spots lead from stretch n."""
        pitch, begins = self.pitch, self.begins
        first = -(-begins[n] // pitch)
        last = min((begins[n + 1] - 1) // pitch, self.room // pitch)
        clear = -(-begins[-1] // pitch)
        return Way(self.firsts[n], first, last, clear, before, after, is_exact)

    def _behind(self, allowed: float) -> Floats:
        """Return what all behind each block is worth at most, a spot having ended there.

        Of marks to come, so large a share of the loss is allowed as they are of all marks.
        A way that loses more than this share behind a place, and what a clear bin would
        lose before it at least, is worth no more than the whole less both.
        """
        limiter, last = self.limiter, len(self.begins) - 1
        clear = [sum(end > NOWHERE for end in self.ends[n + 1 :]) for n in range(last)]
        found: Floats = limiter.after.copy()
        behind = float(self.clear[max(0, self.room - self.begins[last])])
        found[self.owner == last] = np.minimum(found[self.owner == last], behind)
        second = next(n for n in range(1, last + 1) if self.ends[n] > NOWHERE)
        for n in range(last - 1, second - 1, -1):  # before it no other mark was passed
            share = allowed * clear[n] / clear[0]
            way = self._way(n, limiter.before, found, is_exact=False)
            spots = limiter.spots(way, share)
            own = np.flatnonzero(self.owner == n)
            places = np.maximum(np.append(own * self.pitch, self.begins[n]), self.begins[n])
            values = self._onward(n, places, spots, found, behind)
            least = self.clear[-1] - self.clear[np.minimum(places, self.room)] - share
            rest = self.clear[np.maximum(self.room - places, 0)]
            values = np.minimum(np.maximum(values, least), rest)
            found[own], behind = values[:-1], float(values[-1])
        return found

    def _onward(
        self, n: int, places: Ints, spots: Spots, after: Floats, behind: float
    ) -> Floats:
        """Return the best value from places of stretch n on, by spots or past the mark."""
        top = self.ends[n] + self.kerf
        values: Floats = self.clear[np.clip(top - places, 0, self.room)] + behind
        if not len(spots.start):
            return values
        onward = spots.value + after[spots.start // self.pitch + spots.block]
        starts, which = np.unique(spots.start, return_inverse=True)
        best = np.full(len(starts), NEVER)
        np.maximum.at(best, which, onward)
        ends = starts + self.pitch - 1
        there = np.minimum(ends, top)[None, :] - places[:, None]
        through = self.clear[np.clip(there, 0, self.room)] + best
        through[places[:, None] > ends[None, :]] = NEVER
        np.maximum(values, through.max(axis=1), out=values)
        return values

    def _chain(self, allowed: float, after: Floats) -> float:
        """Return the value of the best way along the bin; keep how it goes.

        From each place of a stretch ways lead to the spots that start before the next
        stretch, and to the next stretch itself.
        """
        self.stretches: list[Stretch] = []
        self.crossings: list[Crossing] = []
        carried, last = 0.0, len(self.begins) - 1
        for n in range(last + 1):
            stretch = self._stretch(n, carried)
            self.stretches.append(stretch)
            if n < last:
                self.crossings.append(self._crossing(n, stretch, allowed, after))
            carried = float(self._along(stretch, np.array([self.room]))[0][0])
        return carried

    def _crossing(
        self, n: int, stretch: Stretch, allowed: float, after: Floats
    ) -> Crossing:
        """Return the spots that lead on from stretch n."""
        before = np.full(len(after), NEVER)
        way = self._way(n, before, after, is_exact=True)
        starts = np.arange(way.first, way.last + 1)
        before[starts] = self._along(stretch, (starts + 1) * self.pitch - 1)[0]
        spots = self.limiter.spots(way, allowed)
        start = spots.start // self.pitch
        enters = np.maximum(self.owner[start + spots.block], n + 1)
        end = spots.start + spots.block * self.pitch
        return Crossing(spots, enters, end, before[start] + spots.value)

    def _stretch(self, n: int, carried: float) -> Stretch:
        """Return stretch n, of all spots that end at one place only the best."""
        at, value = np.array([self.begins[n]]), np.array([carried])
        left, spot = np.array([-1]), np.array([-1])
        for m, crossing in enumerate(self.crossings):
            ended = np.flatnonzero(crossing.enters == n)
            at = np.append(at, np.maximum(crossing.end[ended], self.begins[n]))
            value = np.append(value, crossing.reached[ended])
            left = np.append(left, np.full(len(ended), m))
            spot = np.append(spot, ended)
        order = np.lexsort((-value, at))
        best = order[np.flatnonzero(np.diff(at[order], prepend=-1))]
        return Stretch(self.ends[n], at[best], value[best], left[best], spot[best])

    def _along(self, stretch: Stretch, places: Ints) -> tuple[Floats, Ints]:
        """Return the best values up to places, all clear, and what they begin from."""
        tops = np.minimum(places, stretch.end + self.kerf)
        there = tops[:, None] - stretch.at[None, :]
        found = self.clear[np.clip(there, 0, self.room)] + stretch.value
        found[stretch.at[None, :] > places[:, None]] = NEVER
        origin = found.argmax(axis=1)
        return found[np.arange(len(places)), origin], origin

    def pattern(self) -> tuple[Section, ...]:
        """Return sections that are worth `best`, though they may not be there to cut.

        Only how much they hold counts: no limit refuses it.
        """
        if self.best <= self.kept:
            return self.tables.sections_to(self.row, self.kept_to)
        found: list[Section] = []
        n, place = len(self.begins) - 1, self.room
        while True:
            stretch = self.stretches[n]
            origin = int(self._along(stretch, np.array([place]))[1][0])
            found += self._sections(stretch, origin, place)
            left, spot = int(stretch.left[origin]), int(stretch.spot[origin])
            if spot >= 0:
                spots = self.crossings[left].spots.among(np.array([spot]))
                found.append(self.limiter.section_at(spots))
                n, place = left, int(spots.start[0]) + self.pitch - 1
            elif n > 0:
                n, place = n - 1, self.room
            else:
                return tuple(found)

    def _sections(self, stretch: Stretch, origin: int, place: int) -> tuple[Section, ...]:
        """Return the sections of clear wood between an origin and a place."""
        top = min(place, stretch.end + self.kerf)
        there = min(max(top - int(stretch.at[origin]), 0), self.room)
        return self.tables.sections_to(self.row, int(self.tables.kernel.floors[there]))


def marked_bins(tables: Tables, pays: Floats) -> dict[int, MarkedBin]:
    """Return, by their rows, the bins that are worth less than clear ones would be.

    Their values in the tables are lowered. Left as they are: bins that are not worth more
    than `pays`, and bins whose edges are not parallel.
    """
    kernel = tables.kernel
    lanes: dict[int, Lanes] = {}
    found: dict[int, MarkedBin] = {}
    for row, one in enumerate(kernel.bins):
        is_straight = one.width == one.width2 and len(kernel.widths) > 0
        if not one.marks or not is_straight or tables.worths[row] <= pays[row]:
            continue
        holds, g = holds_of(kernel, one), kernel.group_of[row]
        if not holds:
            continue
        if g not in lanes:
            lanes[g] = Lanes(tables, g, pitch_for(kernel))
        limiter = Limiter(tables, row, lanes[g], holds)
        known = (row, tables.is_exact)
        best = MarkedBin(limiter, row, kernel.lost.get(known, FIRST_LOSS))
        kernel.lost[known] = best.lost
        if best.worth < tables.worths[row]:
            found[row] = best
            tables.worths[row] = best.worth
    return found
