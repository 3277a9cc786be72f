"""Whole numbers of patterns: the cheapest that cover a demand, and plans built greedily."""

from __future__ import annotations

import math
import random
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import replace

from ortools.sat.python import cp_model

from nesting.sheet_counted import Counted, is_small, proven
from nesting.sheet_demand import Demand, Pattern, price_of
from nesting.sheet_sizes import Tree, cut_short
from nesting.solvers import solver_for

SPREAD = 0.35  # how far values are moved by chance, as a share of them
MOST_PROVEN = 60  # pieces still wanted, beyond which no sheet is proven
NODES = 250  # rectangles looked at for one sheet that is to be filled well
WHOLE = 10_000  # whole parts that the dearest piece is counted in, so that proofs are short


def distinct(demand: Demand, patterns: Iterable[Pattern]) -> list[Pattern]:
    """Return patterns of which no two hold the same, each within the demand.

    What one sheet can be cut to, a sheet no smaller can, at another yard perhaps.
    """
    most = [one.count for one in demand.wants]
    found: dict[tuple[int, frozenset[tuple[int, int]]], Pattern] = {}
    for pattern in patterns:
        tree = cut_short(pattern.tree, most)
        one = Pattern(pattern.stock, tree)
        if tree is None:
            continue
        for stock in _as_large(demand, one):
            found.setdefault(
                (stock, frozenset(one.holds.items())), replace(one, stock=stock)
            )
    return list(found.values())


def _as_large(demand: Demand, pattern: Pattern) -> list[int]:
    """Return the kinds of sheets that a pattern can be cut from."""
    own = demand.stocks[pattern.stock]
    return [
        at
        for at, one in enumerate(demand.stocks)
        if one.length >= own.length
        and one.width >= own.width
        and one.serves >= pattern.holds.keys()
    ]


