"""All ways to fill a section that lose little: the pieces they hold, strip by strip.

Prices come from a linear master: what pieces are worth, and what a window asks for a step
of its length. A section's loss is the price of its length less what its pieces are worth.
A plan that covers the demand loses no more in all its sections than the master's prices
have to spare, so sections that lose much are in no good plan. The unlimited programs
bound what can still be added, so that few sections are looked at in vain.
"""

from __future__ import annotations

from bisect import bisect_right
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from nesting.patterns import Floats, Strip, Tables, Values
from nesting.problem import Problem
from nesting.windows import Span, Window

Piece = tuple[int, int, bool]
MOST_IN_STRIP = 6
NO_LIMIT = 10**9
TRIES = 4
MOST_LOOKS = 20_000
SLOPES = 5  # how finely a bound tells apart what more width is worth


@dataclass(frozen=True, slots=True)
class Lane:
    """A strip before its width is fixed.

    Attributes
    ----------
    length
        Length of the section that it needs, a kerf added.
    low, high
        Least and greatest width; equal unless it holds staves.
    worth
        Value of its pieces at the least width; `slope` is what each step more adds.
    """

    pieces: tuple[Piece, ...]
    length: int
    low: int
    high: int
    worth: float
    slope: float
    held: tuple[tuple[int, int], ...]


@dataclass(frozen=True, slots=True)
class Content:
    """What a section holds: its length, the strips of each span, and its loss."""

    length: int
    spans: tuple[tuple[Strip, ...], ...]
    loss: float


def lanes_for(
    problem: Problem,
    span: Span,
    length: int,
    values: Values,
    units: Sequence[int],
    most: int = MOST_IN_STRIP,
) -> list[Lane]:
    """Return every strip that a span may be ripped into, none with more than is wanted.

    `most` is the greatest number of pieces in a strip.
    """
    shapes = [
        (i, s, whole)
        for i in sorted(span.allowed)
        if units[i] > 0
        for s, size in enumerate(problem.items[i].sizes)
        if size[0] <= length
        for whole in ((False, True) if problem.items[i].single else (False,))
    ]
    found = (
        _lane(problem, pieces, values)
        for pieces in _rows(problem, shapes, length + problem.kerf, units, most)
    )
    return sorted(
        (lane for lane in found if lane is not None and lane.low <= span.height),
        key=lambda lane: (-lane.low, lane.pieces),
    )


def _rows(
    problem: Problem, shapes: list[Piece], room: int, units: Sequence[int], longest: int
) -> Iterator[tuple[Piece, ...]]:
    """Yield every row of pieces that fits in `room` (a kerf added), each set once."""

    def longer(
        first: int, room: int, pieces: tuple[Piece, ...]
    ) -> Iterator[tuple[Piece, ...]]:
        if pieces:
            yield pieces
        if len(pieces) == longest:
            return
        for number in range(first, len(shapes)):
            i, size, whole = shapes[number]
            item = problem.items[i]
            rest = room - item.sizes[size][0] - problem.kerf
            most = units[i] if whole or not item.is_panel else 3 * units[i] * item.staves
            used = sum(1 for piece in pieces if piece[0] == i)
            if rest >= 0 and used < most:
                yield from longer(number, rest, (*pieces, shapes[number]))

    yield from longer(0, room, ())


def _lane(problem: Problem, pieces: tuple[Piece, ...], values: Values) -> Lane | None:
    """Return a row of pieces as a lane; None if no width suits them all."""
    low, high, fixed = 0, NO_LIMIT, False
    length, worth, slope = 0, 0.0, 0.0
    for i, size, whole in pieces:
        item = problem.items[i]
        length += item.sizes[size][0] + problem.kerf
        if item.is_short:
            length = max(length, problem.shortest + problem.kerf)
        if whole:
            low, high, fixed = max(low, item.single), min(high, item.single), True
        elif item.is_panel:
            low, high = max(low, item.low), min(high, item.high)
        else:
            low = max(low, item.sizes[size][1])
    if low > high:
        return None
    high = low if fixed or high == NO_LIMIT else high
    for i, _, whole in pieces:
        item = problem.items[i]
        if whole:
            worth += float(values.net[i]) * item.need
            worth += float(values.stave[i]) * item.staves
        elif item.is_panel:
            worth += float(values.net[i]) * (low - item.joint) + float(values.stave[i])
            slope += float(values.net[i])
        else:
            worth += float(values.piece[i])
    held = tuple(sorted(Counter(i for i, _, _ in pieces).items()))
    return Lane(pieces, length, low, high, worth, slope if high > low else 0.0, held)


