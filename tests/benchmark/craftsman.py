"""A careful craftsman with a list and a stack of boards: best of many tries.

The rule is common practice, no source: the longest part first; crosscut a section for it,
rip from the section the widest pieces that fit, use what is left over for shorter parts
before a new board is touched, cheap wood first. Staves of a panel are equally wide. He
may cut an offcut up as often as he likes, so he is not held to three stages of cuts.
"""

from __future__ import annotations

import random
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal

from nesting.project import Project
from stock.boards import Board, Mark
from tests.benchmark.layouts import (
    Box,
    Layout,
    Sawn,
    Want,
    layout_cost,
    usable,
    wants_for,
)

TRIES_AT_THE_END = 12


@dataclass(frozen=True, slots=True)
class Best:
    """The cheapest layout found, None if none is complete, and after how many runs."""

    layout: Layout | None
    cost: Decimal | None
    runs: int


def best_of(project: Project, *, runs: int, seconds: float, seed: int = 1) -> Best:
    """Return the best of so many runs; fewer, but one at least, if time is up."""
    end = time.monotonic() + seconds
    best = Best(None, None, 0)
    for number in range(runs):
        if number and time.monotonic() > end:
            break
        layout = one_run(project, random.Random(f"{seed} {number}"), is_first=not number)
        cost = layout_cost(project, layout.sawn) if layout.is_complete else None
        if cost is not None and (best.cost is None or cost < best.cost):
            best = Best(layout, cost, number + 1)
        best = Best(best.layout, best.cost, number + 1)
    return best


def one_run(project: Project, rng: random.Random, *, is_first: bool) -> Layout:
    """Return one layout: the first run strictly by the rule, others with a free hand."""
    panels = [part.name for part in project.parts if part.build == "panel"]
    more = frozenset(() if is_first else (p for p in panels if rng.random() < 0.3))
    wants = wants_for(project, more)
    return _Run(project, wants, rng, is_first=is_first).layout()


