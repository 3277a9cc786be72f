"""Mixes of staves worth thinking about: grown stave by stave, the cheapest kept."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
import numpy.typing as npt

from nesting.arranging import (
    Stave,
    may_hold,
)
from nesting.arranging_tables import BARRED, Tables, Whole

Mix = tuple[int, ...]
KEPT = 8  # unfinished rows kept of those that begin with the same stave
LONGEST = 24  # staves, after which a row that is not wide enough is given up


def greedy(tables: Sequence[Tables], free: set[int]) -> tuple[list[Mix | None], set[int]]:
    """Return a mix per panel, each the best that growing finds in what is left.

    `tables` has an entry per panel; None where no mix was found.
    """
    found: list[Mix | None] = []
    left = set(free)
    for one in tables:
        best: tuple[int, Mix] | None = None
        for mix in grown(one, sorted(left), 1):
            cost = int(one.costs(np.array([mix], dtype=np.int64))[0])
            if cost < BARRED and (best is None or (cost, mix) < best):
                best = (cost, mix)
        found.append(None if best is None else best[1])
        left -= set(best[1] if best else ())
    return found, left


def grown(
    tables: Tables,
    free: Sequence[int],
    kept: int = KEPT,
    rng: np.random.Generator | None = None,
    surplus: int | None = None,
) -> Iterator[Mix]:
    """Yield mixes that rows grown from every free stave come to.

    Of the rows that begin with one stave the `kept` cheapest grow on. With `rng` costs
    are shaken. `surplus` is as in `every_mix`.
    """
    demand, staves = tables.demand, tables.staves
    usable = np.array([s for s in free if demand.part in staves[s].serves], dtype=np.int64)
    seen: set[Mix] = set()
    rows, scores = usable[:, None], np.zeros(len(usable))
    while len(rows):
        total = tables.net[rows].sum(axis=1)
        whole = total >= demand.need
        for row, net in zip(rows[whole], total[whole], strict=True):
            mix = tuple(sorted(int(s) for s in row))
            near = surplus is None or net <= demand.need + surplus
            if mix not in seen and near and _holds(tables, mix, spare=surplus is not None):
                seen.add(mix)
                yield mix
        rows, scores = rows[~whole], scores[~whole]
        if not len(rows) or rows.shape[1] >= LONGEST:
            return
        rows, scores = _extended(tables, rows, scores, usable, kept, rng)


def _holds(tables: Tables, mix: Mix, *, spare: bool) -> bool:
    staves: list[Stave] = [tables.staves[s] for s in mix]
    return may_hold(tables.demand, staves, spare=spare)


def _extended(
    tables: Tables,
    rows: Whole,
    scores: npt.NDArray[np.float64],
    usable: Whole,
    kept: int,
    rng: np.random.Generator | None,
) -> tuple[Whole, npt.NDArray[np.float64]]:
    """Return the cheapest rows with one stave more, a few per first stave."""
    taste, demand = tables.taste, tables.demand
    width = np.array([tables.staves[s].width for s in usable])
    fits = (demand.low <= width) & (width <= demand.high)
    names = usable[fits]
    cost = scores[:, None] + tables.pairs[rows[:, -1]][:, names]
    new_board = _is_new(tables.board, rows, names)
    new_source = _is_new(tables.source, rows, names)
    cost = cost + taste.board * new_board + taste.flitch * new_source
    cost = cost + taste.tone * _widened(tables.tone, rows, names)
    if rng is not None:
        cost = cost * rng.uniform(0.7, 1.3, cost.shape) + rng.uniform(0, 60, cost.shape)
    barred = (rows[:, :, None] == names[None, None, :]).any(axis=1)
    if demand.match != "none":
        barred |= new_board if demand.match == "board" else new_source
    cost = np.where(barred, np.inf, cost)
    picked: list[tuple[int, int]] = []
    for first in np.unique(rows[:, 0]):
        own = np.flatnonzero(rows[:, 0] == first)
        part = cost[own].ravel()
        best = np.argsort(part, kind="stable")[:kept]
        picked += [
            (int(own[at // len(names)]), int(at % len(names)))
            for at in best if np.isfinite(part[at])
        ]  # fmt: skip
    if not picked:
        return rows[:0], scores[:0]
    r, n = (np.array(some) for some in zip(*picked, strict=True))
    longer: Whole = np.concatenate([rows[r], names[n][:, None]], axis=1)
    return longer, cost[r, n]


def _is_new(kinds: Whole, rows: Whole, names: Whole) -> npt.NDArray[np.bool_]:
    """Whether a stave is of a board (or log) that a row has none of yet."""
    same = kinds[rows][:, :, None] == kinds[names][None, None, :]
    found: npt.NDArray[np.bool_] = ~same.any(axis=1)
    return found


def _widened(tone: Whole, rows: Whole, names: Whole) -> Whole:
    """Return how many steps of tone a stave adds to a row's range; 0 is not known."""
    own = tone[rows]
    low = np.where(own > 0, own, 99).min(axis=1)[:, None]
    high = own.max(axis=1)[:, None]
    added = tone[names][None, :]
    below, above = np.maximum(0, low - added), np.maximum(0, added - high)
    known = (added > 0) & (high > 0)
    found: Whole = np.where(known, below * (added < low) + above * (added > high), 0)
    return found
