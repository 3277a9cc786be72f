"""The recipe for projects of hundreds of boards: relax, dive, search among the worst."""

from __future__ import annotations

import random
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial

import numpy as np

from nesting.build import cheapness
from nesting.bulk import area_duals, generator_for
from nesting.columns import Column, Relaxation, rows_for
from nesting.compiled import IS_COMPILED
from nesting.cuttings import SCALE, Choice, Cutting, Left, choice_of, everything
from nesting.dive import Dive, nearest
from nesting.improve import Search, improve
from nesting.patterns import Kernel, Values
from nesting.problem import Problem
from nesting.swift import search_for

MANY_BOARDS = 60.0  # likely used, from which on a project is large
# Share of the time until which the linear master is solved, how near its bound it has to
# be to stop before, and the rounds of new patterns of the dive that follows. The first
# stage is for a plan that is there soon.
STAGES = ((0.12, 0.015, 1), (0.45, 0.001, 5))
MARKED_UNTIL = 0.25  # the same where most boards have marks: no dive uses their patterns
SEARCHING = 0.93  # share of the time for all of the search
TRIES = 6  # plans built from one dive
GROUP = 16  # boards searched among at a time
STEPS, RUNS = 600, 40  # of a plain and of a compiled search among them
SPREAD = 0.3  # how much chance there is in which boards are thought the worst


@dataclass(frozen=True, slots=True)
class Watch:
    """What a search reports to, and asks whether to go on.

    Attributes
    ----------
    keep
        Takes a plan found and the phase it was found in.
    prove
        Takes a proven bound, in cents.
    late
        Whether a share of the time is gone, or the search was stopped.
    is_close
        Whether the best plan is as near its bound as was asked for.
    spend
        Takes how many steps of the search are made.
    is_steady
        Whether steps, not seconds, are the limit.
    """

    keep: Callable[[Choice, str], None]
    prove: Callable[[float], None]
    late: Callable[[float], bool]
    is_close: Callable[[], bool]
    spend: Callable[[int], None]
    is_steady: bool = False


def is_large(problem: Problem) -> bool:
    """Whether the demand takes about as many boards as would be too many to search."""
    if not problem.bins:
        return False
    usual = float(np.median([one.length * one.narrow for one in problem.bins]))
    wanted = sum(item.units * item.area for item in problem.items)
    likely = 1.15 * wanted / max(1.0, usual)  # 15 % of a board are waste and kerfs
    return min(likely, len(problem.bins)) > MANY_BOARDS


