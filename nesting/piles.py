"""How much of a random pile makes everything: one pile after another.

From a pile boards are taken as they come, until what is taken makes everything; or the
best are picked out of a pile that holds plenty. Each pile has a proven least: for values
of the pieces as the linear master gives them, the boards taken must be worth the demand
(a cut of the bound for whole boards, `nesting.select`).
"""

from __future__ import annotations

import random
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import accumulate

import numpy as np

from nesting.columns import kernels_for, relax, rows_for
from nesting.compiled import IS_COMPILED
from nesting.cuttings import Choice, Cutting, choice_of, cutting_of, everything
from nesting.improve import GREED, PlainSearch
from nesting.packed import packed
from nesting.patterns import Floats, Values
from nesting.problem import Bin, Problem, cannot_make, problem_for
from nesting.project import Project
from nesting.swift import Walker
from nesting.unseen import Kind, Source, stage
from stock.boards import Board, board_feet
from stock.generator import Drawn, draw_board

POOL = 30  # boards that values are worked out on
POOL_ROUNDS = 60
PLENTY, MOST = 1.8, 4.0  # times the net feet in a pile: at first, and if that fails
BESIDES = 20  # board feet on top
STEPS, PLAIN_STEPS = 90, 6  # of the search, before one more board is taken
PICK_STEPS, PLAIN_PICK_STEPS = 1500, 40
BATCH_STEPS = 15
HEAT = 0.0005
UNKNOWN = 1e15  # cost of a plan that is yet to be found


@dataclass(frozen=True, kw_only=True)
class Job:
    """What piles are drawn for: a kind of wood and its source; it travels to workers.

    Attributes
    ----------
    rack
        The shop's own boards, cut before any other.
    picks
        Whether the best boards are picked out of a pile, instead of taken as they come.
    duals
        Values of the rows of the demand.
    """

    project: Project
    kind: Kind
    source: Source
    rack: tuple[Board, ...]
    seed: int
    picks: bool
    duals: Floats


@dataclass(frozen=True, kw_only=True, slots=True)
class Need:
    """What one pile came to.

    Attributes
    ----------
    boards, feet
        Boards bought and what they are sold as, in board feet; None if the pile does not
        make everything, however much of it is bought.
    pay
        What they cost, in cents, with charges and tax.
    least
        Board feet that less of this pile can't do with: proven.
    """

    boards: int | None
    feet: Fraction | None
    pay: int
    least: Fraction


def job_for(
    project: Project,
    kind: Kind,
    source: Source,
    rack: tuple[Board, ...],
    *,
    seed: int,
    picks: bool,
) -> Job:
    """Return a job, its values worked out on a pool of boards without defects."""
    rng = random.Random(f"pool {seed} {kind.label} {source.yard} {source.label}")  # noqa: S311
    job = Job(
        project=project, kind=kind, source=source, rack=rack, seed=seed, picks=picks,
        duals=np.zeros(0),
    )  # fmt: skip
    pool = [_draw(job, rng, f"board {n + 1}").usable for n in range(POOL)]
    clear = [replace(board, marks=()) for board in (*rack, *pool)]
    problem = problem_for(stage(project, kind, clear))
    relaxed = relax(
        problem, kernels_for(problem), rows_for(problem), stop=lambda: False,
        rounds=POOL_ROUNDS, tolerance=0.002,
    )  # fmt: skip
    return replace(job, duals=relaxed.history[-1][0])


def needs_of(job: Job, numbers: Sequence[int]) -> list[Need]:
    """Return what each of these piles comes to; the same numbers, the same piles."""
    found: dict[int, Need] = {}
    for times in (PLENTY, MOST):
        rest = [number for number in numbers if number not in found]
        piles = [_pile(job, number, times) for number in rest]
        worths = _worths(job, [one for pile in piles for one in pile])
        for number, pile in zip(rest, piles, strict=True):
            need = _need(job, number, pile, worths)
            if need.feet is not None or times == MOST:
                found[number] = need
    return [found[number] for number in numbers]


# --- piles ----------------------------------------------------------------------------


def _pile(job: Job, number: int, times: float) -> list[Drawn]:
    """Return a pile that holds so many times the net feet, and a few boards more."""
    rng = random.Random(  # noqa: S311 - not for secrets
        f"{job.seed} {job.kind.label} {job.source.yard} {job.source.label} {number}"
    )
    pile: list[Drawn] = []
    feet, wanted = Fraction(0), float(job.kind.feet)
    while feet < times * wanted + BESIDES:
        one = _draw(job, rng, f"pile {number} board {len(pile) + 1}")
        pile.append(one)
        feet += board_feet(one.sold, job.project.unit)
    return pile


