"""The cheapest sheets for a demand: what is asked, what a plan of cuts costs.

Money is cents. Yards may ask for a trip, and bill a smallest order.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from nesting.sheet_sizes import Leaf, Split, Stock, Tree, Want, counts_of

MANY_CENTS = 100  # a missing piece counts so many times what all sheets cost, at least


@dataclass(frozen=True, kw_only=True)
class Demand:
    """Pieces wanted, sheets there are, and what yards ask.

    Attributes
    ----------
    trips
        Cents for going to each yard.
    orders
        Per yard, what it bills at least, cents before tax, and one plus its tax.
    per_cut
        Cents for the time that one cut takes.
    """

    wants: tuple[Want, ...]
    stocks: tuple[Stock, ...]
    trips: Mapping[str, int] = field(default_factory=dict)
    orders: Mapping[str, tuple[float, float]] = field(default_factory=dict)
    per_cut: float = 0.0

    @property
    def pieces(self) -> int:
        """How many pieces are wanted."""
        return sum(one.count for one in self.wants)

    @property
    def penalty(self) -> int:
        """What a missing piece counts, in cents: more than any plan may cost."""
        sheets = sum(one.cost * min(one.count, self.pieces) for one in self.stocks)
        fixed = sum(self.trips.values()) + sum(s * t for s, t in self.orders.values())
        return MANY_CENTS + int(2 * (sheets + fixed + 4 * self.per_cut * self.pieces))


@dataclass(frozen=True, slots=True)
class Pattern:
    """A way to cut a sheet of one kind, and how many sheets are cut so."""

    stock: int
    tree: Tree
    times: int = 1

    @property
    def holds(self) -> Counter[int]:
        """How many of each piece one sheet gives."""
        return counts_of(self.tree)


def number_of_cuts(wants: Sequence[Want], stock: Stock, tree: Tree) -> int:
    """Return how many cuts free the pieces of a tree from a sheet."""
    return _cuts(wants, tree, stock.length, stock.width)


def _cuts(wants: Sequence[Want], tree: Tree, length: int, width: int) -> int:
    if isinstance(tree, Leaf):
        x, y = wants[tree.want].sizes[tree.way]
        return (x < length) + (y < width)
    if not isinstance(tree, Split):
        return 0
    if tree.along:
        sides = (tree.at, width), (length - tree.at, width)
    else:
        sides = (length, tree.at), (length, width - tree.at)
    if tree.second is None and isinstance(tree.first, Leaf):
        return _cuts(wants, tree.first, length, width)  # the piece's own trims do it
    first, second = sides
    return (
        1 + _cuts(wants, tree.first, *first) + _cuts(wants, tree.second, *second)
    )


def missing(demand: Demand, plan: Iterable[Pattern]) -> Counter[int]:
    """Return how many of each piece a plan lacks."""
    left = Counter({n: one.count for n, one in enumerate(demand.wants) if one.count})
    for pattern in plan:
        for number, count in pattern.holds.items():
            left[number] -= count * pattern.times
    return +left


def cost_of(demand: Demand, plan: Iterable[Pattern]) -> float:
    """Return what a plan costs in cents: sheets, trips, top-ups, cuts, missing pieces."""
    plan = tuple(plan)
    total = float(demand.penalty * missing(demand, plan).total())
    goods: dict[str, float] = {}
    for pattern in plan:
        stock = demand.stocks[pattern.stock]
        cuts = number_of_cuts(demand.wants, stock, pattern.tree)
        total += pattern.times * (stock.cost + demand.per_cut * cuts)
        if stock.yard is not None:
            sold = pattern.times * stock.goods
            goods[stock.yard] = goods.get(stock.yard, 0.0) + sold
    for yard, sold in goods.items():
        smallest, tax = demand.orders.get(yard, (0.0, 1.0))
        total += demand.trips.get(yard, 0) + max(0.0, smallest - sold) * tax
    return total
