"""Fixing good boards first: what is left is small enough to be cut in whole numbers.

Patterns that lose next to nothing at the master's values are taken at random, without
pieces that are no longer wanted, until few boards are left. The rest is a problem of its
own, cut outright (`nesting.stacks`). Whether it can be done for the money left shows soon,
so many are tried.
"""

from __future__ import annotations

import random
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from nesting.columns import Column, Relaxation, kernels_for, relax, rows_for
from nesting.flow import Sections, cost_of
from nesting.listing import counts_of, trimmed
from nesting.patterns import Floats, Section
from nesting.problem import Problem
from nesting.stacks import cut_stacks, duals_of

REST = 3  # boards that are left
SPENT = 0.5  # share of the spare money that boards fixed first may lose
SECONDS, SHARE = 0.6, 0.05  # for one rest: at least, and of the time
STARTS = 80  # drawn at a time
GREED = 16  # patterns to draw from


@dataclass(frozen=True, slots=True)
class Rest:
    """What is still wanted and what may still be cut: a problem of its own.

    `bins` are its bins' numbers in the whole problem.
    """

    problem: Problem
    bins: tuple[int, ...]


def dive(
    problem: Problem,
    relaxed: Relaxation,
    *,
    most: int,
    end: float,
    stop: Callable[[], bool],
    seed: int,
) -> Sections | None:
    """Return a plan for at most `most` cents, if one is found before `end` or `stop`.

    The bins must be plain, in one lot, and items be solid. Without columns, where time was
    short, there is nothing to fix.
    """
    if not relaxed.columns:
        return None
    rng = random.Random(seed)  # noqa: S311 - not for secrets
    begun = time.monotonic()
    tried: set[tuple[int, ...]] = set()
    while True:
        rests = starts(problem, relaxed, most, rng, tried)
        if not rests:
            return None
        for taken, rest in rests:
            if time.monotonic() > end or stop():
                return None
            known = _known(problem, relaxed, rest)
            found = _cut(rest, known, most - cost_of(problem, taken), begun, end)
            if found is not None:
                return taken | {rest.bins[index]: some for index, some in found.items()}


def starts(
    problem: Problem,
    relaxed: Relaxation,
    most: int,
    rng: random.Random,
    tried: set[tuple[int, ...]],
) -> list[tuple[Sections, Rest]]:
    """Return boards to fix and what is left then, fewest pieces first; none twice.

    The fewer pieces are left for about the same boards, the sooner they are cut.
    """
    found: list[tuple[int, int, Sections, Rest]] = []
    for _ in range(STARTS):
        taken = fixed(problem, relaxed, most, rng)
        rest = rest_of(problem, taken)
        units = tuple(item.units for item in rest.problem.items)
        if taken and units not in tried:
            tried.add(units)
            found.append((sum(units), len(found), taken, rest))
    return [(taken, rest) for _, _, taken, rest in sorted(found, key=lambda one: one[:2])]


def _known(problem: Problem, relaxed: Relaxation, rest: Rest) -> list[Column]:
    """Return the columns of the whole problem as columns of the rest."""
    heirs = {problem.stack_of[index]: n for n, index in enumerate(rest.bins)}
    stacks = [problem.stack_of[column.bin] for column in relaxed.columns]
    return [
        replace(column, bin=heirs[stack])
        for column, stack in zip(relaxed.columns, stacks, strict=True)
        if stack in heirs
    ]


def _cut(
    rest: Rest, known: Sequence[Column], most: int, begun: float, end: float
) -> Sections | None:
    """Return how to cut the rest for at most `most` cents, if it is found soon."""
    problem = rest.problem
    if not any(item.units for item in problem.items):
        return {}
    if not problem.bins:
        return None
    soon = min(end, time.monotonic() + max(SECONDS, SHARE * (end - begun)))
    kernels = kernels_for(problem)
    relaxed = relax(
        problem,
        kernels,
        rows_for(problem),
        start=known,
        stop=lambda: time.monotonic() > soon,
        rounds=40,
    )
    if not relaxed.feasible or not relaxed.history or relaxed.bound > most + 1e-6:
        return None
    return cut_stacks(problem, kernels[0], relaxed, most=most, end=soon).sections


def fixed(problem: Problem, relaxed: Relaxation, most: int, rng: random.Random) -> Sections:
    """Return boards that lose little, taken at random until about `REST` are left.

    Of two drawn among the `GREED` that lose least, the one with more pieces is taken.
    """
    duals, bound = duals_of(problem, relaxed)
    spare = SPENT * (most - bound)
    left = np.array([item.units for item in problem.items], dtype=float)
    free = [list(stack) for stack in problem.stacks]
    enough = REST * float(np.mean([problem.bins[stack[0]].cost for stack in free]))
    columns = relaxed.columns
    stacks = np.array([problem.stack_of[column.bin] for column in columns])
    costs = np.array([problem.bins[column.bin].cost for column in columns])
    held = np.array([column.adds for column in columns])
    taken: Sections = {}
    while float(duals @ left) > enough:
        losses = costs - np.minimum(held, left) @ duals
        losses[[not free[stack] for stack in stacks]] = np.inf
        ranked = np.argsort(losses)[:GREED]
        allowed = [int(n) for n in ranked if losses[n] <= spare]
        if not allowed:
            break
        two = rng.sample(allowed, min(2, len(allowed)))
        number = max(two, key=lambda n: float(np.minimum(held[n], left).sum()))
        spare -= max(0.0, float(losses[number]))
        some = _trimmed(problem, columns[number].sections, left)
        taken[free[int(stacks[number])].pop(0)] = some
    return taken


def _trimmed(
    problem: Problem, sections: Sequence[Section], left: Floats
) -> tuple[Section, ...]:
    """Return sections without what is not wanted any more; take the rest off `left`."""
    found = []
    for section in sections:
        kept = trimmed(problem, section, [round(units) for units in left])
        left -= np.array(counts_of(problem, kept))
        if kept.strips:
            found.append(kept)
    return tuple(found)


def rest_of(problem: Problem, taken: Sections) -> Rest:
    """Return what is left to cut once the bins taken are cut."""
    held = np.zeros(len(problem.items), dtype=int)
    for sections in taken.values():
        for section in sections:
            held += np.array(counts_of(problem, section))
    items = tuple(
        replace(item, units=max(0, item.units - int(count)))
        for item, count in zip(problem.items, held, strict=True)
    )
    bins = tuple(one.index for one in problem.bins if one.index not in taken)
    visited = {problem.bins[index].yard for index in taken}
    rest = replace(
        problem,
        items=items,
        bins=tuple(replace(problem.bins[b], index=n) for n, b in enumerate(bins)),
        trips={y: 0 if y in visited else cost for y, cost in problem.trips.items()},
    )
    return Rest(rest, bins)
