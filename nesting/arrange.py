"""Arranging staves in panels: greedy first, then columns and rounds, proven where small.

A column is one whole panel: a mix of staves in its best order. An integer program chooses
a column for each panel. Columns come from growing rows from every stave, from the greedy
panels themselves, and from rounds that free a few panels and look at all their staves
anew. Where every column can be listed, the choice among them is proven.
"""

from __future__ import annotations

import random
import time
from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from nesting.arranging import (
    Demand,
    Placed,
    Stave,
    Taste,
    may_hold,
)
from nesting.arranging_costs import (
    panel_terms,
    set_terms,
)
from nesting.arranging_master import Chosen, Column, Kinds, Master, not_ruled_out
from nesting.arranging_pool import Mix, greedy, grown
from nesting.arranging_tables import BARRED, Tables, every_mix


@dataclass(frozen=True, kw_only=True, slots=True)
class Effort:
    """How hard to look; counts, so that the same input gives the same answer anywhere.

    Attributes
    ----------
    seconds
        A limit by the clock besides; none that is not generous keeps answers the same.
    rounds
        Times that a few panels are freed and made anew.
    idle
        Rounds in vain after which it stops.
    mixes
        Most mixes listed, of all kinds together, to prove a choice.
    work
        CP-SAT's deterministic time for the choice among columns.
    """

    seed: int = 1
    seconds: float = 3600.0
    rounds: int = 60
    idle: int = 20
    mixes: int = 120_000
    work: float = 4.0


@dataclass(frozen=True, kw_only=True, slots=True)
class Arrangement:
    """Panels with their staves in order, in the order of the demands.

    Attributes
    ----------
    panels
        None where no panel was found.
    terms
        Per panel: what it counts by term, tenths of a point.
    set_terms
        Per set: what it counts for not looking alike.
    first
        What the layout that it started from counts; None if that was no whole one.
    is_proven
        Whether no other arrangement counts less.
    """

    panels: tuple[tuple[Placed, ...] | None, ...]
    terms: tuple[dict[str, int], ...]
    set_terms: dict[str, dict[str, int]]
    first: int | None
    is_proven: bool

    @property
    def cost(self) -> int:
        """What it counts in all."""
        every = (*self.terms, *self.set_terms.values())
        return sum(sum(terms.values()) for terms in every)


def arrange(
    demands: Sequence[Demand],
    staves: Sequence[Stave],
    taste: Taste,
    *,
    given: Sequence[Sequence[int]] | None = None,
    effort: Effort = Effort(),
    should_stop: Callable[[], bool] = lambda: False,
) -> Arrangement:
    """Return the best arrangement found of staves in panels.

    With a `given` layout, the staves of each panel by number, every stave stays in use;
    without, some may be left over, and no panel has a stave that it does not need.
    """
    work = _Work(demands, staves, taste, given, effort, should_stop)
    return work.arranged()


