"""Published instances cut from sheets: any cuts right through, in any number of stages.

What comes out is (value, proven bound, how it was found); all of it is checked.
"""

from __future__ import annotations

import math
import time
from collections import Counter
from collections.abc import Mapping
from typing import Any

from nesting.limits import Limit
from nesting.sheet_counted import Counted, proven
from nesting.sheet_demand import Demand
from nesting.sheet_free import Filled, Free
from nesting.sheet_sizes import Stock, Want
from nesting.sheet_stock import cut_stock
from tests.benchmark.engine import held_in_sheet

Found = tuple[int, int, str]

NODES, MORE = 1000, 4  # rectangles looked at first, and how many times more then


def filled(instance: Mapping[str, Any], seconds: float) -> Found:
    """Fill one sheet with what is worth most, for about so many seconds at most."""
    (stock,) = instance["stock"]
    wants, values = _wants(instance), [one["value"] for one in instance["items"]]
    sheet = _sheet(stock, len(wants), 1)
    if all(one["qty"] is None for one in instance["items"]):
        found = Free(wants, sheet).fill(values)
    else:
        found = _counted(wants, sheet, values, seconds)
    held = held_in_sheet(wants, sheet, found.tree)
    assert all(count <= wants[n].count for n, count in held.items())
    assert found.value == sum(values[n] * count for n, count in held.items())
    return int(found.value), math.floor(found.bound + 1e-6), "one sheet"


def _counted(
    wants: tuple[Want, ...], sheet: Stock, values: list[int], seconds: float
) -> Filled:
    """Look at more and more rectangles, until it is proven or time is nearly gone."""
    begun = time.monotonic()
    known = Counted(wants, sheet).fill(values, [one.count for one in wants])
    nodes = NODES
    while True:
        start = time.monotonic()
        found = proven(wants, sheet, values, nodes=nodes, known=known)
        now = time.monotonic()
        if found.value == found.bound or now - begun + MORE * (now - start) > seconds:
            return found
        known, nodes = found.tree, MORE * nodes


def cut(instance: Mapping[str, Any], seconds: float) -> Found:
    """Cut the cheapest sheets for the demand."""
    wants = _wants(instance)
    most = sum(one.count for one in wants)
    stocks = tuple(
        _sheet(one, len(wants), most if one["qty"] is None else one["qty"])
        for one in instance["stock"]
    )
    found = cut_stock(Demand(wants=wants, stocks=stocks), Limit(seconds))
    held: Counter[int] = Counter()
    used: Counter[int] = Counter()
    for pattern in found.patterns:
        used[pattern.stock] += pattern.times
        for n, count in held_in_sheet(wants, stocks[pattern.stock], pattern.tree).items():
            held[n] += pattern.times * count
    assert all(held[n] >= one.count for n, one in enumerate(wants))
    assert all(count <= stocks[n].count for n, count in used.items())
    cost = sum(stocks[n].cost * count for n, count in used.items())
    step = math.gcd(*(one.cost for one in stocks))
    return cost, step * math.ceil(found.bound / step - 1e-6), "patterns"


def _wants(instance: Mapping[str, Any]) -> tuple[Want, ...]:
    """Return the pieces; of one without a limit as many as lie on the largest sheet."""
    room = max(one["length"] * one["width"] for one in instance["stock"])
    return tuple(
        Want(
            ((one["length"], one["width"]),),
            one["qty"] or room // (one["length"] * one["width"]),
        )
        for one in instance["items"]
    )


def _sheet(stock: Mapping[str, Any], kinds: int, count: int) -> Stock:
    return Stock(
        length=stock["length"], width=stock["width"], cost=stock["cost"], count=count,
        serves=frozenset(range(kinds)),
    )  # fmt: skip
