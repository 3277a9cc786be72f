"""The search in compiled loops, behind the same interface as the plain one."""

from __future__ import annotations

import random
import time
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from nesting.annealing import price_bin, steps, total_cost
from nesting.carving import is_done, use_section
from nesting.compiled import IS_COMPILED
from nesting.cuttings import SCALE, Choice, Cutting, choice_of, everything
from nesting.improve import GREED, PlainSearch, Search
from nesting.packed import (
    BEST_CODE,
    BEST_SIZE,
    CODE,
    CODES,
    LEFT,
    MONEY,
    OPEN,
    SIZE,
    VALUES,
    Packed,
    State,
    fresh_state,
    packed,
    packed_cutting,
    packed_left,
    unpacked_cutting,
)
from nesting.patterns import Values
from nesting.problem import Problem

BATCH = 0.05  # seconds, about, that one run takes
RARELY, OFTEN = 0.1, 0.4  # shares of complete states that greed keeps between
PATIENCE = 1.02  # factor by which greed changes after a batch
LEAST_GREED, MOST_GREED = 0.9, 3.0


def search_for(
    problem: Problem,
    values: Values,
    rng: random.Random,
    lure: Sequence[float],
    best: Choice,
) -> Search:
    """Return a search from the best plan known, compiled if that can be."""
    if not IS_COMPILED:
        return PlainSearch(problem, values, rng, lure, best)
    return SwiftSearch(problem, values, rng.getrandbits(30), lure, best)


@dataclass
class SwiftSearch:
    """A search in compiled loops, many neighbourhoods a run.

    Attributes
    ----------
    seed
        Of its random numbers.
    greed
        What a lack counts, over its value in the linear master: raised while states are
        seldom complete, lowered while they often are.
    batch
        Steps of one run.
    """

    problem: Problem
    values: Values
    seed: int
    lure: Sequence[float]
    best: Choice
    greed: float = GREED
    batch: int = 20
    done: int = 0
    packed: Packed = field(init=False)
    state: State = field(init=False)

    def __post_init__(self) -> None:
        """Start from the best plan known."""
        self.packed = packed(self.problem, self.lure)
        self.state = fresh_state(self.problem, self.packed, self.values, self.seed)
        self.args = (*self.packed, *self.state)
        self.share = int(self.packed.whole[CODE])
        self.places = {
            name: int(self.state.whole[name])
            for name in (CODES, SIZE, LEFT, OPEN, BEST_CODE, BEST_SIZE, MONEY, VALUES)
        }
        self.begin(self.best.cuttings, None)

    def begin(self, cuttings: Iterable[Cutting], bins: frozenset[int] | None) -> None:
        """Go on from cuttings, as far as their bins are open; None opens every bin."""
        numbers, amounts = self.state
        at = self.places
        for b in range(len(self.problem.bins)):
            numbers[at[SIZE] + b] = 0
            numbers[at[OPEN] + b] = int(bins is None or b in bins)
        for k, number in enumerate(packed_left(self.problem)):
            numbers[at[LEFT] + k] = number
        for cutting in cuttings:
            if bins is None or cutting.bin in bins:
                self._load(cutting)
        amounts[at[MONEY]] = total_cost(*self.args, at[VALUES], self.greed)
        amounts[at[MONEY] + 1] = self.best.cost / SCALE

    def _load(self, cutting: Cutting) -> None:
        numbers, at = self.state.whole, self.places
        code = packed_cutting(self.problem, self.packed, cutting)
        if len(code) > self.share:  # more than a bin's share holds: begin it anew
            return
        first = at[CODES] + cutting.bin * self.share
        for k, number in enumerate(code):
            numbers[first + k] = number
        numbers[at[SIZE] + cutting.bin] = len(code)
        k = 0
        while k < len(code):
            use_section(*self.args, at[LEFT], cutting.bin, first, k, 1)
            k += code[k]
        price_bin(*self.args, cutting.bin)

    @property
    def now(self) -> float:
        """Cost of where the search stands, in cents."""
        return float(self.state.real[self.places[MONEY]])

    @property
    def is_whole(self) -> bool:
        """Whether nothing lacks where it stands."""
        return bool(is_done(*self.args, self.places[LEFT]))

    @property
    def cuttings(self) -> tuple[Cutting, ...]:
        """What is cut where it stands."""
        return self._unpacked(CODES, SIZE)

    def _unpacked(self, codes: int, sizes: int) -> tuple[Cutting, ...]:
        numbers, at = self.state.whole, self.places
        found = []
        for b in range(len(self.problem.bins)):
            size = int(numbers[at[sizes] + b])
            if size:
                first = at[codes] + b * self.share
                code = numbers[first : first + size]
                found.append(unpacked_cutting(self.problem, self.packed, b, code))
        return tuple(found)

    def run(self, heat: float) -> bool:
        """Step for about `BATCH` seconds; return whether the best plan got better."""
        begun = time.monotonic()
        better = steps(*self.args, self.places[VALUES], self.batch, heat, self.greed)
        took = time.monotonic() - begun
        self.done += self.batch
        whole = self.state.real[self.places[MONEY] + 2] / self.batch
        self._adapt(whole)
        if took < BATCH / 2:
            self.batch = min(2 * self.batch, 5000)
        elif took > 2 * BATCH:
            self.batch = max(1, self.batch // 2)
        if not better:
            return False
        cuttings = self._unpacked(BEST_CODE, BEST_SIZE)
        left = everything(self.problem)
        for cutting in cuttings:
            for cut in cutting.cuts:
                left.use(self.problem, self.problem.bins[cutting.bin], cut)
        choice = choice_of(self.problem, cuttings, left)
        if choice.is_complete and choice.cost < self.best.cost:
            self.best = choice
            return True
        return False

    def _adapt(self, whole: float) -> None:
        """Change greed so that some states are complete, and some are not."""
        if whole < RARELY:
            self.greed = min(MOST_GREED, self.greed * PATIENCE)
        elif whole > OFTEN:
            self.greed = max(LEAST_GREED, self.greed / PATIENCE)
        else:
            return
        self.state.real[self.places[MONEY]] = total_cost(
            *self.args, self.places[VALUES], self.greed
        )
