"""Handing the staves of many boards to panels, so that hardly any width is left over.

Panel after panel gets the staves whose widths add up to just what it needs: a subset sum
over the staves that are left. With tens of staves of a kind some subset nearly always
meets the width to the saw step, so no stave has to be made wider or narrower.
"""

from __future__ import annotations

import random
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence

from nesting.cuttings import Cut, Cutting, Give, Left, cutting_of, everything
from nesting.patterns import Band, Section
from nesting.problem import Bin, Item, Problem

AMONG = 24  # staves looked at for one panel

Patterns = Mapping[int, Sequence[Section]]


def shared(
    problem: Problem, patterns: Patterns, rng: random.Random
) -> tuple[list[Cutting], Left]:
    """Return patterns (by bin, all of them plain) as cuttings, and what is still wanted.

    What patterns make beyond the demand is surplus: it belongs to no panel.
    """
    nets: dict[int, list[int]] = defaultdict(list)
    for sections in patterns.values():
        for i, net in _staves(problem, sections):
            nets[i].append(net)
    units = {
        i: iter(units_of(problem.items[i], some, rng)) for i, some in sorted(nets.items())
    }
    left = everything(problem)
    cuttings = []
    for index, sections in patterns.items():
        one = problem.bins[index]
        cuts = _cuts(problem, one, sections, units)
        for cut in cuts:
            left.use(problem, one, cut)
        cuttings.append(cutting_of(problem, index, cuts))
    return cuttings, left


def _staves(problem: Problem, sections: Iterable[Section]) -> Iterable[tuple[int, int]]:
    """Yield item and net width of every stave, in the order that `Cut.gives` has."""
    for section in sections:
        for strip in section.strips:
            for i, _, whole in strip.pieces:
                item = problem.items[i]
                if item.is_panel:
                    yield i, item.need if whole else strip.width - item.joint


def _cuts(
    problem: Problem, one: Bin, sections: Iterable[Section], units: Mapping[int, Iterable[int]]
) -> list[Cut]:
    """Lay sections along a bin; each stave takes the next unit of its item."""
    cuts, x = [], 0
    for section in sections:
        band = Band(x, 0, section.length, one.narrow, section.strips)
        gives = tuple(
            Give(i, next(iter(units[i])), net) for i, net in _staves(problem, [section])
        )
        pieces = tuple(
            i
            for strip in section.strips
            for i, _, _ in strip.pieces
            if not problem.items[i].is_panel
        )
        credit = section_credit(problem, one, section)
        cuts.append(Cut(x, section.length, (band,), pieces, gives, credit))
        x += section.length + problem.kerf
    return cuts


def section_credit(problem: Problem, one: Bin, section: Section) -> float:
    """Return the credit, in cents, of what is kept beside and behind a section's strips."""
    kerf, area, used = problem.kerf, 0, 0
    for strip in section.strips:
        used += strip.width + kerf
        row = sum(problem.items[i].sizes[s][0] + kerf for i, s, _ in strip.pieces)
        rest = section.length - row
        if rest >= problem.keep_length and strip.width >= problem.keep_width:
            area += rest * strip.width
    beside = one.narrow - used
    if beside >= problem.keep_width and section.length >= problem.keep_length:
        area += beside * section.length
    return one.credit * area


def units_of(item: Item, nets: Sequence[int], rng: random.Random) -> list[int]:
    """Return the unit of each stave of an item, by their net widths; -1 for surplus.

    As many units as possible are made whole; what is left begins one more.
    """
    found = [-1] * len(nets)
    waiting = sorted(range(len(nets)), key=lambda k: (-nets[k], k))
    for unit in range(item.units):
        if not waiting:
            break
        picked = waiting
        if sum(nets[k] for k in waiting) > item.need:
            picked = _closest(nets, waiting, item.need, rng)
        for k in picked:
            found[k] = unit
        taken = set(picked)
        waiting = [k for k in waiting if k not in taken]
    return found


def _closest(
    nets: Sequence[int], waiting: list[int], need: int, rng: random.Random
) -> list[int]:
    """Return staves whose net widths add up to `need` or as little more as possible.

    Wide staves are tried first, so that narrow ones stay for the ends.
    """
    among = waiting
    if len(waiting) > AMONG:
        among = sorted(rng.sample(waiting, AMONG), key=lambda k: (-nets[k], k))
        if sum(nets[k] for k in among) < need:
            among = waiting
    parents: dict[int, tuple[int, int]] = {0: (0, -1)}
    best: int | None = None
    for k in among:
        for total in list(parents):
            if total >= need:
                continue
            more = total + nets[k]
            if more in parents or (best is not None and more >= best):
                continue
            parents[more] = (total, k)
            if more >= need:
                best = more
        if best == need:
            break
    picked: list[int] = []
    total = need if best is None else best
    while total:
        total, k = parents[total]
        picked.append(k)
    return picked
