"""Plain rectangles as problems of the cutting engines, and checks of what comes out.

Sizes are plain numbers, end trim nought. A piece may be narrower than its strip, which
stands for the free final trim of the literature.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence

from nesting.patterns import Section
from nesting.problem import Bin, Item, Problem
from nesting.sheet_sizes import CROSSCUT, Leaf, Split, Stock, Tree, Want


def problem_of(
    boards: Iterable[tuple[int, int, int]],
    pieces: Iterable[tuple[int, int, int]],
    kerf: int = 0,
) -> Problem:
    """Boards are (length, width, cost in cents); pieces (length, width, qty)."""
    items = tuple(
        Item(index=i, part=f"P{i}", units=qty, sizes=((length, width),))
        for i, (length, width, qty) in enumerate(pieces)
    )
    wanted = frozenset(range(len(items)))
    bins = tuple(
        Bin(
            index=i, name=f"B{i}", yard=None, start=0, length=length, width=width,
            width2=width, cost=cost, goods=0.0, credit=0.0, log=f"B{i}", wanted=wanted,
            limited={},
        )
        for i, (length, width, cost) in enumerate(boards)
    )  # fmt: skip
    return Problem(
        items=items, bins=bins, trips={}, orders={}, kerf=kerf, step=1, shortest=0,
        keep_length=10**6, keep_width=10**6,
    )  # fmt: skip


def held_in(problem: Problem, one: Bin, sections: Sequence[Section]) -> Counter[int]:
    """Count the pieces of sections, having checked that they may be sawn from a bin."""
    kerf = problem.kerf
    assert sum(section.length + kerf for section in sections) <= one.length + kerf
    held: Counter[int] = Counter()
    for section in sections:
        assert sum(strip.width + kerf for strip in section.strips) <= one.width + kerf
        for strip in section.strips:
            sizes = [problem.items[i].sizes[size] for i, size, _ in strip.pieces]
            assert sum(length + kerf for length, _ in sizes) <= section.length + kerf
            assert all(width <= strip.width for _, width in sizes)
            held.update(i for i, _, _ in strip.pieces)
    return held


def held_in_sheet(wants: Sequence[Want], stock: Stock, tree: Tree) -> Counter[int]:
    """Count the pieces of a sheet, having cut it apart: every piece fits where it lies.

    Sizes have a kerf added, so that cuts take no room.
    """
    held: Counter[int] = Counter()
    todo = [(tree, stock.length, stock.width)]
    while todo:
        part, length, width = todo.pop()
        if isinstance(part, Leaf):
            own_length, own_width = wants[part.want].sizes[part.way]
            assert part.want in stock.serves
            assert own_length <= length
            assert own_width <= width
            held[part.want] += 1
        elif isinstance(part, Split) and part.kind == CROSSCUT:
            assert 0 < part.at < length
            todo += [(part.first, part.at, width), (part.second, length - part.at, width)]
        elif isinstance(part, Split):
            assert 0 < part.at < width
            todo += [(part.first, length, part.at), (part.second, length, width - part.at)]
    return held
