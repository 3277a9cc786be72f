"""What many mixes of staves count at once: the best order and lie of each, by arrays.

`arranging.py` says what counts; here the same is worked out for thousands of mixes. The
cost of a joint stands in a table by stave and way to lie on both sides of it.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterator, Sequence
from dataclasses import replace
from functools import cached_property
from itertools import pairwise, permutations

import numpy as np
import numpy.typing as npt

from nesting.arranging import (
    PAIRED,
    Demand,
    Placed,
    Stave,
    Taste,
    may_hold,
    ways_to_lie,
)
from nesting.arranging_costs import (
    EDGE,
    SIDES,
    TRIMMED,
    joint_ok,
    joint_terms,
    mix_terms,
)

Whole = npt.NDArray[np.int64]
WAYS = 4  # to lie: end for end or not, either side up
BARRED = 10**7  # what must not be
MOST = 6  # staves of a mix whose orders are all tried
CHUNK = 1 << 15  # mixes worked on together


class Tables:
    """Tables of some staves as one kind of panel sees them; mixes are rows of indices."""

    def __init__(self, demand: Demand, staves: Sequence[Stave], taste: Taste) -> None:
        self.demand, self.staves, self.taste = demand, tuple(staves), taste
        self.ways = [ways_to_lie(stave, demand) for stave in staves]
        self.net = np.array([stave.net for stave in staves], dtype=np.int64)
        self.board = _numbers([stave.board for stave in staves])
        self.source = _numbers([stave.source for stave in staves])
        self.tone = np.array([stave.tone or 0 for stave in staves], dtype=np.int64)
        self.start = np.full((len(staves), WAYS), BARRED, dtype=np.int64)
        for s, ways in enumerate(self.ways):
            self.start[s, : len(ways)] = 0

    @cached_property
    def joints(self) -> Whole:
        """What the joint counts between stave s lying so and stave t lying so."""
        n = len(self.staves)
        found = np.full((n, n, WAYS, WAYS), BARRED, dtype=np.int64)
        known: dict[Hashable, int] = {}
        for s in range(n):
            for t in range(n):
                if s == t:
                    continue
                for f, one in enumerate(self.ways[s]):
                    for g, other in enumerate(self.ways[t]):
                        key = _joint_key(one, other)
                        cost = known.get(key)
                        if cost is None:
                            cost = self._joint(one, other)
                            known[key] = cost
                        found[s, t, f, g] = cost
        return found

    @cached_property
    def likes(self) -> Whole:
        """A number per stave, the same for those that a mix counts alike."""
        return _numbers([self._mix_key(s) for s in range(len(self.staves))])

    def _joint(self, one: Placed, other: Placed) -> int:
        if not joint_ok(self.demand, one, other):
            return BARRED
        return sum(joint_terms(self.demand, one, other, self.taste).values())

    @cached_property
    def pairs(self) -> Whole:
        """The least a joint between two staves counts, however they lie."""
        found: Whole = self.joints.min(axis=(2, 3))
        return found

    def costs(self, mixes: Whole) -> Whole:
        """Return what each mix counts in its best order; mixes are of one length."""
        if mixes.shape[1] > MOST:
            found = [self.best(mix)[0] for mix in mixes.tolist()]
            return np.array(found, dtype=np.int64)
        return np.concatenate([self._costs(part) for part in _chunks(mixes)] or [_none()])

    def _costs(self, mixes: Whole) -> Whole:
        best = np.full(len(mixes), BARRED, dtype=np.int64)
        for order in _orders(mixes.shape[1]):
            np.minimum(best, self._in_order(mixes[:, order]), out=best)
        return best + self._mixed(mixes)

    def _in_order(self, rows: Whole) -> Whole:
        """Return what staves count in the order given, but for their mix."""
        cost = self.start[rows[:, 0]]
        for at in range(1, rows.shape[1]):
            step = self.joints[rows[:, at - 1], rows[:, at]]
            cost = (cost[:, :, None] + step).min(axis=1)
        found: Whole = cost.min(axis=1) + self._widths(self.net[rows])
        return found

    def _widths(self, nets: Whole) -> Whole:
        """Return what the order of widths counts, row by row."""
        count = nets.shape[1]
        demand, taste = self.demand, self.taste
        if count < 2:
            return np.zeros(len(nets), dtype=np.int64)
        apart = np.abs(nets - nets[:, ::-1]).sum(axis=1) // 2
        half = -(-np.maximum(0, nets.sum(axis=1) - demand.finished) // 2)
        limits = np.stack(
            [np.full(len(nets), taste.edge_stave), half + taste.joint_from_edge]
        )
        second = np.sort(nets, axis=1)[:, -2]
        must = np.where(limits <= second, limits, 0).max(axis=0)
        outer = nets[:, [0, -1]]
        narrow = (outer < limits.max(axis=0)[:, None]).sum(axis=1)
        total = SIDES * apart // taste.inch + EDGE * narrow
        if demand.match not in PAIRED:
            total = total + BARRED * (outer < must[:, None]).sum(axis=1)
        found: Whole = total.astype(np.int64)
        return found

    def _mixed(self, mixes: Whole) -> Whole:
        """Return what the mix counts: alike mixes are reckoned once."""
        held = np.sort(self.likes[mixes], axis=1)
        nets = self.net[mixes].sum(axis=1)
        _, first, back = np.unique(held, axis=0, return_index=True, return_inverse=True)
        trimmed = TRIMMED * (nets - self.demand.need) // self.taste.inch
        costs = np.array([self._mix(mixes[at]) for at in first], dtype=np.int64)
        found: Whole = costs[back.reshape(-1)] + trimmed
        return found

    def _mix_key(self, s: int) -> Hashable:
        one = self.staves[s]
        return one.board, one.source, one.tone, one.sawing, one.figure, one.beauty

    def _mix(self, mix: Whole) -> int:
        terms = mix_terms(self.demand, [self.staves[s] for s in mix], self.taste)
        return sum(terms.values()) - terms["trimmed"]

    def best(self, mix: Sequence[int]) -> tuple[int, tuple[Placed, ...]]:
        """Return the best order of one mix, and what it counts in all.

        All orders are tried of `MOST` staves or fewer; larger mixes are improved stave by
        stave from where they stand.
        """
        row = np.array([mix], dtype=np.int64)
        if len(mix) <= MOST:
            orders = np.array(list(_orders(len(mix))), dtype=np.int64)
            costs = self._in_order(row[0][orders])
            order = orders[int(costs.argmin())]
        else:
            order = self._improved(row[0])
        cost = int(self._in_order(row[:, order])[0] + self._mixed(row)[0])
        return cost, _upright(self._lain([int(s) for s in row[0][order]]))

    def _improved(self, mix: Whole) -> Whole:
        """Return an order that moving one stave, or swapping two, does not better."""
        best = np.array(sorted(range(len(mix)), key=lambda at: self._kin(int(mix[at]))))
        cost = int(self._in_order(mix[None, best])[0])
        for _ in range(4 * len(mix)):
            tried = np.array(list(_moves(len(mix))), dtype=np.int64)
            rows = best[tried]
            costs = self._in_order(mix[rows])
            at = int(costs.argmin())
            if costs[at] >= cost:
                break
            best, cost = rows[at], int(costs[at])
        return best

    def _kin(self, s: int) -> tuple[str, int, str, int]:
        """Return what puts staves of a board, and neighbours of a log, side by side."""
        one = self.staves[s]
        return one.source, one.order or 0, one.board, s

    def _lain(self, order: Sequence[int]) -> tuple[Placed, ...]:
        """Return staves in an order, each as it lies best."""
        cost = self.start[order[0]]
        froms = []
        for s, t in pairwise(order):
            steps = cost[:, None] + self.joints[s, t]
            froms.append(steps.argmin(axis=0))
            cost = steps.min(axis=0)
        way = int(cost.argmin())
        ways = [way]
        for back in reversed(froms):
            way = int(back[way])
            ways.append(way)
        lies = zip(order, reversed(ways), strict=True)
        return tuple(self.ways[s][min(f, len(self.ways[s]) - 1)] for s, f in lies)


def _upright(placed: tuple[Placed, ...]) -> tuple[Placed, ...]:
    """Turn a whole panel end for end if it then follows the order of sawing.

    Where that tells nothing, fewer staves should be turned.
    """
    about = tuple(replace(one, turned=not one.turned) for one in reversed(placed))

    def rank(panel: tuple[Placed, ...]) -> tuple[int, int]:
        first, last = panel[0].stave.order or 0, panel[-1].stave.order or 0
        return first - last, sum(one.turned for one in panel)

    return min(placed, about, key=rank)


def _joint_key(one: Placed, other: Placed) -> Hashable:
    """Return all that a joint depends on, for staves without marks of different boards."""
    a, b = one.stave, other.stave
    if a.board == b.board or a.knots or b.knots:
        return a.name, b.name, one.turned, one.face, other.turned, other.face
    return (
        a.source, a.order, a.tone, a.sawing, one.turned, one.face,
        b.source, b.order, b.tone, b.sawing, other.turned, other.face,
    )  # fmt: skip


def _orders(count: int) -> Iterator[tuple[int, ...]]:
    """Yield the orders of so many staves; of an order and its reverse only one."""
    for order in permutations(range(count)):
        if order[0] <= order[-1]:
            yield order


def _moves(count: int) -> Iterator[list[int]]:
    """Yield orders with one stave moved, or two swapped."""
    for i in range(count):
        for j in range(count):
            order = list(range(count))
            order.insert(j, order.pop(i))
            yield order
            if i < j:
                order = list(range(count))
                order[i], order[j] = order[j], order[i]
                yield order


def _numbers(names: Sequence[Hashable]) -> Whole:
    known: dict[Hashable, int] = {}
    found = [known.setdefault(name, len(known)) for name in names]
    return np.array(found, dtype=np.int64)


def _chunks(mixes: Whole) -> Iterator[Whole]:
    for start in range(0, len(mixes), CHUNK):
        yield mixes[start : start + CHUNK]


def _none() -> Whole:
    return np.zeros(0, dtype=np.int64)


def every_mix(
    tables: Tables, free: Sequence[int], most: int, surplus: int | None = None
) -> list[Whole] | None:
    """Return every mix of the free staves that makes a panel, by number of staves.

    None if there are more than `most` to look at, or some have more than `MOST` staves.
    `surplus` is how far net widths may go beyond the need; None where no mix may have a
    stave that it does not need.
    """
    demand, staves = tables.demand, tables.staves
    usable = [s for s in free if demand.part in staves[s].serves]
    is_spare = surplus is not None
    alone = [s for s in usable if may_hold(demand, [staves[s]], spare=is_spare)]
    found = [np.array(alone, dtype=np.int64)[:, None]]
    inside = [s for s in usable if demand.low <= staves[s].width <= demand.high]
    names = np.array(inside, dtype=np.int64)
    scopes = tables.board if demand.match == "board" else tables.source
    grown = names[:, None]
    while len(grown):
        longer = _longer(grown, names, most)
        if longer is None:
            return None
        grown = longer
        if demand.match != "none":
            grown = grown[scopes[grown[:, 0]] == scopes[grown[:, -1]]]
        nets = tables.net[grown]
        total = nets.sum(axis=1)
        whole = total >= demand.need
        if surplus is None:
            found.append(grown[whole & (total - nets.min(axis=1) < demand.need)])
            grown = grown[~whole]
        else:
            near = total <= demand.need + surplus
            found.append(grown[whole & near])
            grown = grown[near]
        if len(found[-1]) and found[-1].shape[1] > MOST:
            return None
    return [some for some in found if len(some)]


def _longer(grown: Whole, names: Whole, most: int) -> Whole | None:
    """Return mixes with one stave more each, of a later place than their last.

    None if there are more than `most`.
    """
    lasts = np.searchsorted(names, grown[:, -1])
    counts = len(names) - 1 - lasts
    total = int(counts.sum())
    if total > most:
        return None
    if not total:
        return np.zeros((0, grown.shape[1] + 1), dtype=np.int64)
    rows = np.repeat(np.arange(len(grown)), counts)
    starts = np.repeat(np.cumsum(counts) - counts, counts)
    added = names[np.repeat(lasts + 1, counts) + np.arange(total) - starts]
    return np.concatenate([grown[rows], added[:, None]], axis=1)
