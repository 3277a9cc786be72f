"""From a tree of cuts to places on a sheet: pieces, cuts in order, what is left over.

A tree is drawn together first: what is not needed of a piece of wood is cut off before
anything else, so that it stays in one, and no more cuts are made for it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from nesting.plan import Cut
from nesting.sheet_sizes import CROSSCUT, RIP, Leaf, Split, Tree, Want

Box = tuple[int, int, int, int]  # x, y, length, width on the sheet


@dataclass(slots=True)
class Laid:
    """A sheet taken apart: pieces by what they are, cuts in order, wood left over."""

    pieces: list[tuple[Leaf, Box]] = field(default_factory=list)
    cuts: list[Cut] = field(default_factory=list)
    left: list[Box] = field(default_factory=list)


def lay(
    wants: Sequence[Want], tree: Tree, size: tuple[int, int], kerf: int, trim: int
) -> Laid:
    """Return how a tree lies on a sheet of this real size, clear of the trimmed edges."""
    bench = _Bench(wants, kerf)
    length, width = size
    start = max(trim, kerf) if trim else 0
    if tree is None:
        bench.laid.left.append((0, 0, length, width))
        return bench.laid
    box = (0, 0, length, width)
    if start:
        box = bench.trimmed(bench.trimmed(box, start, CROSSCUT), start, RIP)
    bench.take_apart(box, tree)
    return bench.laid


def number_of_cuts(wants: Sequence[Want], size: tuple[int, int], tree: Tree) -> int:
    """Return how many cuts free the pieces of a tree; sizes with their kerf."""
    length, width = size
    need = extent(wants, tree)
    if need is None:
        return 0
    own = (need[0] < length) + (need[1] < width)
    if not isinstance(tree, Split):
        return own
    sides = [side for side in (tree.first, tree.second) if side is not None]
    if len(sides) < 2:
        return own + number_of_cuts(wants, need, sides[0])
    first, second = (extent(wants, side) or (0, 0) for side in sides)
    rooms = [(first[0], need[1]), (second[0], need[1])]
    if tree.kind == RIP:
        rooms = [(need[0], first[1]), (need[0], second[1])]
    return own + 1 + sum(
        number_of_cuts(wants, room, side) for room, side in zip(rooms, sides, strict=True)
    )  # fmt: skip


def extent(wants: Sequence[Want], tree: Tree) -> tuple[int, int] | None:
    """Return the length and width that a tree needs; None if it holds nothing."""
    if tree is None:
        return None
    if isinstance(tree, Leaf):
        return wants[tree.want].sizes[tree.way]
    found = [extent(wants, side) for side in (tree.first, tree.second)]
    sides = [side for side in found if side is not None]
    if not sides:
        return None
    xs, ys = [x for x, _ in sides], [y for _, y in sides]
    return (sum(xs), max(ys)) if tree.kind == CROSSCUT else (max(xs), sum(ys))


class _Bench:
    """Makes the cuts, one after another."""

    def __init__(self, wants: Sequence[Want], kerf: int) -> None:
        self.wants = wants
        self.kerf = kerf
        self.laid = Laid()

    def take_apart(self, box: Box, tree: Tree) -> None:
        """Free the pieces of a tree from a box that holds them."""
        need = extent(self.wants, tree)
        if need is None:
            return
        box = self._drawn(box, need[0] - self.kerf, need[1] - self.kerf)
        if isinstance(tree, Leaf):
            self.laid.pieces.append((tree, box))
        elif isinstance(tree, Split):
            self._split(box, tree)

    def _split(self, box: Box, tree: Split) -> None:
        first = extent(self.wants, tree.first)
        if first is None or extent(self.wants, tree.second) is None:
            self.take_apart(box, tree.second if first is None else tree.first)
            return
        kind = "crosscut" if tree.kind == CROSSCUT else "rip"
        near, far = self._parted(
            box, first[0 if tree.kind == CROSSCUT else 1] - self.kerf, kind
        )
        self.take_apart(near, tree.first)
        self.take_apart(far, tree.second)

    def _drawn(self, box: Box, length: int, width: int) -> Box:
        """Cut what is not needed off a box, the larger leftover in one piece."""
        _, _, long, wide = box
        end, side = (long - length) * wide, (wide - width) * long
        kinds = (CROSSCUT, RIP) if end >= side else (RIP, CROSSCUT)
        for kind in kinds:
            size, has = (length, box[2]) if kind == CROSSCUT else (width, box[3])
            if size < has:
                box, rest = self._parted(box, size, kind)
                self._leave(rest)
        return box

    def trimmed(self, box: Box, start: int, kind: str) -> Box:
        """Cut an edge off a box, so that wood begins at `start`."""
        edge, rest = self._parted(box, start - self.kerf, kind)
        self._leave(edge)
        return rest

    def _parted(self, box: Box, size: int, kind: str) -> tuple[Box, Box]:
        """Cut a box in two, the first so long or wide; the second may have no size."""
        x, y, length, width = box
        at = (x if kind == CROSSCUT else y) + size
        start, end = (y, y + width) if kind == CROSSCUT else (x, x + length)
        self.laid.cuts.append(
            Cut(order=len(self.laid.cuts) + 1, kind=kind, at=at, start=start, end=end)
        )
        beyond = size + self.kerf
        if kind == CROSSCUT:
            return (x, y, size, width), (x + beyond, y, length - beyond, width)
        return (x, y, length, size), (x, y + beyond, length, width - beyond)

    def _leave(self, box: Box) -> None:
        if min(box[2:]) > 0:
            self.laid.left.append(box)
