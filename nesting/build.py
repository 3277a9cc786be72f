"""Building plans board after board, each cut for the most worth per cost.

Values are those of the linear master, shaken a little from one plan to the next. A board
is cut section by section from its butt end; where marks ask for it a section is split
across, or the saw moves on past the mark. Every stave is given to a panel as it is cut,
so a plan is always made of whole panels.
"""

from __future__ import annotations

import random
from collections.abc import Iterable, Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np

from nesting.cuttings import (
    SCALE,
    Choice,
    Cut,
    Cutting,
    Left,
    choice_of,
    cutting_of,
    end_credit,
    everything,
    scope_of,
    strip_credit,
)
from nesting.fill import Fill, Filler
from nesting.patterns import Band, Strip, Values
from nesting.problem import Bin, Item, Problem
from nesting.sums import sums_of

Found = tuple[float, Cut]


def shaken(values: Values, rng: random.Random, noise: float) -> Values:
    """Return values multiplied by random factors around one, per item."""
    factors = np.array([1 + noise * (2 * rng.random() - 1) for _ in values.piece])
    return Values(values.piece * factors, values.net * factors, values.stave * factors)


class Builder:
    """Cuts bins for one vector of values.

    Parameters
    ----------
    lure
        Per bin, how much a board promises for its cost; boards that promise more are
        tried first.
    """

    def __init__(
        self,
        problem: Problem,
        values: Values,
        rng: random.Random,
        lure: Sequence[float],
    ) -> None:
        self.problem = problem
        self.rng = rng
        self.filler = Filler(problem, values, rng)
        self.lure = lure

    def build(
        self, bins: Iterable[Bin], left: Left, visited: set[str], most: int = 10**9
    ) -> list[Cutting]:
        """Cut up to `most` bins until nothing is wanted; `left` is used up."""
        waiting = list(bins)
        done: list[Cutting] = []
        while waiting and len(done) < most and not left.is_done:
            tried = self._candidates(waiting, left)
            best: tuple[float, Bin, Cutting, Left] | None = None
            for one in tried:
                after = left.copy()
                found = self.cut(one, after, waiting)
                if found is None:
                    continue
                cutting, worth = found
                is_new = one.yard is not None and one.yard not in visited
                trip = self.problem.trips[one.yard] if is_new and one.yard else 0
                score = worth / max(1.0, cutting.cost / SCALE + 0.3 * trip)
                score *= 0.95 + 0.1 * self.rng.random()
                if best is None or score > best[0]:
                    best = (score, one, cutting, after)
            if best is None:
                waiting = [one for one in waiting if one not in tried] if tried else []
                continue
            _, one, cutting, after = best
            done.append(cutting)
            waiting.remove(one)
            left.pieces, left.panels = after.pieces, after.panels
            if one.yard is not None:
                visited.add(one.yard)
        return done

    def _candidates(self, waiting: list[Bin], left: Left) -> list[Bin]:
        """Return a few bins worth trying next that serve what is wanted.

        Logs that a matched panel is bound to go first.
        """
        wanted = left.open_items()
        bound = {u[1] for units in left.panels.values() for u in units if u[0] > 0 and u[1]}
        useful = [one for one in waiting if not wanted.isdisjoint(one.wanted)]
        if bound:
            useful = [one for one in useful if one.log in bound] or useful
        if len(useful) <= 4:
            return useful
        chance = self.rng.random
        return sorted(
            useful, key=lambda one: -self.lure[one.index] * (0.75 + 0.5 * chance())
        )[:4]

    def cut(self, one: Bin, left: Left, waiting: list[Bin]) -> tuple[Cutting, float] | None:
        """Cut one bin from what is wanted, and take that off `left`; None if nothing is.

        Matched panels that neither this board nor its log's other boards in `waiting` can
        finish are not begun; those that stay unfinished on their one board are undone.
        """
        allowed = self._matchable(one, left, waiting)
        for _ in range(3):
            after = left.copy()
            cuts: list[Cut] = []
            worth = self.extend(one, cuts, after, allowed)
            undone = self._unfinished(one, after)
            if not undone:
                break
            allowed = allowed - undone
        else:
            return None
        if not cuts:
            return None
        left.pieces, left.panels = after.pieces, after.panels
        return cutting_of(self.problem, one.index, cuts), worth

    def _matchable(self, one: Bin, left: Left, waiting: list[Bin]) -> frozenset[int]:
        """Return the items this bin may be cut for."""
        barred = set()
        begun = self._begun(one, left)
        for i in left.panels:
            item = self.problem.items[i]
            if item.match == "none" or i not in one.wanted or i in begun:
                continue
            mates = (
                [one] if item.match == "board" else [b for b in waiting if b.log == one.log]
            )
            if (
                sum(net_room(self.problem, item, b) for b in mates)
                < item.need * item.layers
            ):
                barred.add(i)
        return one.wanted - barred

    def _unfinished(self, one: Bin, left: Left) -> set[int]:
        """Return items of which a unit bound to this very board is not finished."""
        return {i for i in self._begun(one, left) if self.problem.items[i].match == "board"}

    def extend(
        self, one: Bin, cuts: list[Cut], left: Left, allowed: frozenset[int] | None = None
    ) -> float:
        """Cut more sections until nothing fits or is wanted; return their worth.

        A matched panel that is begun is finished before anything else is cut. Half of the
        boards that can give a whole one begin with it.
        """
        allowed = one.wanted if allowed is None else allowed
        lead = self._lead(one, left, allowed)
        x = max((cut.x + cut.length + self.problem.kerf for cut in cuts), default=0)
        total = 0.0
        while x < one.length and not left.is_done:
            first = self._begun(one, left) & allowed or lead
            lead = frozenset()
            found = self._best_section(one, x, left, allowed, first) if first else None
            if found is None:
                found = self._best_section(one, x, left, allowed)
            if found is None:
                break
            worth, cut = found
            left.use(self.problem, one, cut)
            cuts.append(cut)
            total += worth
            x = cut.x + cut.length + self.problem.kerf
        return total

    def _waste(self, one: Bin, length: int) -> float:
        """Return what a clear end counts as waste: less if it is long enough to keep."""
        credit = end_credit(self.problem, one, one.length - length)
        return max(0.0, length - credit * one.length / max(1, one.cost))

    def _begun(self, one: Bin, left: Left) -> frozenset[int]:
        """Return matched items of which a begun unit waits for wood from this bin."""
        found = set()
        for i, units in left.panels.items():
            scope = scope_of(self.problem.items[i], one)
            if scope and any(net > 0 and held == scope for net, held, _ in units):
                found.add(i)
        return frozenset(found)

    def _lead(self, one: Bin, left: Left, allowed: frozenset[int]) -> frozenset[int]:
        """Return the matched item that a bin begins with, if any."""
        able = [
            i
            for i, units in left.panels.items()
            if (item := self.problem.items[i]).match != "none"
            and i in allowed
            and any(net > 0 and not scope for net, scope, _ in units)
            and net_room(self.problem, item, one) >= item.need * item.layers
        ]
        if not able or self.rng.random() < 0.5:
            return frozenset()
        return frozenset({self.rng.choice(able)})

    def _best_section(
        self,
        one: Bin,
        x: int,
        left: Left,
        allowed: frozenset[int],
        first: frozenset[int] = frozenset(),
    ) -> Found | None:
        """Return the section from x on, or past a mark, that is worth most per length.

        With `first` only sections that give one of those items, cut before all others.
        """
        best, best_score = None, 0.0
        kerf = self.problem.kerf
        sums = sums_of(
            frozenset(
                2 * (size + kerf,)
                for i in left.open_items() & allowed
                for size, _ in self.problem.items[i].sizes
            ),
            one.length + kerf,
        )
        for start in self._starts(one, x):
            for length in self._lengths(one.length - start, left, first or allowed):
                found = self._section(one, start, length, left, allowed, first)
                if found is None:
                    continue
                if first and not any(give.item in first for give in found[1].gives):
                    continue
                taken = start + found[1].length + kerf - x
                rest = one.length + kerf - x - taken
                waste = self._waste(one, sums.waste(rest))
                score = found[0] / (taken + waste) * (0.95 + 0.1 * self.rng.random())
                if best is None or score > best_score:
                    best, best_score = found, score
        return best

    def _starts(self, one: Bin, x: int) -> list[int]:
        """Return where a section may start: here, or where a mark or zone changes."""
        if not one.marks and not one.limited:
            return [x]
        places = {mark.end for mark in one.marks}
        places.update(zone.start for some in one.limited.values() for zone in some)
        return [x, *sorted(place for place in places if x < place < one.length)[:2]]

    def _lengths(self, room: int, left: Left, allowed: frozenset[int]) -> list[int]:
        """Return section lengths worth trying: wanted pieces, and gangs of them."""
        found: set[int] = set()
        gang = self.problem.shortest
        for i in left.open_items():
            item = self.problem.items[i]
            if i not in allowed:
                continue
            for size, _ in item.sizes:
                length = max(gang, size) if item.is_short else size
                if length <= room:
                    found.add(length)
        lengths = sorted(found)
        if len(lengths) > 8:
            lengths = sorted([*self.rng.sample(lengths, 7), lengths[-1]])
        if lengths:  # rows of several pieces, as long as two or as all that is left
            pair = self.rng.choice(lengths) + self.rng.choice(lengths) + self.problem.kerf
            longer = pair if self.rng.random() < 0.5 else room
            if lengths[-1] < longer <= room:
                lengths.append(longer)
        return lengths

    def _section(
        self,
        one: Bin,
        x: int,
        length: int,
        left: Left,
        allowed: frozenset[int],
        first: frozenset[int],
    ) -> Found | None:
        """Fill one section, split into bands where marks ask for it."""
        width = min(one.width_at(x), one.width_at(x + length))
        best: Found | None = None
        for spans in self._splits(one, x, length, width):
            rest = left if len(spans) == 1 else left.copy()
            fills: list[tuple[Band, Fill]] = []
            for low, high in spans:
                here = allowed
                if not one.is_plain:
                    here &= one.allowed(self.problem.items, x, low, length, high - low)
                if not here:
                    continue
                fill = self.filler.fill(length, high - low, rest, one, here, first)
                if fill is None:
                    continue
                band = Band(x, low, length, high - low, fill.section.strips)
                fills.append((band, fill))
                if len(spans) > 1:
                    rest.use(self.problem, one, self._cut(one, [(band, fill)]))
            worth = sum(fill.worth for _, fill in fills)
            own = min(length, max((self._longest(b.strips) for b, _ in fills), default=0))
            fills = [(replace(band, length=own), fill) for band, fill in fills]
            if fills and (best is None or worth > best[0]):
                best = (worth, self._cut(one, fills))
        return best

    def _longest(self, strips: Iterable[Strip]) -> int:
        """Return how long a section must be for its rows of pieces."""
        items, kerf = self.problem.items, self.problem.kerf
        rows = [
            sum(items[i].sizes[s][0] + kerf for i, s, _ in strip.pieces) - kerf
            for strip in strips
        ]
        is_gang = any(items[i].is_short for strip in strips for i, _, _ in strip.pieces)
        return max([*rows, self.problem.shortest if is_gang else 0])

    def _cut(self, one: Bin, fills: list[tuple[Band, Fill]]) -> Cut:
        """Return filled bands as a section."""
        band = fills[0][0]
        return Cut(
            band.x,
            band.length,
            tuple(band for band, _ in fills),
            tuple(i for _, fill in fills for i in fill.pieces),
            tuple(give for _, fill in fills for give in fill.gives),
            sum(strip_credit(self.problem, one, band, fill.width) for band, fill in fills),
        )

    def _splits(
        self, one: Bin, x: int, length: int, width: int
    ) -> list[list[tuple[int, int]]]:
        """Return ways to split a section across: not at all, or at the marks' edges."""
        if width <= 0:
            return []
        whole = [[(0, width)]]
        if one.is_plain:
            return whole
        edges = {0, width}
        zones = [zone for some in one.limited.values() for zone in some]
        for mark in (*one.marks, *zones):
            if mark.touches(x, 0, length, width):
                edges.update(e for e in (mark.low, mark.high) if 0 < e < width)
        if len(edges) == 2:
            return whole
        places = sorted(edges)
        spans: list[tuple[int, int]] = []
        for low, high in pairwise(places):
            close = spans and low < spans[-1][1] + self.problem.kerf
            start = spans[-1][1] + self.problem.kerf if close else low
            if high > start:
                spans.append((start, high))
        return [*whole, spans]