class Listing:
    """A search for all contents of a window's sections that lose at most `loss`.

    Parameters
    ----------
    rows
        For each span of the window, its row in the kernel of `tables`.
    rate
        What the window asks for a step of its length.
    """

    def __init__(
        self,
        problem: Problem,
        window: Window,
        tables: Tables,
        rows: Sequence[int],
        values: Values,
        rate: float,
        units: Sequence[int],
    ) -> None:
        self.problem, self.window, self.rate, self.units = problem, window, rate, units
        kernel = tables.kernel
        self.cell = kernel.cell
        self.most_of = [
            3 * count * item.staves if item.is_panel else count
            for count, item in zip(units, problem.items, strict=True)
        ]
        fits = int(bisect_right(kernel.sums[tables.sections], window.length + problem.kerf))
        sections = tables.sections[:fits]
        self.sums = [int(v) for v in kernel.sums[sections]]
        prices = rate * kernel.sums[sections]
        self.room = [span.height + problem.kerf for span in window.spans]
        rips = [tables.rips[:, :fits, kernel.group_of[row]] for row in rows]
        tops = [self._cells(room, rip) for room, rip in zip(self.room, rips, strict=True)]
        self.slopes: list[dict[float, tuple[list[list[float]], list[list[float]]]]] = []
        self.gains: list[Floats] = []
        for number in range(len(rips)):
            later = sum(
                (rips[k][tops[k]] for k in range(number + 1, len(rips))), np.zeros(fits)
            )
            self.gains.append(rips[number] + later - prices)
            self.slopes.append({})
        self.prices = [float(v) for v in prices]
        self.lanes = [
            lanes_for(problem, span, window.length, values, units) for span in window.spans
        ]
        slopes = sorted({lane.slope for lanes in self.lanes for lane in lanes} | {0.0})
        self.levels = sorted({0.0, *slopes[:: max(1, len(slopes) // SLOPES)], slopes[-1]})

    def _cells(self, room: int, rips: Floats) -> int:
        return min(room // self.cell, len(rips) - 1)

    def run(self, loss: float, most: int) -> list[Content]:
        """Return contents, best first; all of them unless that takes too long."""
        for _ in range(TRIES):
            if self._list(loss, most):
                break
            loss /= 3
        return sorted(self.found.values(), key=lambda content: content.loss)[:most]

    def _list(self, loss: float, most: int) -> bool:
        """Fill `found`; whether it is all that loses at most `loss`."""
        self.loss, self.most = loss, most
        self.found: dict[tuple[tuple[int, int], ...], Content] = {}
        if not self.sums:
            return True
        self.useful = [self._useful(n) for n in range(len(self.lanes))]
        self.looked = 0
        return self._visit(0, 0, self.room[0], 0, 0.0, 0.0, (), ())

    def _useful(self, number: int) -> list[Lane]:
        """Return the lanes of a span that are in any section that loses little enough."""
        kerf, lanes = self.problem.kerf, self.lanes[number]
        lanes = [lane for lane in lanes if lane.low + kerf <= self.room[number]]
        if number:  # what the spans before it add is not known here
            return lanes
        return [
            lane
            for lane in lanes
            if lane.worth
            + self._ahead(0, self.room[0] - lane.low - kerf, lane.length, lane.slope)
            >= -self.loss
        ]

    def _visit(
        self,
        number: int,
        first: int,
        room: int,
        length: int,
        worth: float,
        slope: float,
        chosen: tuple[Lane, ...],
        done: tuple[tuple[Strip, ...], ...],
    ) -> bool:
        """Add lanes to span `number` from `first` on; False if there are too many."""
        if len(self.found) > self.most or self.looked > MOST_LOOKS:
            return False
        if not self._close(number, room, length, worth, chosen, done):
            return False
        kerf = self.problem.kerf
        used = Counter(i for lane in chosen for i, _, _ in lane.pieces)
        for strips in done:
            used.update(i for strip in strips for i, _, _ in strip.pieces)
        lanes = self.useful[number]
        for place in range(first, len(lanes)):
            self.looked += 1
            lane = lanes[place]
            rest = room - lane.low - kerf
            if rest < 0 or not self._wanted(lane, used):
                continue
            longest = max(length, lane.length)
            more = worth + lane.worth
            steep = max(slope, lane.slope)
            if more + self._ahead(number, rest, longest, steep) < -self.loss:
                continue
            if not self._visit(
                number, place, rest, longest, more, steep, (*chosen, lane), done
            ):
                return False
        return True

    def _wanted(self, lane: Lane, used: Counter[int]) -> bool:
        """Whether the lane's solid pieces are still wanted."""
        return all(used[i] + count <= self.most_of[i] for i, count in lane.held)

    def _ahead(self, number: int, room: int, length: int, slope: float) -> float:
        """Return the most that can be added, less the price of the whole length.

        `slope` is what a step of width adds to the strips that are there already.
        """
        level = next(level for level in self.levels if level >= slope)
        tables = self.slopes[number].get(level)
        if tables is None:
            tables = self.slopes[number][level] = self._sloped(number, level)
        gains, best = tables
        v = min(room // self.cell, len(gains) - 1)
        s = bisect_right(self.sums, length)
        value = -self.rate * length  # nothing is added
        if s:
            value = gains[v][s - 1] + self.prices[s - 1] - self.rate * length
        if s < len(self.sums):
            value = max(value, best[v][s])
        return value

    def _sloped(
        self, number: int, slope: float
    ) -> tuple[list[list[float]], list[list[float]]]:
        """Return gains by cell and section, and the best of them from a section on."""
        gains = self.gains[number]
        if slope > 0:
            wide = slope * self.cell * np.arange(len(gains))[:, None]
            # the cells not whole may widen a strip too
            gains = np.maximum.accumulate(gains - wide, axis=0) + wide + slope * self.cell
        best = np.maximum.accumulate(gains[:, ::-1], axis=1)[:, ::-1]
        return gains.tolist(), best.tolist()

    def _close(
        self,
        number: int,
        room: int,
        length: int,
        worth: float,
        chosen: tuple[Lane, ...],
        done: tuple[tuple[Strip, ...], ...],
    ) -> bool:
        """Fix the widths of a span; keep the section, or go on to its next span."""
        strips, gained = self._widened(chosen, room)
        worth += gained
        spans = (*done, strips)
        if number + 1 < len(self.room):
            return self._visit(
                number + 1, 0, self.room[number + 1], length, worth, 0.0, (), spans
            )
        loss = self.rate * length - worth
        if length and loss <= self.loss:
            self._keep(Content(length - self.problem.kerf, spans, loss))
        return True

    def _widened(
        self, chosen: tuple[Lane, ...], room: int
    ) -> tuple[tuple[Strip, ...], float]:
        """Give the room that is left to the strips that gain most by it."""
        step = self.problem.step
        gained = 0.0
        widths = [lane.low for lane in chosen]
        for place in sorted(range(len(chosen)), key=lambda n: -chosen[n].slope):
            lane = chosen[place]
            more = min(lane.high - lane.low, room) // step * step
            if more > 0 and lane.slope > 0:
                widths[place] += more
                room -= more
                gained += more * lane.slope
        pairs = zip(widths, chosen, strict=True)
        return tuple(Strip(width, lane.pieces) for width, lane in pairs), gained

    def _keep(self, content: Content) -> None:
        """Keep a content unless one that holds the same loses less."""
        held = Counter(
            2 * i + whole
            for strips in content.spans
            for strip in strips
            for i, _, whole in strip.pieces
        )
        key = tuple(sorted(held.items()))
        known = self.found.get(key)
        if known is None or content.loss < known.loss:
            self.found[key] = content
