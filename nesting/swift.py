"""The search in compiled loops, behind the same interface as the plain one."""

from __future__ import annotations

import random
import time
from collections.abc import Iterable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field

from nesting.annealing import build, price_bin, steps, total_cost
from nesting.build import shaken
from nesting.carving import is_done, use_section
from nesting.compiled import IS_COMPILED
from nesting.cuttings import Choice, Cutting, Left, choice_of, everything
from nesting.improve import GREED, PlainSearch, Search
from nesting.packed import (
    BEST_CODE,
    BEST_SIZE,
    CODE,
    CODES,
    LEFT,
    MONEY,
    OPEN,
    SAVED_BIN,
    SHAKEN,
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

WALKERS = 2
NAMES = (
    CODES, SIZE, LEFT, OPEN, BEST_CODE, BEST_SIZE, MONEY, VALUES, SHAKEN, SAVED_BIN,
)  # fmt: skip
FIRST_BATCH, STEADY_BATCH, MOST_BATCH = 20, 200, 5000
AMONG = 32  # bins, the best of which is cut next when bins are cut anew
ANEW = 0.05  # most by which values are shaken before bins are cut anew
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
    *,
    steady: bool = False,
) -> Search:
    """Return a search from the best plan known, compiled if that can be.

    A `steady` one goes by steps, whatever time they take.
    """
    if not IS_COMPILED:
        return PlainSearch(problem, values, rng, lure, best)
    return SwiftSearch(problem, values, rng.getrandbits(30), lure, best, steady=steady)


@dataclass
class Walker:
    """One state of a search in compiled loops.

    Attributes
    ----------
    seed
        Of its random numbers.
    """

    problem: Problem
    packed: Packed
    values: Values
    seed: int
    state: State = field(init=False)

    def __post_init__(self) -> None:
        """Start with nothing cut."""
        self.state = fresh_state(self.problem, self.packed, self.values, self.seed)
        self.args = (*self.packed, *self.state)
        self.share = int(self.packed.whole[CODE])
        self.places = {name: int(self.state.whole[name]) for name in NAMES}

    def begin(
        self,
        wanted: Left,
        cuttings: Iterable[Cutting],
        bins: frozenset[int] | None,
        best: float,
    ) -> None:
        """Go on from cuttings; `best` is the cost of the best plan known, in cents."""
        numbers, at = self.state.whole, self.places
        for b in range(len(self.problem.bins)):
            numbers[at[SIZE] + b] = 0
            numbers[at[OPEN] + b] = int(bins is None or b in bins)
        for k, number in enumerate(packed_left(self.problem, wanted)):
            numbers[at[LEFT] + k] = number
        for cutting in cuttings:
            if bins is None or cutting.bin in bins:
                self._load(cutting)
        self.state.real[at[MONEY] + 1] = best

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

    def weigh(self, greed: float) -> None:
        """Count the state's cost anew, with this price on lacks."""
        cost = total_cost(*self.args, self.places[VALUES], greed)
        self.state.real[self.places[MONEY]] = cost

    @property
    def cost(self) -> float:
        """Cost of the state, in cents."""
        return float(self.state.real[self.places[MONEY]])

    @property
    def best(self) -> float:
        """Cost of the best complete plan it has seen or been told of."""
        return float(self.state.real[self.places[MONEY] + 1])

    @property
    def is_whole(self) -> bool:
        """Whether nothing lacks."""
        return bool(is_done(*self.args, self.places[LEFT]))

    def cut_anew(self, values: Values) -> None:
        """Cut open bins, for these values, until nothing is wanted or nothing fits."""
        at = self.places[SHAKEN]
        for k, value in enumerate((*values.piece, *values.net, *values.stave)):
            self.state.real[at + k] = value
        saved = self.places[SAVED_BIN]
        while True:
            self.state.whole[saved] = 0  # there is nothing to take back
            build(*self.args, at, len(self.problem.bins), AMONG)
            if not self.state.whole[saved]:
                break

    def steps(self, count: int, heat: float, greed: float) -> float:
        """Step so often; return the share of steps that ended with nothing lacking."""
        steps(*self.args, self.places[VALUES], count, heat, greed)
        return float(self.state.real[self.places[MONEY] + 2]) / max(1, count)

    def cuttings(self, *, best: bool = False) -> tuple[Cutting, ...]:
        """Return what is cut, in the state or in the best plan."""
        codes, sizes = (BEST_CODE, BEST_SIZE) if best else (CODES, SIZE)
        numbers, at = self.state.whole, self.places
        found = []
        for b in range(len(self.problem.bins)):
            size = int(numbers[at[sizes] + b])
            if size:
                first = at[codes] + b * self.share
                code = [numbers[first + k] for k in range(size)]
                found.append(unpacked_cutting(self.problem, self.packed, b, code))
        return tuple(found)


