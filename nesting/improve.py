"""Large neighbourhoods: take a few boards back, cut them anew, keep what is better.

Ruin and recreate (Schrimpf et al. 2000) with a falling threshold of acceptance. A
neighbourhood gives up some boards, cuts their pieces from any board that is free, and is
kept if the whole costs less, or a little more while the search is young.
"""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import dataclass

from nesting.build import Builder, shaken
from nesting.cuttings import Choice, Cutting, choice_of, left_after
from nesting.patterns import Values
from nesting.problem import Problem


@dataclass(slots=True)
class Search:
    """A running search: where it stands and the best it has seen."""

    problem: Problem
    values: Values
    rng: random.Random
    now: Choice
    best: Choice

    def step(self, heat: float) -> bool:
        """Try one neighbourhood; return whether the best plan got better.

        `heat` is how much worse a plan may be to be accepted, as a share of its cost.
        """
        kept, removed = self._ruin()
        left = left_after(self.problem, kept)
        used = {cutting.bin for cutting in kept}
        if removed and self.rng.random() < 0.5:
            used.add(removed[0].bin)
        bins = [one for one in self.problem.bins if one.index not in used]
        visited = {yard for c in kept if (yard := self.problem.bins[c.bin].yard)}
        builder = Builder(self.problem, shaken(self.values, self.rng, 0.2), self.rng)
        new = builder.build(bins, left, visited)
        choice = choice_of(self.problem, (*kept, *new), left)
        if choice.cost <= self.now.cost + heat * abs(self.best.cost):
            self.now = choice
        if choice.cost < self.best.cost:
            self.best = choice
            return True
        return False

    def _ruin(self) -> tuple[list[Cutting], list[Cutting]]:
        """Split the current cuttings into those kept and those taken back."""
        cuttings = list(self.now.cuttings)
        self.rng.shuffle(cuttings)
        most = max(1, min(len(cuttings), 2 + len(cuttings) // 5))
        count = self.rng.randint(1, most)
        return cuttings[count:], cuttings[:count]


def improve(
    search: Search,
    *,
    stop: Callable[[], bool],
    progress: Callable[[], float],
    on_better: Callable[[Choice], None],
) -> None:
    """Step until `stop`; `progress` is the share of the time that is gone."""
    while not stop():
        heat = 0.015 * max(0.0, 1.0 - progress()) ** 2
        if search.step(heat):
            on_better(search.best)