def choose(
    demand: Demand,
    patterns: Sequence[Pattern],
    known: Sequence[Pattern],
    least: float,
    *,
    seconds: float,
    seed: int = 1,
    work: float = 0.0,
) -> tuple[Pattern, ...] | None:
    """Return the cheapest plan found from these patterns, in whole sheets.

    `known` is a plan to start from, `least` a proven bound, in cents.
    """
    model = cp_model.CpModel()
    pool = distinct(demand, [*known, *patterns])
    start = Counter(_key(one) for one in known for _ in range(one.times))
    uses = []
    for one in pool:
        most = max(-(-demand.wants[n].count // c) for n, c in one.holds.items())
        use = model.new_int_var(0, min(most, demand.stocks[one.stock].count), "")
        model.add_hint(use, start[_key(one)])
        uses.append(use)
    lacks = [model.new_int_var(0, one.count, "") for one in demand.wants]
    for number, want in enumerate(demand.wants):
        held = sum(one.holds[number] * use for one, use in zip(pool, uses, strict=True))
        model.add(held + lacks[number] >= want.count)
    terms: list[cp_model.LinearExprT] = [100 * demand.penalty * sum(lacks)]
    for at, stock in enumerate(demand.stocks):
        some = [use for one, use in zip(pool, uses, strict=True) if one.stock == at]
        model.add(sum(some) <= stock.count)
    terms += [
        round(100 * price_of(demand, one)) * use
        for one, use in zip(pool, uses, strict=True)
    ]
    terms += _yards(model, demand, pool, uses)
    total = sum(terms)
    model.minimize(total)
    model.add(total >= math.floor(100 * least) - 100)
    solver = solver_for(seconds, seed, work)
    if solver.solve(model) not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return None
    return tuple(
        Pattern(one.stock, one.tree, solver.value(use))
        for one, use in zip(pool, uses, strict=True)
        if solver.value(use)
    )


def _key(pattern: Pattern) -> tuple[int, frozenset[tuple[int, int]]]:
    return (pattern.stock, frozenset(pattern.holds.items()))


def _yards(
    model: cp_model.CpModel,
    demand: Demand,
    pool: Sequence[Pattern],
    uses: Sequence[cp_model.IntVar],
) -> list[cp_model.LinearExprT]:
    """Return trips and what yards bill beyond their goods, in hundredths of a cent."""
    found: list[cp_model.LinearExprT] = []
    for yard in sorted({one.yard for one in demand.stocks if one.yard is not None}):
        visit = model.new_bool_var("")
        goods: list[cp_model.LinearExprT] = []
        smallest, tax = demand.orders.get(yard, (0.0, 1.0))
        for one, use in zip(pool, uses, strict=True):
            stock = demand.stocks[one.stock]
            if stock.yard == yard:
                model.add(use <= stock.count * visit)
                goods.append(math.floor(100 * stock.goods * tax) * use)
        found.append(100 * demand.trips.get(yard, 0) * visit)
        if smallest > 0 and goods:
            most = math.ceil(100 * smallest * tax)
            top_up = model.new_int_var(0, most, "")
            sold = cp_model.LinearExpr.sum(goods)
            model.add(top_up + sold >= most * visit)
            found.append(top_up)
    return found


class Builder:
    """Builds plans sheet after sheet: each is the one that holds most worth per cost."""

    def __init__(self, demand: Demand, rng: random.Random) -> None:
        self.demand = demand
        self.rng = rng
        self.tables = [
            Counted(demand.wants, one) if one.serves else None for one in demand.stocks
        ]
        self.can_prove = [is_small(demand.wants, one) for one in demand.stocks]

    def build(
        self, values: Sequence[float], *, spread: float, is_quick: bool = False
    ) -> tuple[Pattern, ...]:
        """Return a plan for values that are moved by chance; quick ones prove no sheet."""
        moved = [v * (1 + spread * self.rng.uniform(-1, 1)) + 1e-9 for v in values]
        scale = WHOLE / max(moved, default=1.0)
        worths = [float(max(1, round(v * scale))) for v in moved]
        left = [one.count for one in self.demand.wants]
        stocks = [one.count for one in self.demand.stocks]
        plan: list[Pattern] = []
        while any(left):
            best = self._best(worths, left, stocks, is_quick=is_quick)
            if best is None:
                break
            holds = best.holds
            times = min(left[n] // count for n, count in holds.items())
            times = max(1, min(times, stocks[best.stock]))
            plan.append(Pattern(best.stock, best.tree, times))
            stocks[best.stock] -= times
            for number, count in holds.items():
                left[number] -= times * count
        return tuple(plan)

    def _best(
        self, worths: Sequence[float], left: Sequence[int], stocks: Sequence[int],
        *, is_quick: bool,
    ) -> Pattern | None:  # fmt: skip
        """Return the pattern that holds most per cost; of equals the one with most."""
        found: list[tuple[float, float, int, Tree]] = []
        for at, table in enumerate(self.tables):
            if table is None or not stocks[at]:
                continue
            tree = table.fill(worths, left)
            if not is_quick:
                tree = self._proven(at, tree, worths, left)
            if tree is None:
                continue
            stock = self.demand.stocks[at]
            holds = Pattern(at, tree).holds
            worth = sum(worths[n] * count for n, count in holds.items())
            price = max(float(stock.cost), 1e-7 * stock.length * stock.width)
            found.append((-worth / price, price, at, tree))
        if not found:
            return None
        *_, at, tree = min(found, key=lambda one: one[:3])
        return Pattern(at, tree)

    def _proven(
        self, at: int, tree: Tree, worths: Sequence[float], left: Sequence[int]
    ) -> Tree:
        """Return what is better than a tree or proves it, where that takes little."""
        if tree is None or sum(left) > MOST_PROVEN or not self.can_prove[at]:
            return tree
        if self.rng.random() < 0.3:
            return tree
        wants = [
            replace(one, count=count)
            for one, count in zip(self.demand.wants, left, strict=True)
        ]
        stock = self.demand.stocks[at]
        return proven(wants, stock, worths, nodes=NODES, known=tree).tree