class SwiftSearch:
    """Two searches in compiled loops side by side, many neighbourhoods a run.

    Attributes
    ----------
    greed
        What a lack counts, over its value in the linear master: raised while states are
        seldom complete, lowered while they often are.
    batch
        Steps of one run.
    apart
        What each board counts that gives staves to a panel, beside its cost, in cents.
    steady
        Whether a batch always is as many steps, whatever time they take.
    is_alone
        Whether one walker only steps, because something else needs the other core.
    """

    def __init__(
        self,
        problem: Problem,
        values: Values,
        seed: int,
        lure: Sequence[float],
        best: Choice,
        *,
        steady: bool = False,
    ) -> None:
        self.problem = problem
        self.best = best
        self.wanted = everything(problem)
        self.rng = random.Random(seed)  # noqa: S311 - not for secrets
        self.greed = GREED
        self.apart = 0.0
        self.batch = STEADY_BATCH if steady else FIRST_BATCH
        self.steady = steady
        self.is_alone = False
        self.done = 0
        flat = packed(problem, lure)
        self.walkers = [Walker(problem, flat, values, seed + n) for n in range(WALKERS)]
        self.pool = ThreadPoolExecutor(WALKERS)
        self.begin(best.cuttings, None)
        self.walkers[0].steps(0, 0.0, self.greed)  # compiled here, not in the first run

    def begin(self, cuttings: Iterable[Cutting], bins: frozenset[int] | None) -> None:
        """Go on from cuttings, as far as their bins are open; None opens every bin."""
        cuttings = tuple(cuttings)
        for walker in self.walkers:
            walker.state.real[walker.places[MONEY] + 3] = self.apart
            walker.begin(self.wanted, cuttings, bins, self.best.rated(self.apart))
            walker.weigh(self.greed)

    def draw_together(self, apart: float) -> None:
        """From the best plan on, count `apart` cents for each board of each panel."""
        self.apart = apart
        self.begin(self.best.cuttings, None)

    @property
    def leader(self) -> Walker:
        """The walker whose state costs least."""
        return min(self.walkers, key=lambda walker: walker.cost)

    @property
    def now(self) -> float:
        """Cost of where the search stands, in cents."""
        return self.leader.cost

    @property
    def is_whole(self) -> bool:
        """Whether nothing lacks where it stands."""
        return self.leader.is_whole

    @property
    def cuttings(self) -> tuple[Cutting, ...]:
        """What is cut where it stands."""
        return self.leader.cuttings()

    def cut_anew(self, bins: frozenset[int]) -> tuple[Cutting, ...]:
        """Return how bins may be cut for all that is wanted, once, without a search."""
        self.begin((), bins)
        values = [shaken(walker.values, self.rng, ANEW) for walker in self.walkers]
        list(self.pool.map(Walker.cut_anew, self.walkers, values))
        for walker in self.walkers:
            walker.weigh(self.greed)
        return self.leader.cuttings()

    def run(self, heat: float) -> bool:
        """Step a while; return whether the best complete plan got better."""
        begun = time.monotonic()
        others = [] if self.is_alone else self.walkers[1:]
        running = [
            self.pool.submit(walker.steps, self.batch, heat, self.greed)
            for walker in others
        ]
        shares = [self.walkers[0].steps(self.batch, heat, self.greed)]
        shares += [one.result() for one in running]
        self.done += self.batch * len(shares)
        self._pace(time.monotonic() - begun)
        self._adapt(sum(shares) / len(shares))
        first = min(self.walkers, key=lambda walker: walker.best)
        if first.best >= self.best.rated(self.apart) - 0.01:
            return False
        return self._keep(first.cuttings(best=True))

    def _keep(self, cuttings: tuple[Cutting, ...]) -> bool:
        """Keep a plan as the best, if it is one when counted anew."""
        left = self.wanted.copy().use_all(self.problem, cuttings)
        choice = choice_of(self.problem, cuttings, left)
        rate = choice.rated(self.apart)
        if not choice.is_complete or rate >= self.best.rated(self.apart):
            return False
        self.best = choice
        for walker in self.walkers:
            walker.state.real[walker.places[MONEY] + 1] = rate
        return True

    def _pace(self, took: float) -> None:
        """Change the batch so that a run takes about `BATCH` seconds."""
        if self.steady:
            return
        if took < BATCH / 2:
            self.batch = min(2 * self.batch, MOST_BATCH)
        elif took > 2 * BATCH:
            self.batch = max(1, self.batch // 2)

    def _adapt(self, whole: float) -> None:
        """Change greed so that some states are complete, and some are not."""
        if whole < RARELY:
            self.greed = min(MOST_GREED, self.greed * PATIENCE)
        elif whole > OFTEN:
            self.greed = max(LEAST_GREED, self.greed / PATIENCE)
        else:
            return
        for walker in self.walkers:
            walker.weigh(self.greed)
