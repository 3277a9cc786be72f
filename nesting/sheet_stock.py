"""The recipe for sheets: a bound, plans built by the values that prove it, a choice."""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import dataclass, replace
from math import gcd

from nesting.limits import Limit
from nesting.sheet_bound import Relaxed, Ruling, relax, whole_bound
from nesting.sheet_choice import SPREAD, Builder, choose
from nesting.sheet_counted import Counted
from nesting.sheet_demand import Demand, Pattern, cost_of, missing
from nesting.sheet_sizes import Stock, Want, cut_short

BUILDS = 240  # plans built at most
BATCH = 20  # plans built between two choices among all patterns
RELAX_UNTIL = 0.4  # share of the time for the bound
CHOICE_SHARE, LEAST_CHOICE = 0.15, 0.2  # of the time, for one choice; in seconds


@dataclass(frozen=True, slots=True)
class Cut:
    """What comes out: patterns within the demand, their cost and a proven bound, cents.

    The bound is for making what the patterns make; `rulings` prove it.
    """

    patterns: tuple[Pattern, ...]
    cost: float
    bound: float
    rulings: tuple[Ruling, ...]


def cut_stock(
    demand: Demand, limit: Limit, *, seed: int = 1, gap: float = 0.0,
    stop: Callable[[], bool] = lambda: False,
) -> Cut:  # fmt: skip
    """Return the cheapest plan found in time, and what no plan goes below."""
    return _Stock(demand, limit, seed, gap, stop).run()


class _Stock:
    """One run of the recipe."""

    def __init__(
        self, demand: Demand, limit: Limit, seed: int, gap: float, stop: Callable[[], bool]
    ) -> None:
        self.demand, self.limit, self.gap, self.seed = demand, limit, gap, seed
        self.asked_to_stop = stop
        self.rng = random.Random(seed)  # noqa: S311 - not for secrets
        self.builder = Builder(demand, self.rng)
        self.best: tuple[Pattern, ...] = ()
        self.cost = cost_of(demand, ())
        self.pool: list[Pattern] = []
        self.bound = 0.0

    def run(self) -> Cut:
        """Build, relax, build by its values, choose; until it is proven or late.

        The first plans prove no sheet: they take little, so that short limits have some.
        """
        self._warm_up()
        areas = [float(one.area) for one in self.demand.wants]
        for spread in (0.0, SPREAD, SPREAD):
            self._keep(self.builder.build(areas, spread=spread, is_quick=True))
        relaxed = relax(self.demand, lambda: self._late(RELAX_UNTIL), self.pool)
        made = [one.count for one in self.demand.wants]
        self.bound = self._proven(relaxed, made)
        self.pool += relaxed.patterns
        self._choose()
        for number in range(BUILDS // BATCH):
            if self._is_done():
                break
            self._batch(relaxed.values, areas, is_quick=not number)
            self._choose()
        return self._result(relaxed)

    def _warm_up(self) -> None:
        """Have the loops compiled; that takes seconds in which nothing is searched."""
        begun = self.limit.elapsed
        one = Stock(length=1, width=1, cost=0, count=1, serves=frozenset({0}))
        Counted((Want(((1, 1),), 1),), one).fill([1.0], [1])
        self.limit.pause(self.limit.elapsed - begun)

    def _batch(
        self, values: tuple[float, ...], areas: list[float], *, is_quick: bool
    ) -> None:
        """Build plans by values of the relaxation and by area, moved by chance."""
        whole = sum(areas) or 1.0
        scale = sum(values) / whole
        for number in range(BATCH):
            if self._is_done():
                break
            mix = self.rng.random()
            mixed = [
                mix * v + (1 - mix) * scale * a for v, a in zip(values, areas, strict=True)
            ]
            spread = SPREAD * (number % 4) / 3
            self._keep(self.builder.build(mixed, spread=spread, is_quick=is_quick))

    def _choose(self) -> None:
        """Choose anew among all patterns that are known."""
        if self._is_proven():
            return
        found = choose(
            self.demand, self.pool, self.best, self.bound,
            seconds=self._time_to_choose(), seed=self.seed, work=self.limit.work,
        )  # fmt: skip
        if found is not None:
            self._keep(found)

    def _time_to_choose(self) -> float:
        """Return seconds for one choice, no more than are left but for a few tenths."""
        time = self.limit.time(CHOICE_SHARE, LEAST_CHOICE)
        if self.asked_to_stop():
            return LEAST_CHOICE
        if self.limit.is_steady:
            return time
        return max(LEAST_CHOICE, min(time, self.limit.seconds - self.limit.elapsed))

    def _keep(self, plan: tuple[Pattern, ...]) -> None:
        self.pool += plan
        cost = cost_of(self.demand, plan)
        if cost < self.cost - 1e-6:
            self.best, self.cost = plan, cost

    def _is_done(self) -> bool:
        return self._late(1.0) or self._is_proven()

    def _is_proven(self) -> bool:
        """Whether no plan is cheaper by more than is asked for."""
        near = self.bound * (1 + self.gap) + self._step() - 1
        return self.cost <= max(near, self.bound) + 1e-6

    def _step(self) -> int:
        """Return what the cost of any plan is a multiple of, 1 if cuts or yards count."""
        demand = self.demand
        if demand.per_cut or any(demand.trips.values()) or demand.orders:
            return 1
        return gcd(*(one.cost for one in demand.stocks)) or 1

    def _late(self, share: float) -> bool:
        if self.asked_to_stop():
            return True
        return not self.limit.is_steady and self.limit.share > share

    def _proven(self, relaxed: Relaxed, made: list[int]) -> float:
        seconds = 0.5 if self.asked_to_stop() else max(0.5, self.limit.time(0.1))
        return whole_bound(
            self.demand, relaxed.rulings, made, seconds=seconds, work=self.limit.work
        )

    def _result(self, relaxed: Relaxed) -> Cut:
        """Return the plan without surplus pieces, and the bound for what it makes."""
        lacks = missing(self.demand, self.best)
        bound = self.bound
        if lacks:
            made = [one.count - lacks[n] for n, one in enumerate(self.demand.wants)]
            bound = self._proven(relaxed, made)
        patterns = tuple(_single(self.demand, self.best))
        wants = tuple(
            replace(one, count=one.count - lacks[n])
            for n, one in enumerate(self.demand.wants)
        )
        cost = cost_of(replace(self.demand, wants=wants), patterns)
        return Cut(patterns, cost, min(bound, cost), tuple(relaxed.rulings))


def _single(demand: Demand, plan: tuple[Pattern, ...]) -> list[Pattern]:
    """Return a plan sheet by sheet, without pieces beyond the demand."""
    left = [one.count for one in demand.wants]
    found = []
    for pattern in plan:
        for _ in range(pattern.times):
            tree = cut_short(pattern.tree, left)
            if tree is None:
                continue
            one = Pattern(pattern.stock, tree)
            for number, count in one.holds.items():
                left[number] -= count
            found.append(one)
    return found
