"""Large neighbourhoods: take sections or boards back, cut anew, keep what is better.

Ruin and recreate (Schrimpf et al. 2000) under simulated annealing. Between moves a plan
may lack something, at a price a little above what the linear master says it is worth to
make; so the search can walk through sets of boards that are just too small.
"""

from __future__ import annotations

import math
import random
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from typing import Protocol

import numpy as np

from nesting.build import Builder, shaken
from nesting.columns import Rows
from nesting.cuttings import (
    SCALE,
    Choice,
    Cut,
    Cutting,
    Left,
    choice_of,
    cutting_of,
    everything,
    spread_of,
)
from nesting.patterns import Floats, Values
from nesting.problem import Bin, Problem, fixed_costs

HEAT = 0.0005  # temperature to begin with, as a share of the best cost
GREED = 1.35  # what a lack counts, over its value in the linear master


@dataclass(slots=True)
class State:
    """Cuttings by bin, and what they leave wanted."""

    cuttings: dict[int, Cutting]
    left: Left
    cost: float = 0.0


class Search(Protocol):
    """A running search: where it stands and the best complete plan it has seen.

    Attributes
    ----------
    best
        Best plan it knows.
    now
        Cost of where it stands, in cents, lacks counted at their price.
    is_whole
        Whether nothing lacks where it stands.
    is_alone
        Whether it may use one core only.
    done
        Steps made so far.
    wanted
        What is wanted while nothing is cut.
    """

    best: Choice
    is_alone: bool
    done: int
    wanted: Left

    @property
    def now(self) -> float:
        """Cost of where it stands."""

    @property
    def is_whole(self) -> bool:
        """Whether nothing lacks where it stands."""

    @property
    def cuttings(self) -> tuple[Cutting, ...]:
        """What is cut where it stands."""

    def begin(self, cuttings: Iterable[Cutting], bins: frozenset[int] | None) -> None:
        """Go on from cuttings, as far as their bins are open; None opens every bin."""

    def draw_together(self, apart: float) -> None:
        """From the best plan on, count `apart` cents for each board of each panel."""

    def cut_anew(self, bins: frozenset[int]) -> tuple[Cutting, ...]:
        """Return how bins may be cut for all that is wanted, once, without a search."""

    def run(self, heat: float) -> bool:
        """Step a while at a temperature that is a share of the best cost.

        Return whether the best complete plan got better.
        """


@dataclass(slots=True)
class Places:
    """Where searches within sets of bins were left, to be gone on with.

    Attributes
    ----------
    open
        The set that the search is in; None outside.
    """

    search: Search
    open: frozenset[int] | None = None
    promising: list[tuple[float, tuple[Cutting, ...], frozenset[int]]] = field(
        default_factory=list
    )

    def enter(self, bins: frozenset[int], *starts: Iterable[Cutting]) -> None:
        """Search within a set of bins only, from the start that costs least there."""
        self.open = bins
        costs = []
        for start in starts:
            self.search.begin(start, bins)
            costs.append(self.search.now)
        best = min(range(len(costs)), key=lambda n: costs[n])
        if best < len(costs) - 1:
            self.search.begin(starts[best], bins)

    def leave(self) -> None:
        """Search among all bins again, from the best plan known."""
        if self.open is not None and not self.search.is_whole:
            self.promising.append((self.search.now, self.search.cuttings, self.open))
        self.open = None
        self.search.begin(self.search.best.cuttings, None)

    def resume(self) -> None:
        """Go on within the set that lacked least of all, if that may still pay."""
        if not self.promising:
            return
        number = min(range(len(self.promising)), key=lambda n: self.promising[n][0])
        cost, cuttings, bins = self.promising.pop(number)
        if cost < self.search.best.cost / SCALE:
            self.open = bins
            self.search.begin(cuttings, bins)