class _Work:
    """One arranging: the kinds of panels, the columns known, the best choice so far."""

    def __init__(
        self,
        demands: Sequence[Demand],
        staves: Sequence[Stave],
        taste: Taste,
        given: Sequence[Sequence[int]] | None,
        effort: Effort,
        stop: Callable[[], bool],
    ) -> None:
        self.demands = tuple(demands)
        self.given = given
        self.effort = effort
        self.end = time.monotonic() + effort.seconds
        self.asked_to_stop = stop
        counts = Counter(replace(demand, name="") for demand in demands)
        must = frozenset(range(len(staves))) if given is not None else frozenset[int]()
        self.kinds = Kinds(
            tuple(counts), tuple(counts.values()), tuple(staves), taste, must
        )
        self.kind_of = [self.kinds.demands.index(replace(one, name="")) for one in demands]
        self.tables = [Tables(one, staves, taste) for one in self.kinds.demands]
        self.columns: dict[tuple[int, Mix], Column] = {}
        self.surplus: int | None = None
        if given is not None:
            needs = sum(one.need for one in demands)
            self.surplus = max(0, sum(stave.net for stave in staves) - needs)

    def arranged(self) -> Arrangement:
        """Return the best arrangement."""
        first = self._given() if self.given is not None else self._greedy()
        if first is None:
            first = self._any()
        if first is None:
            return self._as_cut()
        every = self._all_columns()
        best = Chosen(tuple(first), self.kinds.cost(first), is_best=False)
        if every is None or len(every) > 3000:
            best = self._improved(best)
        is_proven = False
        if every is not None and not self._late():
            best, is_proven = self._proven(best, every)
        if every is not None and not is_proven:
            best = self._improved(best)
        found = self.kinds.cost(first)
        return self._records(self._dealt(best.columns), found, is_proven=is_proven)

    def _late(self) -> bool:
        return self.asked_to_stop() or time.monotonic() > self.end

    def _column(self, kind: int, mix: Iterable[int]) -> Column | None:
        """Return a mix as a column; None if its staves must not lie in any order."""
        self._add(kind, [tuple(sorted(mix))])
        return self.columns.get((kind, tuple(sorted(mix))))

    def _add(self, kind: int, mixes: Iterable[Mix]) -> list[Column]:
        """Reckon mixes that are new, and return all of them as columns."""
        mixes = list(mixes)
        fresh: dict[int, list[Mix]] = {}
        for mix in mixes:
            if (kind, mix) not in self.columns:
                fresh.setdefault(len(mix), []).append(mix)
        for some in fresh.values():
            rows = np.array(some, dtype=np.int64)
            for mix, cost in zip(some, self.tables[kind].costs(rows).tolist(), strict=True):
                if cost < BARRED:
                    self.columns[kind, mix] = Column(kind, mix, cost)
        known = (self.columns.get((kind, mix)) for mix in mixes)
        return [column for column in known if column is not None]

    def _given(self) -> list[Column] | None:
        """Return the given layout as columns, if all of its panels hold."""
        layout = zip(self.kind_of, self.given or (), strict=True)
        found = [
            self._column(kind, mix) if self._holds(kind, mix) else None
            for kind, mix in layout
        ]
        return [one for one in found if one] if all(found) else None

    def _holds(self, kind: int, mix: Sequence[int]) -> bool:
        staves = [self.kinds.staves[s] for s in mix]
        return bool(staves) and may_hold(self.kinds.demands[kind], staves, spare=True)

    def _greedy(self) -> list[Column] | None:
        """Return the panels of a greedy layout; all of them are known columns then."""
        free = set(range(len(self.kinds.staves)))
        mixes, _ = greedy([self.tables[kind] for kind in self.kind_of], free)
        found = [
            self._column(kind, mix) if mix else None
            for kind, mix in zip(self.kind_of, mixes, strict=True)
        ]
        return [one for one in found if one] if all(found) else None

    def _any(self) -> list[Column] | None:
        """Return a layout that the columns known and grown allow, if greed found none."""
        pool = [*self.columns.values(), *self._pool(range(len(self.kinds.staves)))]
        chosen = Master(self.kinds, pool).solve(
            (), self.effort.seed, self.effort.work, self._left()
        )
        return None if chosen is None else list(chosen.columns)

    def _left(self) -> float:
        return max(0.05, self.end - time.monotonic())

    def _pool(self, free: Sequence[int], *, shaken: int = 2) -> list[Column]:
        """Return columns grown from the free staves, as costs are and shaken."""
        found: list[Column] = []
        for kind in range(len(self.tables)):
            found += self._add(kind, grown(self.tables[kind], free, surplus=self.surplus))
            for turn in range(shaken):
                rng = np.random.default_rng([self.effort.seed, kind, turn])
                some = grown(self.tables[kind], free, 3, rng, self.surplus)
                found += self._add(kind, some)
        return found

    def _all_columns(self) -> list[Column] | None:
        """Return every column there is; None if they are too many to list."""
        left = self.effort.mixes
        found: list[Column] = []
        free = range(len(self.kinds.staves))
        for kind, tables in enumerate(self.tables):
            some = every_mix(tables, free, left, self.surplus)
            if some is None or self._late():
                return None
            left -= sum(len(rows) for rows in some)
            if left < 0:
                return None
            for rows in some:
                costs = tables.costs(rows)
                fine = costs < BARRED
                known = zip(rows[fine].tolist(), costs[fine].tolist(), strict=True)
                found += [Column(kind, tuple(mix), cost) for mix, cost in known]
        return found

    def _improved(self, best: Chosen) -> Chosen:
        """Return a better choice: among grown columns, then by rounds."""
        if self._late():
            return best
        everything = range(len(self.kinds.staves))
        pool = self._pool(everything)
        chosen = self._chosen([*pool, *best.columns], best, ())
        rng = random.Random(self.effort.seed)  # noqa: S311 - not for secrets
        idle = 0
        for _ in range(self.effort.rounds):
            if self._late() or idle >= self.effort.idle:
                break
            after = self._round(chosen, rng)
            idle = 0 if after.cost < chosen.cost else idle + 1
            chosen = after
        return chosen

    def _round(self, best: Chosen, rng: random.Random) -> Chosen:
        """Free one to three panels and make them anew from the staves that are free."""
        count = min(len(best.columns), rng.choice((1, 2, 2, 3, 3)))
        freed = set(rng.sample(range(len(best.columns)), count))
        kept = [one for at, one in enumerate(best.columns) if at not in freed]
        used = {s for column in kept for s in column.mix}
        free = [s for s in range(len(self.kinds.staves)) if s not in used]
        kinds = {best.columns[at].kind for at in freed}
        columns = [best.columns[at] for at in freed]
        for kind in sorted(kinds):
            columns += self._local(kind, free, rng)
        return self._chosen(columns, best, kept)

    def _local(self, kind: int, free: list[int], rng: random.Random) -> list[Column]:
        """Return columns of one kind from a few free staves: all, if they are not many."""
        tables = self.tables[kind]
        some = every_mix(tables, free, 4000, self.surplus)
        if some is not None:
            return self._add(kind, (tuple(mix) for rows in some for mix in rows.tolist()))
        shake = np.random.default_rng(rng.randrange(2**31))
        found = self._add(kind, grown(tables, free, surplus=self.surplus))
        return found + self._add(kind, grown(tables, free, 3, shake, self.surplus))

    def _chosen(
        self, columns: Sequence[Column], best: Chosen, fixed: Sequence[Column]
    ) -> Chosen:
        """Return the better of the best choice and one among columns."""
        small = [*sorted(dict.fromkeys(columns), key=_by_cost)[:4000], *best.columns]
        found = Master(self.kinds, small, fixed).solve(
            best.columns, self.effort.seed, self.effort.work / 8, self._left()
        )
        return found if found is not None and found.cost < best.cost else best

    def _proven(self, best: Chosen, every: list[Column]) -> tuple[Chosen, bool]:
        """Return the best choice among all columns, and whether that is proven."""
        kept = not_ruled_out(self.kinds, every, best.cost, best.columns, self._late)
        if kept is None:
            return best, False
        columns, bound = kept
        if bound > best.cost - 1:
            return best, True
        found = Master(self.kinds, [*columns, *best.columns]).solve(
            best.columns, self.effort.seed, 4 * self.effort.work, self._left()
        )
        if found is None or found.cost > best.cost:
            return best, False
        return found, found.is_best

    def _dealt(self, columns: Iterable[Column]) -> list[Mix | None]:
        """Return a mix per demand; panels that are alike follow the order of sawing."""
        waiting: dict[int, list[Mix]] = {}
        for column in columns:
            waiting.setdefault(column.kind, []).append(column.mix)
        for mixes in waiting.values():
            mixes.sort(key=self._sawn, reverse=True)
        return [waiting[kind].pop() if waiting.get(kind) else None for kind in self.kind_of]

    def _sawn(self, mix: Mix) -> tuple[str, float, Mix]:
        """Return what sorts panels by log and place in the order of sawing."""
        staves = [self.kinds.staves[s] for s in mix]
        orders = [stave.order for stave in staves if stave.order is not None]
        mean = sum(orders) / len(orders) if orders else 0.0
        return min(stave.source for stave in staves), mean, mix

    def _as_cut(self) -> Arrangement:
        """Return the given layout where it can't be a choice of columns."""
        layout = self.given or [()] * len(self.demands)
        return self._records([tuple(mix) or None for mix in layout], None, is_proven=False)

    def _records(
        self, mixes: Sequence[Mix | None], first: int | None, *, is_proven: bool
    ) -> Arrangement:
        taste = self.kinds.taste
        panels: list[tuple[Placed, ...] | None] = []
        terms: list[dict[str, int]] = []
        for demand, kind, mix in zip(self.demands, self.kind_of, mixes, strict=True):
            placed = self.tables[kind].best(mix)[1] if mix else None
            panels.append(placed)
            terms.append((placed and panel_terms(demand, placed, taste)) or {})
        return Arrangement(
            panels=tuple(panels), terms=tuple(terms),
            set_terms=_set_terms(self.demands, panels, taste),
            first=first, is_proven=is_proven,
        )  # fmt: skip


def _by_cost(column: Column) -> tuple[int, int, Mix]:
    return column.cost, column.kind, column.mix


def _set_terms(
    demands: Sequence[Demand], panels: Sequence[tuple[Placed, ...] | None], taste: Taste
) -> dict[str, dict[str, int]]:
    """Return what each set counts."""
    sets: dict[str, list[list[Stave]]] = {}
    for demand, panel in zip(demands, panels, strict=True):
        if demand.set and panel:
            sets.setdefault(demand.set, []).append([one.stave for one in panel])
    return {name: set_terms(some, taste) for name, some in sets.items()}
