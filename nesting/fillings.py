"""All fillings of a board's sections that a plan on a given set of boards could use.

At prices where the whole demand is worth 1, let the best patterns of all boards of a set be
worth `times` together. A plan that makes everything from the set loses no more than times
- 1 on any of its boards, against the board's best pattern. So a section can be left out if
every pattern with it loses more (fixing by reduced costs). What the rest of the board is
worth at most, the unlimited programs tell.

Only full sections are listed: to which no strip can be added though all others are as wide
as may be, nor a solid piece behind those of a strip that is wide enough for it. Any section
of a plan holds no more than one of them, and the demand may be exceeded.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import permutations

import numpy as np

from nesting.columns import Rows
from nesting.contents import NO_LIMIT, Content, Lane, lanes_for
from nesting.holding import Boards
from nesting.patterns import Floats, Ints, Strip
from nesting.problem import Bin, Problem
from nesting.windows import Span

SLOPES = 6  # how finely a bound tells apart what more width is worth
MOST_ORDERS = 4  # kinds of strips whose widths are traded in every order
MOST_VISITS = 60_000
SAFE = 1e-9


@dataclass(frozen=True, slots=True)
class Filling:
    """A full section: its strips at their least widths, and the width to spare."""

    length: int
    lanes: tuple[Lane, ...]
    spare: int


@dataclass(frozen=True, slots=True)
class Corner:
    """A filling with its spare width given away: what it adds to each row, and how."""

    adds: Floats
    content: Content


def most_useful(problem: Problem) -> list[int]:
    """Return, per item, how many pieces a plan can use that has none too many.

    A panel of least staves is as many as fit below its width, and one.
    """
    return [
        item.units * (-(-item.need // (item.low - item.joint)) if item.is_panel else 1)
        for item in problem.items
    ]


class Fillings:
    """A search through the fillings of one board of a set, at given prices.

    Attributes
    ----------
    loss
        What a section may lose at most; the whole demand is worth 1.
    found
        The fillings, once `run` has ended.
    """

    def __init__(
        self, boards: Boards, row: int, duals: Floats, useful: Sequence[int]
    ) -> None:
        problem, one = boards.problem, boards.bins[row]
        self.kerf, self.room = problem.kerf, one.width + problem.kerf
        self.most = np.array(useful)
        values = boards.rows.values(problem, duals)
        span = Span(0, one.width, one.wanted)
        in_strip = one.length // min(1 + size[0] for i in problem.items for size in i.sizes)
        self.lanes = lanes_for(problem, span, one.length, values, useful, in_strip + 1)
        self.lengths = np.array(sorted({lane.length for lane in self.lanes}), dtype=int)
        self._lane_arrays(len(problem.items))
        self.behind = _behind(problem, one, self.lanes)
        self._bounds(boards, row, duals)
        self.found: list[Filling] = []

    def _lane_arrays(self, items: int) -> None:
        """Keep what the search asks of every lane in arrays, lane by lane."""
        lanes = self.lanes
        self.low = np.array([lane.low + self.kerf for lane in lanes], dtype=int)
        self.place = np.searchsorted(self.lengths, [lane.length for lane in lanes])
        self.worth = np.array([lane.worth for lane in lanes])
        self.ends = np.array([lane.length for lane in lanes], dtype=int)
        slopes = sorted({lane.slope for lane in lanes} | {0.0})
        step = max(1, len(slopes) // SLOPES)
        self.levels = np.array(sorted({0.0, *slopes[::step], slopes[-1]}))
        self.level = np.searchsorted(self.levels, [lane.slope for lane in lanes])
        self.held = np.zeros((len(lanes), items), dtype=int)
        for number, lane in enumerate(lanes):
            for i, count in lane.held:
                self.held[number, i] = count

    def _bounds(self, boards: Boards, row: int, duals: Floats) -> None:
        """Fill `ahead[level, cells, place]`: the most that width left over still adds.

        Less the price of the section's length, which is what the best pattern of the
        board loses without that length; for sections of a place's length or longer.
        """
        kernel, problem = boards.kernel, boards.problem
        tables = kernel.solve(boards.rows.values(problem, duals), exact=True)
        along = tables.along(row)
        rest = kernel.floor(boards.bins[row].length + self.kerf - self.lengths)
        self.prices = float(tables.worths[row]) - along[rest]
        sums = kernel.sums[tables.sections]
        at = np.searchsorted(sums, self.lengths, side="right") - 1
        rips = tables.rips[:, :, kernel.group_of[row]]
        gains = np.where(at >= 0, rips[:, np.maximum(at, 0)], 0.0) - self.prices
        self.cell, self.cells = kernel.cell, len(gains) - 1
        self.ahead = np.array([self._sloped(gains, slope) for slope in self.levels])

    def _sloped(self, gains: Floats, slope: float) -> Floats:
        """Let each step of width be worth `slope` too, in the strips that are there."""
        if slope > 0:
            wide = slope * self.cell * np.arange(len(gains))[:, None]
            # the steps that are no whole cell may widen a strip too
            gains = np.maximum.accumulate(gains - wide, axis=0) + wide + slope * self.cell
        best: Floats = np.maximum.accumulate(gains[:, ::-1], axis=1)[:, ::-1]
        return best

    def run(self, loss: float, most: int, stop: Callable[[], bool]) -> bool:
        """Fill `found`; False if there are more than `most`, or no time for them."""
        self.loss, self.limit, self.stop = loss + SAFE, most, stop
        self.visits = 0
        if not self.lanes:
            return True
        nothing = np.zeros(len(self.most), dtype=int)
        return self._visit(np.arange(len(self.lanes)), self.room, (0, 0), 0.0, nothing, ())

    def _visit(
        self,
        lanes: Ints,
        room: int,
        at: tuple[int, int],
        worth: float,
        used: Ints,
        chosen: tuple[int, ...],
    ) -> bool:
        """Add one of `lanes`, and then those after it; `at` is the place and the level."""
        self.visits += 1
        if len(self.found) > self.limit or self.visits > MOST_VISITS:
            return False
        if self.visits % 128 == 0 and self.stop():
            return False
        if chosen:
            self._close(room, at[0], worth, used, chosen)
        rest = room - self.low[lanes]
        fits = (rest >= 0) & (self.held[lanes] + used <= self.most).all(axis=1)
        lanes, rest = lanes[fits], rest[fits]
        place = np.maximum(at[0], self.place[lanes])
        level = np.maximum(at[1], self.level[lanes])
        cells = np.minimum(rest // self.cell, self.cells)
        worths = worth + self.worth[lanes]
        good = np.flatnonzero(worths + self.ahead[level, cells, place] >= -self.loss)
        for number, n in enumerate(good):
            lane = int(lanes[n])
            if not self._visit(
                lanes[good[number:]],
                int(rest[n]),
                (int(place[n]), int(level[n])),
                float(worths[n]),
                used + self.held[lane],
                (*chosen, lane),
            ):
                return False
        return True

    def _close(
        self, room: int, place: int, worth: float, used: Ints, chosen: tuple[int, ...]
    ) -> None:
        """Keep a section that is full and loses little enough."""
        lanes = tuple(self.lanes[number] for number in chosen)
        free = room - sum(lane.high - lane.low for lane in lanes)
        more = (self.low <= free) & (self.place <= place)
        if (self.held[more] + used <= self.most).all(axis=1).any():
            return
        left = self.lengths[place] - self.ends[list(chosen)]
        if (self.behind[list(chosen)][:, used < self.most] <= left[:, None]).any():
            return
        spare = room
        for lane in sorted(lanes, key=lambda lane: -lane.slope):
            wider = min(lane.high - lane.low, spare)
            spare -= wider
            worth += wider * lane.slope
        if self.prices[place] - worth <= self.loss:
            length = int(self.lengths[place]) - self.kerf
            self.found.append(Filling(length, lanes, room))


def _behind(problem: Problem, one: Bin, lanes: Sequence[Lane]) -> Ints:
    """Return, per lane and item, the length that one more solid piece takes, a kerf added.

    It must be no wider than the lane at its least. Never fits if there is no such piece.
    """
    found = np.full((len(lanes), len(problem.items)), NO_LIMIT, dtype=np.int64)
    lows = np.array([lane.low for lane in lanes], dtype=np.int64)
    for item in problem.items:
        if not item.is_panel and item.index in one.wanted:
            for length, width in item.sizes:
                column = found[:, item.index]
                fits = lows >= width
                column[fits] = np.minimum(column[fits], length + problem.kerf)
    return found


def corners_of(problem: Problem, rows: Rows, filling: Filling) -> list[Corner]:
    """Return a filling with its spare width given away in every order of its strips.

    Strips of one kind share it; what a section can add to the rows is a mix of these
    (or less), since the kinds share one width and each takes only so much of it.
    """
    kinds: dict[tuple[float, ...], list[int]] = {}
    for number, lane in enumerate(filling.lanes):
        gain = _per_step(problem, rows, lane)
        if lane.high > lane.low and gain.any():
            kinds.setdefault(tuple(gain), []).append(number)
    if len(kinds) > MOST_ORDERS:
        return [_generous(problem, rows, filling, list(kinds))]
    found = {}
    for order in permutations(kinds.values()):
        widths = _widened(filling, [number for some in order for number in some])
        corner = _corner(problem, rows, filling, widths)
        found[tuple(corner.adds)] = corner
    return list(found.values())


def _per_step(problem: Problem, rows: Rows, lane: Lane) -> Floats:
    """Return what a step more of a lane's width adds to each row."""
    gain = np.zeros(len(rows.demand))
    for i, _, whole in lane.pieces:
        if problem.items[i].is_panel and not whole:
            gain[rows.first[i]] += 1
    return gain