@dataclass(slots=True)
class PlainSearch:
    """A search in plain Python, one neighbourhood a step.

    Attributes
    ----------
    lure
        Per bin, what its best pattern is worth per cost.
    open
        Bins that may be used at all; None for every one.
    apart
        What each board counts that gives staves to a panel, beside its cost, in cents.
    """

    problem: Problem
    values: Values
    rng: random.Random
    lure: Sequence[float]
    best: Choice
    open: frozenset[int] | None = None
    apart: float = 0.0
    is_alone: bool = True
    done: int = 0
    wanted: Left = field(init=False)
    state: State = field(init=False)

    def __post_init__(self) -> None:
        """Start from the best plan known."""
        self.wanted = everything(self.problem)
        self.begin(self.best.cuttings, None)

    def begin(self, cuttings: Iterable[Cutting], bins: frozenset[int] | None) -> None:
        """Go on from cuttings, as far as their bins are open."""
        self.open = bins
        kept = {c.bin: c for c in cuttings if bins is None or c.bin in bins}
        left = self.wanted.copy().use_all(self.problem, kept.values())
        self.state = State(kept, left)
        self.state.cost = self.cost(self.state)

    @property
    def now(self) -> float:
        """Cost of where the search stands, in cents."""
        return self.state.cost

    @property
    def is_whole(self) -> bool:
        """Whether nothing lacks where it stands."""
        return self.state.left.is_done

    @property
    def cuttings(self) -> tuple[Cutting, ...]:
        """What is cut where it stands."""
        return tuple(self.state.cuttings.values())

    def cut_anew(self, bins: frozenset[int]) -> tuple[Cutting, ...]:
        """Return how bins may be cut for all that is wanted, once, without a search."""
        builder = Builder(self.problem, self.values, self.rng, self.lure)
        some = [self.problem.bins[b] for b in sorted(bins)]
        return tuple(builder.build(some, self.wanted.copy(), set()))

    def draw_together(self, apart: float) -> None:
        """From the best plan on, count `apart` cents for each board of each panel."""
        self.apart = apart
        self.begin(self.best.cuttings, None)

    def cost(self, state: State) -> float:
        """Return a state's cost in cents, lacks counted at their price."""
        total = sum(cutting.cost for cutting in state.cuttings.values()) / SCALE
        if self.apart:
            total += self.apart * spread_of(state.cuttings.values())
        total += fixed_costs(self.problem, (self.problem.bins[b] for b in state.cuttings))
        for i, count in state.left.pieces.items():
            if count:
                total += GREED * count * float(self.values.piece[i])
        for i, units in state.left.panels.items():
            for net, _, _ in units:
                if net > 0:
                    item = self.problem.items[i]
                    least = max(net, item.low - item.joint)
                    total += GREED * float(
                        self.values.net[i] * least + self.values.stave[i]
                    )
        return total

    def run(self, heat: float) -> bool:
        """Try one neighbourhood; return whether the best complete plan got better."""
        self.done += 1
        degrees = heat * abs(self.best.cost) / SCALE
        state = State(dict(self.state.cuttings), self.state.left.copy())
        touched = self._ruin(state)
        self._recreate(state, touched)
        state.cost = self.cost(state)
        rise = state.cost - self.state.cost
        if rise <= 0 or (degrees > 0 and self.rng.random() < math.exp(-rise / degrees)):
            self.state = state
        if state.left.is_done:
            choice = choice_of(self.problem, state.cuttings.values(), state.left)
            if choice.rated(self.apart) < self.best.rated(self.apart):
                self.best = choice
                return True
        return False

    def _ruin(self, state: State) -> list[int]:
        """Take sections or whole boards back; return the boards that may be cut again."""
        used = sorted(state.cuttings)
        if not used:
            return []
        whole = self.rng.random() < 0.4
        most = 3 if whole else 4
        picked = self.rng.sample(used, min(len(used), self.rng.randint(1, most)))
        for index in picked:
            cutting = state.cuttings.pop(index)
            kept = [] if whole else self._keep(self.problem.bins[index], cutting.cuts)
            for cut in cutting.cuts:
                if cut not in kept:
                    state.left.undo(self.problem, cut)
            if kept:
                state.cuttings[index] = cutting_of(self.problem, index, kept)
        if whole and self.rng.random() < 0.6:
            picked = picked[1:]
        return picked

    def _keep(self, one: Bin, cuts: tuple[Cut, ...]) -> list[Cut]:
        """Return the sections that stay: any of a plain board, the first ones of others."""
        if one.is_plain:
            return [cut for cut in cuts if self.rng.random() < 0.5]
        return list(cuts[: self.rng.randint(0, len(cuts))])

    def _recreate(self, state: State, touched: list[int]) -> None:
        """Cut the touched boards anew; then add boards, mostly until nothing lacks."""
        values = shaken(self.values, self.rng, 0.25)
        builder = Builder(self.problem, values, self.rng, self.lure)
        self.rng.shuffle(touched)
        for index in touched:
            one = self.problem.bins[index]
            cuts = list(state.cuttings[index].cuts) if index in state.cuttings else []
            builder.extend(one, cuts, state.left)
            if cuts:
                state.cuttings[index] = cutting_of(self.problem, index, cuts)
        if state.left.is_done:
            return
        most = 10**9 if self.rng.random() < 0.7 else self.rng.randint(0, 1)
        bins = [
            one
            for one in self.problem.bins
            if one.index not in state.cuttings
            and (self.open is None or one.index in self.open)
        ]
        visited = {yard for b in state.cuttings if (yard := self.problem.bins[b].yard)}
        for cutting in builder.build(bins, state.left, visited, most):
            state.cuttings[cutting.bin] = cutting


def lack_prices(problem: Problem, rows: Rows, values: Values) -> Floats:
    """Return what a unit of each row of the demand counts if it lacks, in cents."""
    prices = np.zeros(len(rows.demand))
    for item in problem.items:
        row = rows.first[item.index]
        if item.is_panel:
            prices[row] = GREED * values.net[item.index]
            prices[row + 1] = GREED * values.stave[item.index]
        else:
            prices[row] = GREED * values.piece[item.index]
    return prices


def improve(
    search: Search,
    *,
    stop: Callable[[], bool],
    progress: Callable[[], float],
    on_better: Callable[[Choice], None],
) -> None:
    """Step until `stop`; `progress` is the share of the time that is gone."""
    while not stop():
        if search.run(HEAT * max(0.0, 1.0 - progress()) ** 2):
            on_better(search.best)
