"""Deciding a set of boards by branching on how many of a piece a board gives.

Branch and price (Barnhart et al. 1998) over listed patterns: a node is a list of patterns
for each board. Where the best mix takes a broken number of some piece from a board, the
board's patterns are parted into those that give fewer and those that give more. A node
ends if what is left holds less than the demand, or if an integer program decides it.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from nesting.contents import Content
from nesting.counted import Bounded
from nesting.holding import Best, Mix, Prices, most_times
from nesting.patterns import Floats
from nesting.sectioned import Patterned

SAFE = 1e-9
FEW = 60  # patterns in all: few enough for the integer program
BROKEN = 0.02
LONGEST = 5.0  # seconds of one integer program, which can't be stopped


@dataclass(slots=True)
class Node:
    """Patterns of every board, fewer with all prices that are tried."""

    boards: list[Bounded]
    prices: Prices

    def price(self, duals: Floats) -> list[Best]:
        """Return the best pattern of each board; drop patterns that lose too much."""
        found = [one.price(duals) for one in self.boards]
        spare = sum(best.worth for best, _ in found) - 1.0
        for one, (_, losses) in zip(self.boards, found, strict=True):
            if spare >= 0 and len(losses):
                one.keep(losses <= spare + SAFE)
        return [best for best, _ in found]

    def mixed(self, demand: Floats, stop: Callable[[], bool]) -> Floats | None:
        """Return what each board adds in the best mix; None if that is too little."""
        mix = Mix(demand, len(self.boards))
        tried = most_times(demand, self.prices.duals, self.price, mix, stop)
        self.prices = min(tried, key=lambda prices: prices.times)
        return None if self.prices.times < 1.0 - SAFE else mix.held

    def parts(self, held: Floats) -> list[Node]:
        """Return the node in two parts, that which is nearer to the mix last.

        Empty if there is nothing to part it by.
        """
        broken = np.abs(held - np.round(held))
        for number, one in enumerate(self.boards):
            broken[number, one.loose] = 0.0
        for place in np.argsort(-broken, axis=None):
            number, row = (int(n) for n in np.unravel_index(place, broken.shape))
            if broken[number, row] < BROKEN:
                break
            more = self.boards[number].fixed[:, row] > held[number, row]
            if more.any() and not more.all():
                sides = [self._with(number, good) for good in (more, ~more)]
                return sides if held[number, row] % 1.0 < 0.5 else sides[::-1]
        return []

    def _with(self, number: int, good: np.ndarray[tuple[int], np.dtype[np.bool_]]) -> Node:
        boards = [replace(one) for one in self.boards]
        boards[number].keep(good)
        return Node(boards, self.prices)


def branch(
    boards: Sequence[Bounded],
    demand: Floats,
    prices: Prices,
    seconds: float,
    stop: Callable[[], bool],
) -> tuple[list[list[Content]] | None, bool]:
    """Return sections of each board that make everything, or whether there are none.

    Neither if there was no time, or if a node could not be decided.
    """
    nodes = [Node(list(boards), prices)]
    while nodes:
        if stop():
            return None, False
        node = nodes.pop()
        held = node.mixed(demand, stop)
        if held is None:
            continue
        count = sum(len(one.cut) for one in node.boards)
        parts = [] if count <= FEW else node.parts(held)
        nodes += parts
        if parts:
            continue
        program = Patterned(node.boards, demand)
        sections = program.solve(min(seconds / 3, LONGEST))
        if sections is not None:
            return sections, False
        if not program.is_impossible:
            return None, False
    return None, True
