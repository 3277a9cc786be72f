"""Whether one board could stand in for another of a plan.

It does if one cutting of it gives all that the plan takes from the other: its solid pieces,
and of each panel the net width that its staves add. Only a cutting that was made counts;
where none is found, that is no proof that there is none.
"""

from __future__ import annotations

import random
from collections import Counter, defaultdict
from dataclasses import dataclass, replace

from nesting.build import Builder, shaken
from nesting.cuttings import Cutting, everything
from nesting.plan import CutBoard, Plan
from nesting.problem import Bin, Item, Problem, cannot_make
from nesting.solve import area_values

TRIES = 8  # cuttings of one board for one other; more found few more on our projects
NOISE = 0.3  # how far values are shaken from one cutting to the next


@dataclass(frozen=True, slots=True)
class Asked:
    """What a board gives: items to make again, the problem's items they are, and logs.

    `logs` are those that staves must come from, because their mates on other boards do.
    """

    items: tuple[Item, ...]
    originals: tuple[int, ...]
    logs: frozenset[str]


def asked_of(problem: Problem, plan: Plan, one: Bin, cut: CutBoard) -> Asked:
    """Return what the plan takes from a board; parts from offcuts are left out.

    Of a panel that is wider than asked, that much less net width is wanted.
    """
    solid = Counter(
        item.index
        for piece in cut.pieces
        for item in [_item(problem, piece.part, piece.copy)]
        if item and piece.role != "stave"
    )
    found = [
        (replace(problem.items[index], units=count), index)
        for index, count in solid.items()
    ]
    logs = set()
    mates: dict[tuple[str, int], set[str]] = defaultdict(set)
    for panel in plan.panels:
        mates[panel.part, panel.copy] |= {stave.board for stave in panel.staves}
    for panel in plan.panels:
        own = sum(stave.net_width for stave in panel.staves if stave.board == cut.board)
        need = own - (panel.net_width - panel.need)
        item = _item(problem, panel.part, panel.copy)
        if not own or need <= 0 or item is None:
            continue
        need = -(-need // item.leaves)
        if item.match != "none" and len(mates[panel.part, panel.copy]) > 1:
            logs.add(one.log)
        single = item.single if need >= item.need else 0
        again = replace(
            item, units=1, sizes=((item.length, need),), single=single,
            match="none", layers=1,
        )  # fmt: skip
        found.append((again, item.index))
    numbered = tuple(replace(item, index=n) for n, (item, _) in enumerate(found))
    return Asked(numbered, tuple(index for _, index in found), frozenset(logs))


def _item(problem: Problem, part: str, copy: int) -> Item | None:
    """Return the item that a copy of a part is one of; None if there is none."""
    return next(
        (item for item in problem.items if item.part == part and item.makes(copy)), None
    )


def cutting_for(problem: Problem, one: Bin, asked: Asked) -> Cutting | None:
    """Return a cutting of a bin that gives all that is asked; None if none was found."""
    if any(index not in one.wanted for index in asked.originals):
        return None
    if any(one.log != log for log in asked.logs):
        return None
    again = replace(
        one,
        index=0,
        wanted=frozenset(range(len(asked.items))),
        limited={
            n: one.limited[index]
            for n, index in enumerate(asked.originals)
            if index in one.limited
        },
    )
    small = replace(problem, items=asked.items, bins=(again,))
    if cannot_make(small):
        return None
    values = area_values(small)
    for seed in range(TRIES):
        rng = random.Random(seed)  # noqa: S311 - not for secrets
        left = everything(small)
        builder = Builder(small, shaken(values, rng, NOISE if seed else 0.0), rng, [1.0])
        cuttings = builder.build(small.bins, left, set(), most=1)
        if left.is_done and cuttings:
            return cuttings[0]
    return None


def serves_as_well(one: Bin, other: Bin, asked: Asked) -> bool:
    """Whether a clear board is as large as another, so that the same cuts serve."""
    return (
        one.is_plain
        and all(index in one.wanted for index in asked.originals)
        and all(one.log == log for log in asked.logs)
        and one.length >= other.length
        and one.narrow >= max(other.width, other.width2)
    )
