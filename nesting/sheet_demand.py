"""The cheapest sheets for a demand: what is asked, what a plan of cuts costs.

Money is cents. Yards may ask for a trip, and bill a smallest order.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from nesting.sheet_layout import number_of_cuts
from nesting.sheet_sizes import Stock, Tree, Want, counts_of

MANY_CENTS = 100  # a missing piece counts so many times what all sheets cost, at least


@dataclass(frozen=True, kw_only=True)
class Demand:
    """Pieces wanted, sheets there are, and what yards ask.

    Attributes
    ----------
    trips
        Cents for going to each yard.
    orders
        Per yard, what it bills at least, cents before tax, and one plus its tax; none
        where lumber may be bought beside the sheets.
    per_cut
        Cents for the time that one cut takes.
    trims
        Cuts at the edges of each sheet, before any other.
    apart
        Yards whose trips are left out of the bound, as they may be paid for lumber.
    """

    wants: tuple[Want, ...]
    stocks: tuple[Stock, ...]
    trips: Mapping[str, int] = field(default_factory=dict)
    orders: Mapping[str, tuple[float, float]] = field(default_factory=dict)
    per_cut: float = 0.0
    trims: int = 0
    apart: frozenset[str] = frozenset()

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


def price_of(demand: Demand, pattern: Pattern) -> float:
    """Return what a sheet that is cut by a pattern costs in cents, with its cuts."""
    stock = demand.stocks[pattern.stock]
    if not demand.per_cut:
        return float(stock.cost)
    size = (stock.length, stock.width)
    cuts = number_of_cuts(demand.wants, size, pattern.tree) + demand.trims
    return stock.cost + demand.per_cut * cuts


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
        total += pattern.times * price_of(demand, pattern)
        if stock.yard is not None:
            sold = pattern.times * stock.goods
            goods[stock.yard] = goods.get(stock.yard, 0.0) + sold
    for yard, sold in goods.items():
        smallest, tax = demand.orders.get(yard, (0.0, 1.0))
        total += demand.trips.get(yard, 0) + max(0.0, smallest - sold) * tax
    return total