def _draw(job: Job, rng: random.Random, name: str) -> Drawn:
    """Return a board of a source; of a mix it is of any line, all equally likely."""
    line = rng.choice(job.source.lines)
    one = draw_board(line, job.project.unit, rng, name)
    return Drawn(_shown(one.sold, job.kind), _shown(one.usable, job.kind))


def _shown(board: Board, kind: Kind) -> Board:
    """Return a board that shows what the kind asks for."""
    figure = (kind.figure,) if kind.figure else board.figure
    sawing = board.sawing
    if kind.sawing and sawing not in kind.sawing:
        sawing = kind.sawing[0]
    return replace(board, figure=figure, sawing=sawing)


def _worths(job: Job, boards: Sequence[Drawn]) -> dict[str, float]:
    """Return what each board may be worth at most: the best pattern of a clear one."""
    clear = [replace(one.usable, marks=()) for one in boards]
    clear += [replace(board, marks=()) for board in job.rack]
    problem = problem_for(stage(job.project, job.kind, clear))
    values = rows_for(problem).values(problem, job.duals)
    found = np.zeros(len(problem.bins))
    for kernel in kernels_for(problem):
        worths = kernel.solve(values, exact=True).worths
        for one, worth in zip(kernel.bins, worths, strict=True):
            for index in problem.stacks[problem.stack_of[one.index]]:
                found[index] = worth
    return {one.name: float(found[one.index]) for one in problem.bins}


# --- one pile -------------------------------------------------------------------------


def _need(job: Job, number: int, pile: Sequence[Drawn], worths: dict[str, float]) -> Need:
    """Return what a pile comes to."""
    pile = [one for one in pile if one.usable.name in worths]  # others serve nothing
    boards = (*job.rack, *(one.usable for one in pile))
    problem = problem_for(stage(job.project, job.kind, boards))
    rows = rows_for(problem)
    values, demand = rows.values(problem, job.duals), float(job.duals @ rows.demand)
    rack = sum(worths.get(board.name, 0.0) for board in job.rack)
    gains = [worths[one.usable.name] for one in pile]
    feet = [board_feet(one.sold, job.project.unit) for one in pile]
    first = _fewest(gains, demand - rack)
    least = _least(gains, feet, demand - rack, picks=job.picks)
    names = _taken(job, problem, values, pile, first, number)
    if names is None:
        return Need(boards=None, feet=None, pay=0, least=least)
    bought = [one for one in pile if one.usable.name in names]
    tariff = job.project.tariff
    return Need(
        boards=len(bought),
        feet=sum((board_feet(one.sold, job.project.unit) for one in bought), Fraction(0)),
        pay=sum(tariff.pay(one.sold) for one in bought),
        least=least,
    )


def _fewest(gains: Sequence[float], demand: float) -> int:
    """Return of how many boards, in order, at least to take to be worth the demand."""
    for count, total in enumerate(accumulate(gains, initial=0.0)):
        if total >= demand * (1 - 1e-9) - 1e-6:
            return count
    return len(gains)


def _least(
    gains: Sequence[float], feet: Sequence[Fraction], demand: float, *, picks: bool
) -> Fraction:
    """Return the feet that boards worth the demand have at least, rounded down a little.

    As they come: the first so many boards. Picked: the best for their feet, the last in
    part, which no whole boards undercut (Dantzig's bound for the knapsack).
    """
    if demand <= 0:
        return Fraction(0)
    if not picks:
        return sum(feet[: _fewest(gains, demand)], Fraction(0))
    total, left = 0.0, demand
    ranked = sorted(zip(gains, feet, strict=True), key=lambda one: -one[0] / float(one[1]))
    for gain, size in ranked:
        if gain <= 0 or left <= 0:
            break
        total += float(size) * min(1.0, left / gain)
        left -= gain
    return Fraction(int(total * 1000), 1000)


def _taken(
    job: Job, problem: Problem, values: Values, pile: Sequence[Drawn], first: int,
    number: int,
) -> frozenset[str] | None:  # fmt: skip
    """Return the boards of a pile that are bought; None if all of it is not enough."""
    if cannot_make(problem):
        return None
    owned = {one.index for one in problem.bins if one.yard is None}
    index = {one.name: one.index for one in problem.bins}
    order = [index[one.usable.name] for one in pile]
    search = _search(_free(problem), values, number)

    def made_of(count: int) -> tuple[Cutting, ...] | None:
        return search.whole_within(frozenset([*owned, *order[:count]]))

    found = _first_whole(made_of, first, len(order))
    if found is None:
        return None
    count, cut = found
    names = {one.index: one.name for one in problem.bins}
    if not job.picks:
        return frozenset(names[b] for b in order[:count])
    search = _search(_by_feet(problem, pile, job), values, number)
    used = (cutting.bin for cutting in search.least_from(cut))
    return frozenset(names[b] for b in used if b not in owned)