class LargeSearch:
    """The search: what is known of the problem, and the best plan so far."""

    def __init__(
        self,
        problem: Problem,
        kernels: tuple[Kernel, ...],
        rng: random.Random,
        watch: Watch,
    ) -> None:
        self.problem = problem
        self.kernels = kernels
        self.rng = rng
        self.watch = watch
        self.rows = rows_for(problem)
        self.duals = area_duals(problem, self.rows)
        self.values: Values = self.rows.values(problem, self.duals)
        self.lure: Sequence[float] = cheapness(problem)
        self.columns: list[Column] = []
        self.best: Choice | None = None
        self.search: Search | None = None

    def run(self) -> Relaxation:
        """Search until time is up; plans go to the watch. Return the relaxation."""
        generator = generator_for(self.problem, self.kernels, self.rows, self.watch.prove)
        few = 2 * sum(one.is_plain for one in self.problem.bins) < len(self.problem.bins)
        for share, tolerance, rounds in STAGES:
            until = min(share, MARKED_UNTIL) if few else share
            generator.run(stop=partial(self.watch.late, until), tolerance=tolerance)
            generator.prove()
            self.values = generator.result.values
            self._learn(generator.result)
            if self.best is None or not self._is_over():
                self._plunge(rounds)
        while not self._is_over():
            self._polish()
        return generator.result

    def _is_over(self) -> bool:
        return self.best is None or self.watch.late(SEARCHING) or self.watch.is_close()

    def _learn(self, relaxed: Relaxation) -> None:
        """Keep the best columns of each bin, and what each bin promises for its cost."""
        duals, worths = relaxed.history[-1]
        self.duals = duals
        bins = self.problem.bins
        self.lure = [float(worths[one.index]) / max(1, one.cost) for one in bins]
        prices = np.array([min(0.0, one.cost - worths[one.index]) for one in bins])
        plain = [column for column in relaxed.columns if bins[column.bin].is_plain]
        kept = nearest(plain, duals, prices, [0.0] * len(plain))
        self.columns = [plain[number] for number in kept]

    def _dive(self, rounds: int) -> Dive:
        """Return a dive: on plain bins only, and without matched panels."""
        left = self.rows.demand.copy()
        for item in self.problem.items:
            if item.match != "none":
                row = self.rows.first[item.index]
                left[row : row + 2] = 0.0
        return Dive(
            self.problem, self.kernels, self.rows, self.rng,
            lambda: self.watch.late(SEARCHING), left,
            {one.index for one in self.problem.bins if one.is_plain},
            list(self.columns), self.duals, rounds=rounds,
        )  # fmt: skip

    def _plunge(self, rounds: int) -> None:
        """Dive and keep the plan if it is the best; a first plan there is in any case."""
        dive = self._dive(rounds)
        found = dive.run()
        if found is None and self.best is None:
            found = dive.rush()
        if found is not None:
            self._finish(*found, 1 if self.best is None or IS_COMPILED else TRIES)

    def _finish(self, cuttings: list[Cutting], left: Left, tries: int) -> None:
        """Cut the last boards, a few times, and keep the best plan."""
        used = {cutting.bin for cutting in cuttings}
        bins = frozenset(range(len(self.problem.bins))) - used
        search = self._search_from(choice_of(self.problem, [], left))
        search.wanted = left
        best: Choice | None = None
        for _ in range(tries):
            if best is not None and self.watch.late(0.95):
                break
            done = search.cut_anew(bins)
            rest = left.copy().use_all(self.problem, done)
            choice = choice_of(self.problem, [*cuttings, *done], rest)
            if best is None or choice.cost < best.cost:
                best = choice
        if best is not None and (self.best is None or best.cost < self.best.cost):
            self.best = best
            self.watch.keep(best, "diving")

    def _polish(self) -> None:
        """Search among the worst boards of the best plan, and a few others, for a while."""
        if self.best is None:
            return
        chance = self.rng.random
        rated = sorted(
            (self._rate(cutting) * (1 + SPREAD * chance()), cutting.bin)
            for cutting in self.best.cuttings
        )
        taken = {b for _, b in rated[:GROUP]}
        kept = [c for c in self.best.cuttings if c.bin not in taken]
        tail = [c for c in self.best.cuttings if c.bin in taken]
        wanted = everything(self.problem).use_all(self.problem, kept)
        part = choice_of(self.problem, tail, wanted.copy().use_all(self.problem, tail))
        used = {cutting.bin for cutting in kept}
        search = self._search_from(part)
        search.wanted, search.best = wanted, part
        bins = (one.index for one in self.problem.bins)
        search.begin(tail, frozenset(b for b in bins if b not in used))
        steps, most = 0, RUNS if IS_COMPILED else STEPS

        def stop() -> bool:
            nonlocal steps
            steps += 1
            self.watch.spend(search.done)
            return steps > most or self._is_over()

        improve(
            search, stop=stop, progress=lambda: steps / most,
            on_better=lambda better: self._keep([*kept, *better.cuttings], better),
        )  # fmt: skip

    def _search_from(self, part: Choice) -> Search:
        """Return the one search, made when it is asked for first."""
        if self.search is None:
            self.search = search_for(
                self.problem, self.values, self.rng, self.lure, part,
                steady=self.watch.is_steady,
            )  # fmt: skip
        return self.search

    def _keep(self, cuttings: list[Cutting], part: Choice) -> None:
        """Keep a plan of which a part was found anew, if it is the best."""
        if not part.is_complete:
            return
        left = everything(self.problem).use_all(self.problem, cuttings)
        choice = choice_of(self.problem, cuttings, left)
        if self.best is None or choice.cost < self.best.cost:
            self.best = choice
            self.watch.keep(choice, "improving")

    def _rate(self, cutting: Cutting) -> float:
        """Return what a board makes for its cost, by the values of the master."""
        worth = 0.0
        for cut in cutting.cuts:
            worth += sum(float(self.values.piece[i]) for i in cut.pieces)
            worth += sum(
                float(self.values.net[g.item]) * g.net + float(self.values.stave[g.item])
                for g in cut.gives
                if g.unit >= 0
            )
        return worth * SCALE / max(1, cutting.cost)