def _widened(filling: Filling, order: Sequence[int]) -> list[int]:
    """Return the strips' widths once the spare width is given away in an order."""
    widths, left = [lane.low for lane in filling.lanes], filling.spare
    for number in order:
        wider = min(filling.lanes[number].high - widths[number], left)
        widths[number] += wider
        left -= wider
    return widths


def _corner(
    problem: Problem, rows: Rows, filling: Filling, widths: Sequence[int]
) -> Corner:
    adds = np.zeros(len(rows.demand))
    strips = []
    for width, lane in zip(widths, filling.lanes, strict=True):
        for i, _, whole in lane.pieces:
            item, first = problem.items[i], rows.first[i]
            if not item.is_panel:
                adds[first] += 1
                continue
            adds[first] += item.need if whole else width - item.joint
            adds[first + 1] += item.staves if whole else 1
        stepped = lane.low + (width - lane.low) // problem.step * problem.step
        strips.append(Strip(stepped, lane.pieces))
    return Corner(adds, Content(filling.length, (tuple(strips),), 0.0))


def _generous(
    problem: Problem, rows: Rows, filling: Filling, gains: Sequence[tuple[float, ...]]
) -> Corner:
    """Return a filling that has its spare width for every row alike: more than it can."""
    plain = _corner(problem, rows, filling, [lane.low for lane in filling.lanes])
    return Corner(plain.adds + filling.spare * np.max(gains, axis=0), plain.content)


def kind_of(filling: Filling) -> tuple[object, ...]:
    """Return what fillings that may be mixed have in common: length and pieces."""
    held = Counter((i, whole) for lane in filling.lanes for i, _, whole in lane.pieces)
    return (filling.length, tuple(sorted(held.items())))
