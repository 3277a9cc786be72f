"""Filling one section strip by strip with what is still wanted, and never with more."""

from __future__ import annotations

import random
from collections.abc import Iterable
from dataclasses import dataclass

from nesting.cuttings import Give, Left, scope_of, unit_for
from nesting.patterns import Section, Strip, Values
from nesting.problem import Bin, Item, Problem
from nesting.sums import Sums, sums_of


@dataclass(frozen=True, slots=True)
class Fill:
    """A filled section (or band of one).

    Attributes
    ----------
    pieces
        Solid items cut, one entry per piece.
    width
        Width that its strips take, kerfs between them.
    worth
        Value of what it makes.
    """

    section: Section
    pieces: tuple[int, ...]
    gives: tuple[Give, ...]
    width: int
    worth: float


class Filler:
    """Fills sections for one vector of values; `rng` breaks near ties."""

    def __init__(self, problem: Problem, values: Values, rng: random.Random) -> None:
        self.problem = problem
        self.items = problem.items
        self.kerf = problem.kerf
        self.rng = rng
        shapes = [(one, s) for one in self.items for s in range(len(one.sizes))]
        self.lengths = {
            (one.index, s): 2 * (one.sizes[s][0] + self.kerf,) for one, s in shapes
        }
        self.spans = {(one.index, s): self._span(one, s) for one, s in shapes}
        self.piece = [float(v) for v in values.piece]
        self.net = [float(v) for v in values.net]
        self.stave = [float(v) for v in values.stave]

    def fill(
        self,
        length: int,
        width: int,
        left: Left,
        one: Bin,
        allowed: Iterable[int],
        first: frozenset[int] = frozenset(),
    ) -> Fill | None:
        """Return a filled section of this length and width, or None if nothing fits.

        Items of `first` are cut before all others. `left` is not changed.
        """
        gang = length < self.problem.shortest
        options = [
            (i, s)
            for i in allowed
            if not (gang and self.items[i].is_short)
            for s, size in enumerate(self.items[i].sizes)
            if size[0] <= length and self._open(i, left, one)
        ]
        if not options:
            return None
        left = left.copy()
        along = sums_of(
            frozenset([self.lengths[option] for option in options]), length + self.kerf
        )
        across = sums_of(
            frozenset([self.spans[option] for option in options]),
            width + self.kerf,
            self.problem.step,
        )
        strips: list[Strip] = []
        pieces: list[int] = []
        gives: list[tuple[int, int, int, str]] = []
        room = width
        worth = 0.0
        while options:
            best_score, best = 0.0, None
            for option in options:
                if first and option[0] not in first:
                    continue
                found = self._strip(option, length, room, left, one, options, along)
                if found is not None:
                    strip_width, cut, value = found
                    taken = strip_width + self.kerf
                    taken += across.waste(room + self.kerf - taken)
                    score = value / taken * (0.9 + 0.2 * self.rng.random())
                    if best is None or score > best_score:
                        best_score, best = score, found
            if best is None and first:
                first = frozenset()
                continue
            if best is None:
                break
            strip_width, cut, value = best
            self._count(cut, strip_width, left, one, pieces, gives, len(strips))
            strips.append(Strip(strip_width, tuple(cut)))
            room -= strip_width + self.kerf
            worth += value
            options = [o for o in options if self._open(o[0], left, one)]
        if not strips:
            return None
        return self._finish(
            Section(length, tuple(strips)),
            pieces,
            gives,
            room + self.kerf,
            left,
            width,
            worth,
        )

    def _span(self, item: Item, size: int) -> tuple[int, int]:
        """Return the least and greatest width of a strip of it, a kerf added."""
        width = item.sizes[size][1]
        low, high = (item.low, item.high) if item.is_panel else (width, width)
        return low + self.kerf, high + self.kerf

    def _open(self, i: int, left: Left, one: Bin) -> bool:
        """Whether the bin may give more of item i."""
        item = self.items[i]
        if not item.is_panel:
            return left.pieces[i] > 0
        return unit_for(item, left.panels[i], scope_of(item, one)) >= 0

    def _strip(
        self,
        option: tuple[int, int],
        length: int,
        room: int,
        left: Left,
        one: Bin,
        options: list[tuple[int, int]],
        along: Sums,
    ) -> tuple[int, list[tuple[int, int, bool]], float] | None:
        """Return width, pieces and value of a strip led by an option, if it fits."""
        i, size = option
        item = self.items[i]
        if item.is_panel:
            units = left.panels[i]
            net = units[unit_for(item, units, scope_of(item, one))][0]
            width = self._stave_width(item, room, net)
            if width == 0:
                return None
            whole = width == item.single and width > item.high
            value = self.net[i] * min(net, width - item.joint) + self.stave[i]
        else:
            width = item.sizes[size][1]
            if width > room:
                return None
            whole = False
            value = self.piece[i]
        cut = [(i, size, whole)]
        rest = length - item.sizes[size][0] - self.kerf
        used = {i: 1}
        while rest > 0:
            following = self._next(width, rest, used, left, one, options, along)
            if following is None:
                break
            j, s, more = following
            cut.append((j, s, False))
            value += more
            used[j] = used.get(j, 0) + 1
            rest -= self.items[j].sizes[s][0] + self.kerf
        return width, cut, value

    def _stave_width(self, item: Item, room: int, net: int) -> int:
        """Return the width for the next stave, 0 if none fits.

        As wide as the room allows, but neither so that the panel's rest is too narrow for
        a stave, nor so that the room beside it is.
        """
        step = self.problem.step
        if item.single and net == item.need and item.single <= room:
            return item.single
        top = min(item.high, room // step * step)
        if top < item.low:
            return 0
        want = -(-(net + item.joint) // step) * step
        if want <= top:
            return max(want, item.low)
        beside = room - top - self.kerf
        if 0 < beside < item.low and room >= 2 * item.low + self.kerf:
            top = max(item.low, (room - self.kerf) // 2 // step * step)
        rest = want - top + item.joint
        if rest < item.low:
            top = max(item.low, want + item.joint - item.low)
        return min(top, item.high)

    def _next(
        self,
        width: int,
        rest: int,
        used: dict[int, int],
        left: Left,
        one: Bin,
        options: list[tuple[int, int]],
        along: Sums,
    ) -> tuple[int, int, float] | None:
        """Return what best follows in the rest of a strip and its value, or None.

        `along` says which rests of its length something could still use.
        """
        best: tuple[int, int, float] | None = None
        best_score = 0.0
        for j, s in options:
            item = self.items[j]
            length = item.sizes[s][0]
            if length > rest:
                continue
            taken = used.get(j, 0)
            if item.is_panel:
                if not item.low <= width <= item.high:
                    continue
                scope = scope_of(item, one)
                open_net = sum(
                    u[0] for u in left.panels[j] if u[0] > 0 and u[1] in ("", scope)
                )
                useful = min(width - item.joint, open_net - taken * (width - item.joint))
                if useful <= 0:
                    continue
                value = self.net[j] * useful + self.stave[j]
            else:
                if item.sizes[s][1] > width or left.pieces[j] <= taken:
                    continue
                value = self.piece[j]
            taken = length + self.kerf
            taken += along.waste(rest + self.kerf - taken)
            score = value / taken
            if best is None or score > best_score:
                best_score, best = score, (j, s, value)
        return best

    def _count(
        self,
        cut: list[tuple[int, int, bool]],
        width: int,
        left: Left,
        one: Bin,
        pieces: list[int],
        gives: list[tuple[int, int, int, str]],
        strip: int,
    ) -> None:
        """Take what a strip makes off `left`; remember which unit each stave goes to."""
        for i, _, whole in cut:
            item = self.items[i]
            if not item.is_panel:
                left.pieces[i] -= 1
                pieces.append(i)
                continue
            scope = scope_of(item, one)
            unit = unit_for(item, left.panels[i], scope)
            if unit < 0:
                gives.append((i, -1, strip, ""))
                continue
            left.give(item, unit, item.need if whole else width - item.joint, scope)
            gives.append((i, unit, strip, "" if not whole else "whole"))

    def _finish(
        self,
        section: Section,
        pieces: list[int],
        gives: list[tuple[int, int, int, str]],
        spare: int,
        left: Left,
        width: int,
        worth: float,
    ) -> Fill:
        """Share the width that is left over among staves whose panels want it."""
        step = self.problem.step
        strips = list(section.strips)
        for i, unit, number, whole in gives:
            wanted = left.panels[i][unit][0] if unit >= 0 else 0
            if whole or wanted <= 0 or spare < step:
                continue
            strip = strips[number]
            high = min(
                (self.items[j].high for j, _, _ in strip.pieces if self.items[j].is_panel)
            )
            more = min(high - strip.width, -(-wanted // step) * step, spare // step * step)
            if more <= 0:
                continue
            strips[number] = Strip(strip.width + more, strip.pieces)
            spare -= more
            for j, other, place, _ in gives:
                if place == number and other >= 0:
                    before = left.panels[j][other]
                    worth += self.net[j] * max(0, min(more, before[0]))
                    left.give(self.items[j], other, more, before[1])
        final = tuple(
            Give(
                i,
                unit,
                self.items[i].need if whole else strips[number].width - self.items[i].joint,
            )
            for i, unit, number, whole in gives
        )
        return Fill(
            Section(section.length, tuple(strips)),
            tuple(pieces),
            final,
            width - spare,
            worth,
        )