def net_room(problem: Problem, item: Item, one: Bin) -> int:
    """Return about how much net stave width of an item a bin could give."""
    if item.index not in one.wanted:
        return 0
    sections = (one.length + problem.kerf) // (item.length + problem.kerf)
    width = max(one.width, one.width2)
    if item.single and item.single <= width:
        return sections * item.need
    count = (width + problem.kerf) // (item.low + problem.kerf)
    if not count:
        return 0
    used = min(width - (count - 1) * problem.kerf, count * item.high)
    return int(sections * (used - count * item.joint))


def cheapness(problem: Problem) -> list[float]:
    """Return, per bin, usable area per cost: a first lure before values are known."""
    return [one.length * one.narrow / max(1.0, one.cost * SCALE) for one in problem.bins]


def raised(values: Values, choice: Choice) -> Values:
    """Return values with those of what a plan left short raised by half."""
    factors = np.ones(len(values.piece))
    for i, count in choice.short.items():
        if count:
            factors[i] = 1.5
    return Values(values.piece * factors, values.net * factors, values.stave * factors)


def build_once(
    problem: Problem,
    values: Values,
    rng: random.Random,
    lure: Sequence[float],
) -> Choice:
    """Return one plan built from shaken values."""
    left = everything(problem)
    builder = Builder(problem, shaken(values, rng, 0.15), rng, lure)
    return choice_of(problem, builder.build(problem.bins, left, set()), left)