def _first_whole(
    made_of: Callable[[int], tuple[Cutting, ...] | None], first: int, last: int
) -> tuple[int, tuple[Cutting, ...]] | None:
    """Return the fewest boards that were seen to make everything, and what was cut.

    In growing strides from `first` on, then halving between the last two.
    """
    below, count, stride = first - 1, first, 1
    cut = made_of(count)
    while cut is None and count < last:
        below, count = count, min(last, count + stride)
        stride *= 2
        cut = made_of(count)
    if cut is None:
        return None
    while count - below > 1:
        middle = (below + count) // 2
        found = made_of(middle)
        if found is None:
            below = middle
        else:
            count, cut = middle, found
    return count, cut


def _free(problem: Problem) -> Problem:
    """Return the problem with boards that cost nothing: all that counts is what lacks."""
    return replace(problem, bins=tuple(_priced(one, 0) for one in problem.bins))


def _by_feet(problem: Problem, pile: Sequence[Drawn], job: Job) -> Problem:
    """Return the problem with bought boards at what they are sold as, own wood free."""
    unit = job.project.unit
    feet = {one.usable.name: int(100 * board_feet(one.sold, unit)) for one in pile}
    return replace(
        problem, bins=tuple(_priced(one, feet.get(one.name, 0)) for one in problem.bins)
    )


def _priced(one: Bin, cost: int) -> Bin:
    return replace(one, cost=cost, credit=0.0, goods=0.0)


def _search(problem: Problem, values: Values, seed: int) -> _Compiled | _Plain:
    if IS_COMPILED:
        return _Compiled(problem, values, seed)
    return _Plain(problem, values, seed)


class _Compiled:
    """The search in compiled loops, on one pile."""

    def __init__(self, problem: Problem, values: Values, seed: int) -> None:
        flat = packed(problem, [1.0] * len(problem.bins))
        self.problem = problem
        self.walker = Walker(problem, flat, values, seed + 1)
        self.wanted = everything(problem)

    def whole_within(self, bins: frozenset[int]) -> tuple[Cutting, ...] | None:
        """Search within bins, on from where it stands; what is cut if all is made."""
        self.walker.begin(self.wanted, self.walker.cuttings(), bins, UNKNOWN)
        self.walker.weigh(GREED)
        if self.walker.is_whole:
            return self.walker.cuttings()
        for _ in range(STEPS // BATCH_STEPS):
            self.walker.steps(BATCH_STEPS, 0.0, GREED)
            if self.walker.best < UNKNOWN:
                return self.walker.cuttings(best=True)
        return None

    def least_from(self, cuttings: tuple[Cutting, ...]) -> tuple[Cutting, ...]:
        """Search all bins for the cheapest plan, on from one that makes everything."""
        everywhere = frozenset(one.index for one in self.problem.bins)
        self.walker.begin(self.wanted, cuttings, everywhere, UNKNOWN)
        self.walker.weigh(GREED)
        best = self.walker.cost
        self.walker.begin(self.wanted, cuttings, everywhere, best)
        self.walker.weigh(GREED)
        for part in range(10):
            self.walker.steps(PICK_STEPS // 10, HEAT * (1 - part / 10) ** 2, GREED)
        if self.walker.best < best:
            return self.walker.cuttings(best=True)
        return cuttings


class _Plain:
    """The plain search on one pile: much slower, so that it takes fewer steps."""

    def __init__(self, problem: Problem, values: Values, seed: int) -> None:
        self.problem = problem
        rng = random.Random(seed)  # noqa: S311 - not for secrets
        none = Choice((), {item.index: item.units for item in problem.items}, 10**15)
        self.search = PlainSearch(problem, values, rng, [1.0] * len(problem.bins), none)

    def whole_within(self, bins: frozenset[int]) -> tuple[Cutting, ...] | None:
        """Search within bins, on from where it stands; what is cut if all is made."""
        self.search.begin(self.search.cuttings, bins)
        for _ in range(PLAIN_STEPS):
            if self.search.is_whole:
                return self.search.cuttings
            self.search.run(0.0)
        return self.search.cuttings if self.search.is_whole else None

    def least_from(self, cuttings: tuple[Cutting, ...]) -> tuple[Cutting, ...]:
        """Search all bins for the cheapest plan, on from one that makes everything."""
        again = [cutting_of(self.problem, one.bin, one.cuts) for one in cuttings]
        left = everything(self.problem).use_all(self.problem, again)
        self.search.best = choice_of(self.problem, again, left)
        self.search.begin(again, None)
        for step in range(PLAIN_PICK_STEPS):
            self.search.run(HEAT * (1 - step / PLAIN_PICK_STEPS) ** 2)
        return self.search.best.cuttings
