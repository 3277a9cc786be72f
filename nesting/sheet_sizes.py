"""What the sheet engine works with: pieces wanted, kinds of sheets, trees of cuts.

Every size here has a kerf added, sheets too: a cut then takes no room, and the last kerf
of a row may run off the edge. A cut at `at` leaves a first part of real size `at` less the
kerf, and the second part starts at `at`.
"""

from __future__ import annotations

from bisect import bisect_right
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from math import gcd

Size = tuple[int, int]

CROSSCUT, RIP = "crosscut", "rip"  # as the cuts of a plan


@dataclass(frozen=True, slots=True)
class Want:
    """A piece that is wanted: its (length, width), one per way to lie, and how many."""

    sizes: tuple[Size, ...]
    count: int

    @property
    def area(self) -> int:
        """Area of one piece."""
        length, width = self.sizes[0]
        return length * width


@dataclass(frozen=True, kw_only=True, slots=True)
class Stock:
    """Sheets of one kind.

    Attributes
    ----------
    cost
        Cents for one, whatever is cut from it.
    count
        How many there are.
    serves
        Places of the wanted pieces that may be cut from it.
    yard, goods
        Who sells it, or None if owned; what one counts for a smallest order, in cents.
    """

    length: int
    width: int
    cost: int
    count: int
    serves: frozenset[int]
    yard: str | None = None
    goods: float = 0.0


@dataclass(frozen=True, slots=True)
class Leaf:
    """One piece, and the way it lies."""

    want: int
    way: int = 0


@dataclass(frozen=True, slots=True)
class Split:
    """A cut right through, a crosscut at x or a rip at y, and both its sides."""

    kind: str
    at: int
    first: Tree
    second: Tree


Tree = Leaf | Split | None


def leaves(tree: Tree) -> Iterator[Leaf]:
    """Yield the pieces of a tree, in the order that the cuts free them."""
    if isinstance(tree, Leaf):
        yield tree
    elif tree is not None:
        yield from leaves(tree.first)
        yield from leaves(tree.second)


def counts_of(tree: Tree) -> Counter[int]:
    """Return how many of each piece a tree holds."""
    return Counter(leaf.want for leaf in leaves(tree))


def cut_short(tree: Tree, most: Sequence[int]) -> Tree:
    """Return a tree without the pieces beyond so many of each; their wood is left over."""
    left = list(most)

    def kept(part: Tree) -> Tree:
        if isinstance(part, Leaf):
            if left[part.want] <= 0:
                return None
            left[part.want] -= 1
            return part
        if part is None:
            return None
        first, second = kept(part.first), kept(part.second)
        if first is None and second is None:
            return None
        return replace(part, first=first, second=second)

    return kept(tree)


@dataclass(frozen=True, slots=True)
class Grid:
    """Places where cuts need be: sums of sizes of wanted pieces, from 0 on.

    Any way to cut can be pushed to the lower left corner, so that every cut lies at a sum
    of sizes (normal patterns: Herz 1972, Christofides and Whitlock 1977). Of a piece no
    more copies count than are wanted.
    """

    xs: tuple[int, ...]
    ys: tuple[int, ...]


def grid_for(wants: Sequence[Want], stock: Stock) -> Grid:
    """Return the grid of a sheet."""
    some = [wants[n] for n in sorted(stock.serves) if wants[n].count > 0]
    fit = [replace(one, sizes=fitting(one, stock)) for one in some]
    return Grid(
        _sums([({x for x, _ in one.sizes}, one.count) for one in fit], stock.length),
        _sums([({y for _, y in one.sizes}, one.count) for one in fit], stock.width),
    )


def fitting(want: Want, stock: Stock) -> tuple[Size, ...]:
    """Return the ways of a piece that fit on a sheet."""
    return tuple((x, y) for x, y in want.sizes if x <= stock.length and y <= stock.width)


def _sums(sizes: Iterable[tuple[set[int], int]], limit: int) -> tuple[int, ...]:
    """Return all sums of so many of each of these sizes, up to a limit."""
    bits, mask = 1, (1 << (limit + 1)) - 1
    for ways, count in sizes:
        if not ways:
            continue
        for _ in range(min(count, limit // min(ways))):
            more = bits
            for size in ways:
                more |= bits << size
            more &= mask
            if more == bits:
                break
            bits = more
    return tuple(at for at, bit in enumerate(reversed(f"{bits:b}")) if bit == "1")


def below(points: Sequence[int], size: int) -> int:
    """Return the place of the last point that is not above a size."""
    return bisect_right(points, size) - 1


def coarser(
    wants: Sequence[Want], stock: Stock, step: int, *, up: bool
) -> tuple[tuple[Want, ...], Stock]:
    """Return pieces and a sheet in whole steps, pieces rounded up or down.

    A sheet is rounded down. Rounded up, what can be cut can be cut of the real sizes too,
    with cuts at `step` times the place; rounded down, all that can be cut of the real
    sizes can be cut, for sums of whole steps are whole steps.
    """
    more = step - 1 if up else 0
    rounded = tuple(
        replace(
            one, sizes=tuple(((x + more) // step, (y + more) // step) for x, y in one.sizes)
        )
        for one in wants
    )
    return rounded, replace(stock, length=stock.length // step, width=stock.width // step)


def common_step(wants: Sequence[Want], stock: Stock) -> int:
    """Return the greatest step that all sizes of pieces are multiples of."""
    step = 0
    for number in stock.serves:
        for x, y in wants[number].sizes:
            step = gcd(step, x, y)
    return max(1, step)


def enlarged(tree: Tree, step: int) -> Tree:
    """Return a tree with its cuts at `step` times their places."""
    if not isinstance(tree, Split):
        return tree
    return Split(
        tree.kind, tree.at * step, enlarged(tree.first, step), enlarged(tree.second, step)
    )