class _Run:
    """One run: the habits of the day, and the count of what is still wanted."""

    def __init__(
        self,
        project: Project,
        wants: tuple[Want, ...],
        rng: random.Random,
        *,
        is_first: bool,
    ) -> None:
        self.project, self.wants = project, wants
        self.shop, self.kerf = project.shop, project.shop.kerf
        self.missing = [want.count for want in wants]
        noise = 0.0 if is_first else rng.choice([0.0, 0.1, 0.3])
        self.longest = self._order(rng, noise, lambda want: (want.length, want.width))
        taste = rng.choice(_TASTES) if not is_first else _TASTES[0]
        self.next_strip = self._order(rng, noise, taste)
        self.near = 0.0 if is_first else rng.choice([0.9, 0.75, 0.5, 0.0])
        self.boards = self._stack(rng, is_first=is_first)

    def _order(
        self, rng: random.Random, noise: float, key: Callable[[Want], tuple[int, int]]
    ) -> list[int]:
        """Return wants, largest key first; noise shuffles those that are nearly alike."""

        def blurred(index: int) -> tuple[float, int]:
            first, second = key(self.wants[index])
            return first * (1 + noise * rng.random()), second

        return sorted(range(len(self.wants)), key=blurred, reverse=True)

    def _stack(self, rng: random.Random, *, is_first: bool) -> list[Board]:
        """Return the boards, cheap wood first: the largest on top, or as they come."""
        boards = list(self.project.boards)
        if is_first:
            boards.sort(key=lambda board: -board.length * board.width)
        else:
            rng.shuffle(boards)
        return sorted(boards, key=lambda board: not board.is_owned)

    def layout(self) -> Layout:
        """Take board after board until nothing is wanted, or no board is left."""
        sawn = []
        stack = list(self.boards)
        while any(self.missing) and stack:
            one = self._last_board(stack)
            if one is None:
                one = self._saw(stack.pop(0))
            if one.pieces:
                sawn.append(one)
        return Layout(self.wants, tuple(sawn), tuple(self.missing))

    def _last_board(self, stack: list[Board]) -> Sawn | None:
        """Saw the cheapest board that gives all that is still wanted, if one does."""
        pairs = zip(self.wants, self.missing, strict=True)
        area = sum(want.length * want.width * count for want, count in pairs)
        large = [board for board in stack if board.length * board.width >= area]
        large.sort(key=lambda b: layout_cost(self.project, [Sawn(b.name, (), ())]))
        before = list(self.missing)
        for board in large[:TRIES_AT_THE_END]:
            one = self._saw(board)
            if not any(self.missing):
                return one
            self.missing = list(before)
        return None

    def _saw(self, board: Board) -> Sawn:
        """Cut one board up as far as it gives anything that is wanted."""
        pieces: list[tuple[int, Box]] = []
        left: list[Box] = []
        stack = [usable(board, self.shop)]
        while stack:
            box = stack.pop()
            found = self._first(self.longest, box, board.marks, least=0)
            if found is None:
                left.append(box)
            else:
                stack += self._section(box, *found, board.marks, pieces)
        return Sawn(board.name, tuple(pieces), tuple(left))

    def _section(
        self,
        box: Box,
        want: int,
        at: tuple[int, int],
        marks: Sequence[Mark],
        pieces: list[tuple[int, Box]],
    ) -> list[Box]:
        """Crosscut a section for a piece, rip it; return what is left, best used last."""
        x, y, length, width = box
        long = self.wants[want].length
        start, top = at[0], y + width
        rest = (start + long + self.kerf, y, x + length - start - long - self.kerf, width)
        before = (x, y, start - self.kerf - x, width)
        beside: list[Box] = []
        section = (start, y, long, width)
        found: tuple[int, tuple[int, int]] | None = (want, at)
        while found is not None:
            index, (_, low) = found
            piece = self.wants[index]
            self.missing[index] -= 1
            pieces.append((index, (start, low, piece.length, piece.width)))
            end = start + piece.length + self.kerf
            beside.append((start, section[1], long, low - self.kerf - section[1]))
            beside.append((end, low, start + long - end, piece.width))
            y = low + piece.width + self.kerf
            section = (start, y, long, top - y)
            found = self._first(self.next_strip, section, marks, int(self.near * long))
            if found is not None and found[1][0] != start:
                found = None  # a mark is in the way: the rest is cut up as an offcut
        return [b for b in (rest, before, section, *beside) if min(b[2:]) > 0]

    def _first(
        self, order: list[int], box: Box, marks: Sequence[Mark], least: int
    ) -> tuple[int, tuple[int, int]] | None:
        """Return the first want in order that fits a box, and where it may lie."""
        _, _, length, width = box
        for index in order:
            want = self.wants[index]
            if (
                self.missing[index]
                and least <= want.length <= length
                and want.width <= width
            ):
                at = next(_places(box, want, marks), None)
                if at is not None:
                    return index, at
        return None


_TASTES: tuple[Callable[[Want], tuple[int, int]], ...] = (
    lambda want: (want.width, want.length),
    lambda want: (want.length, want.width),
    lambda want: (want.length * want.width, want.length),
)


def _places(box: Box, want: Want, marks: Sequence[Mark]) -> Iterator[tuple[int, int]]:
    """Yield places in a box that are clear of marks: at its corner, or just past a mark."""
    x, y, length, width = box
    in_the_way = [m for m in marks if m.forbids(want.face) and m.touches(*box)]
    for at in sorted({x, *(m.end for m in in_the_way if m.end > x)}):
        for low in sorted({y, *(m.high for m in in_the_way if m.high > y)}):
            if at + want.length > x + length or low + want.width > y + width:
                continue
            if not any(m.touches(at, low, want.length, want.width) for m in in_the_way):
                yield at, low
