"""Projects small or uniform enough to look for the best plan outright, and prove it.

Few solid pieces are placed one by one (`nesting.few`); boards of few kinds are cut in
listed sections (`nesting.stacks`). Both are for plain boards whose offcuts are worth
nothing, such as sheets.
"""

from __future__ import annotations

import math
import time

from nesting.columns import Relaxation
from nesting.cuttings import SCALE, Choice, Cut, Cutting, choice_of, cutting_of, everything
from nesting.few import MOST_PIECES, pack
from nesting.flow import Plans, Sections, cost_of
from nesting.patterns import Band, Kernel, Section
from nesting.problem import Bin, Problem
from nesting.stacks import cut_stacks, step_of, up

MOST_KINDS = 8
ONE_BY_ONE, IN_SECTIONS = 0.7, 0.65  # shares of the time


def is_plain(problem: Problem, kernels: tuple[Kernel, ...]) -> bool:
    """Whether all pieces are solid, and boards plain, in one lot, offcuts worth nothing."""
    return (
        len(kernels) == 1
        and not any(item.is_panel or item.is_short for item in problem.items)
        and all(one.is_plain and not one.credit and one.cost for one in problem.bins)
    )


def outright(
    problem: Problem,
    kernels: tuple[Kernel, ...],
    relaxed: Relaxation,
    *,
    most: int,
    seconds: float,
) -> Plans | None:
    """Return the cheapest plan found for at most `most` cents, and a bound for any plan.

    None if the problem is not of the kind that this is for.
    """
    if not relaxed.history or not is_plain(problem, kernels):
        return None
    begun = time.monotonic()
    step = step_of(problem)
    least = up(relaxed.bound, step)
    plans = Plans(None, least)
    if sum(item.units for item in problem.items) <= MOST_PIECES and is_open(problem):
        plans = pack(problem, least=least, most=most, seconds=ONE_BY_ONE * seconds)
        if plans.sections is not None:
            most = cost_of(problem, plans.sections) - step
    if plans.bound > most or not is_uniform(problem):
        return plans
    end = begun + IN_SECTIONS * seconds
    if time.monotonic() > end - 0.1 * seconds:
        end = begun + seconds
    others = cut_stacks(problem, kernels[0], relaxed, most=most, end=end)
    sections = plans.sections if others.sections is None else others.sections
    return Plans(sections, max(plans.bound, others.bound))


def is_uniform(problem: Problem) -> bool:
    """Whether boards are of few kinds."""
    return len(problem.stacks) <= MOST_KINDS


def is_open(problem: Problem) -> bool:
    """Whether every board serves all pieces that it is large enough for."""
    return all(
        item.index in one.wanted or not _holds(one, item.sizes)
        for one in problem.bins
        for item in problem.items
    )


def _holds(one: Bin, sizes: tuple[tuple[int, int], ...]) -> bool:
    return any(length <= one.length and width <= one.width for length, width in sizes)


def choice_for(problem: Problem, sections: Sections) -> Choice:
    """Return sections as a choice."""
    cuttings = [_cutting(problem, index, some) for index, some in sorted(sections.items())]
    return choice_of(problem, cuttings, everything(problem).use_all(problem, cuttings))


def _cutting(problem: Problem, index: int, sections: tuple[Section, ...]) -> Cutting:
    """Lay the sections of a bin one after another."""
    one = problem.bins[index]
    x, cuts = 0, []
    for section in sections:
        band = Band(x, 0, section.length, one.width, section.strips)
        pieces = tuple(i for strip in section.strips for i, _, _ in strip.pieces)
        cuts.append(Cut(x, section.length, (band,), pieces, (), 0.0))
        x += section.length + problem.kerf
    return cutting_of(problem, index, cuts)


def most_allowed(problem: Problem, best: Choice) -> int:
    """Return the most cents that a plan may cost to be better than the best known.

    It is a multiple of what all costs are multiples of.
    """
    if best.is_complete:
        step = step_of(problem)
        return (math.ceil(best.cost / SCALE) - 1) // step * step
    return sum(one.cost for one in problem.bins) + sum(problem.trips.values())
