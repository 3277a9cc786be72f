"""From many random piles to an answer: how many board feet to buy, and how sure that is.

Piles do not depend on each other, so they run on any `concurrent.futures.Executor`; what
each comes to depends on its number and the seed alone.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from concurrent.futures import Executor, Future, as_completed
from dataclasses import dataclass
from fractions import Fraction

from nesting.piles import Job, Need, job_for, needs_of
from nesting.project import Project
from nesting.unseen import Kind, Source, check_prices, kinds_of, on_the_rack, sources_for
from stock.boards import board_feet

SHARES = (50, 80, 90, 95)  # percent of the piles that a figure is enough for
CHUNK = 10  # piles that one worker does at a time


@dataclass(frozen=True, kw_only=True)
class Estimate:
    """What the piles of one source came to.

    Attributes
    ----------
    needs
        One entry per pile, in the order of their numbers.
    rack_feet
        Board feet of the shop's own boards that were cut first.
    """

    kind: Kind
    source: Source
    needs: tuple[Need, ...]
    rack_feet: Fraction

    def feet_for(self, percent: Fraction | int) -> Fraction | None:
        """Return the board feet that are enough for this share of the piles.

        The smallest observed figure that so many piles do not exceed; None if more piles
        than that do not make everything at all.
        """
        return self._at("feet", self._place(percent))

    def boards_for(self, percent: Fraction | int) -> int | None:
        """Return how many boards that share of the piles does not exceed."""
        found = self._at("boards", self._place(percent))
        return None if found is None else int(found)

    def pay_for(self, feet: Fraction) -> int:
        """Return what so many board feet cost, in cents, at the piles' mean price."""
        sold = sum((need.feet or Fraction(0) for need in self.needs), Fraction(0))
        paid = sum(need.pay for need in self.needs)
        if not sold:  # nothing was bought of any pile that is enough
            return 0
        return math.ceil(feet * paid / sold)

    def enough(self, feet: Fraction) -> float:
        """Return the share of the piles of which so many board feet make everything."""
        kept = sum(1 for need in self.needs if need.feet is not None and need.feet <= feet)
        return kept / len(self.needs)

    def error_at(self, percent: Fraction | int) -> float | None:
        """Return the standard error of `feet_for`, in board feet.

        Half the distance between the order statistics one standard deviation of the
        binomial count below and above (distribution-free; from memory of the theory of
        order statistics). None where they are not known.
        """
        count, share = len(self.needs), float(percent) / 100
        away = math.sqrt(count * share * (1 - share))
        low = self._at("feet", math.floor(count * share - away))
        high = self._at("feet", math.ceil(count * share + away))
        if low is None or high is None:
            return None
        return float(high - low) / 2

    def _place(self, percent: Fraction | int) -> int:
        """Return which pile, the least first, so many percent do not exceed."""
        return math.ceil(Fraction(percent) * len(self.needs) / 100)

    def _at(self, name: str, place: int) -> Fraction | None:
        """Return a figure of the pile at a place; None where it is not enough."""
        known = (getattr(need, name) for need in self.needs)
        values = sorted(Fraction(value) for value in known if value is not None)
        place = min(max(1, place), len(self.needs))
        return values[place - 1] if place <= len(values) else None


@dataclass(frozen=True, kw_only=True, slots=True)
class Answer:
    """The estimates of one kind of wood, and which of them costs least."""

    kind: Kind
    estimates: tuple[Estimate, ...]
    cheapest: Estimate | None


def estimate(
    project: Project,
    executor: Executor,
    *,
    piles: int,
    seed: int,
    picks: bool = False,
    on_progress: Callable[[int, int], None] = lambda _done, _of: None,
) -> tuple[Answer, ...]:
    """Return, per kind of wood, what buying it unseen takes from each source.

    Raises
    ------
    InputError
        If a kind of wood is in no price list.
    """
    kinds = kinds_of(project)
    check_prices(project, kinds)
    racks = on_the_rack(project, kinds)
    jobs = [
        job_for(project, kind, source, rack, seed=seed, picks=picks)
        for kind, rack in zip(kinds, racks, strict=True)
        for source in sources_for(project, kind)
    ]
    needs = _run(jobs, executor, piles, on_progress)
    found = [_estimate(job, some) for job, some in zip(jobs, needs, strict=True)]
    return tuple(_answer(project, kind, found) for kind in kinds)


def _run(
    jobs: Sequence[Job],
    executor: Executor,
    piles: int,
    on_progress: Callable[[int, int], None],
) -> list[tuple[Need, ...]]:
    """Return the needs of all piles of all jobs, in order, whatever order they end in."""
    waiting: dict[Future[list[Need]], tuple[int, range]] = {}
    for number, job in enumerate(jobs):
        for first in range(0, piles, CHUNK):
            some = range(first, min(first + CHUNK, piles))
            waiting[executor.submit(needs_of, job, some)] = (number, some)
    found: dict[tuple[int, int], Need] = {}
    done = 0
    try:
        for future in as_completed(waiting):
            number, some = waiting[future]
            for pile, need in zip(some, future.result(), strict=True):
                found[number, pile] = need
            done += len(some)
            on_progress(done, len(jobs) * piles)
    finally:
        for future in waiting:
            future.cancel()
    return [
        tuple(found[number, pile] for pile in range(piles)) for number in range(len(jobs))
    ]


def _estimate(job: Job, needs: tuple[Need, ...]) -> Estimate:
    unit = job.project.unit
    return Estimate(
        kind=job.kind, source=job.source, needs=needs,
        rack_feet=sum((board_feet(board, unit) for board in job.rack), Fraction(0)),
    )  # fmt: skip


def _answer(project: Project, kind: Kind, found: Sequence[Estimate]) -> Answer:
    """Return a kind's estimates with the one that costs least at the shop's confidence."""
    own = tuple(one for one in found if one.kind == kind)
    confidence = project.shop.confidence
    priced = [
        (one.pay_for(feet), number)
        for number, one in enumerate(own)
        if (feet := one.feet_for(confidence)) is not None
    ]
    cheapest = own[min(priced)[1]] if priced else None
    return Answer(kind=kind, estimates=own, cheapest=cheapest)
