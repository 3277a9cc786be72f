"""Staves and panels of our own making, and how well and how fast they are arranged."""

from __future__ import annotations

import random
import time
from dataclasses import dataclass

from nesting.arrange import Arrangement, Effort, arrange
from nesting.arranging import (
    POINT,
    Demand,
    Stave,
    Taste,
)
from tests.benchmark.tables import markdown, number

INCH = 64
SIZES = ((2, 3, 18), (4, 3, 18), (4, 4, 33), (8, 4, 54), (12, 5, 101))
HEADS = (
    "panels", "staves each", "staves", "greedy", "found", "of it proven", "seconds",
)  # fmt: skip
LEGEND = (
    "Costs in points, a set of panels from boards of two to four logs; invented staves. "
    "Greedy is the best row from any stave, panel after panel.\n"
)


@dataclass(frozen=True, slots=True)
class Outcome:
    """One instance arranged."""

    panels: int
    each: int
    staves: int
    greedy: int | None
    found: Arrangement
    took: float


def instance(
    panels: int, each: int, staves: int, seed: int
) -> tuple[tuple[Demand, ...], tuple[Stave, ...]]:
    """Return panels of one set, each as wide as `each` usual staves, and staves."""
    rng = random.Random(f"matching {panels} {each} {staves} {seed}")
    width = 4 * INCH
    demands = tuple(
        Demand(
            name=f"Door {number}", part="Door", need=each * width - width // 2,
            finished=each * width - width, high=6 * INCH, set="doors",
        )
        for number in range(1, panels + 1)
    )  # fmt: skip
    found: list[Stave] = []
    board = 0
    while len(found) < staves:
        board += 1
        log = f"log {rng.randint(1, 2 + staves // 30)}"
        tone, order = rng.randint(2, 4), rng.randint(1, 12)
        sawing = rng.choice(("plain", "plain", "rift", "quarter"))
        for at in range(min(rng.randint(1, 4), staves - len(found))):
            net = width + rng.randint(-6, 10) * INCH // 8
            found.append(
                Stave(
                    name=f"{board}.{at}", board=f"board {board}", log=log, order=order,
                    y=at * 5 * INCH, width=net + INCH // 8, net=net, length=30 * INCH,
                    sawing=sawing, tone=tone, serves=frozenset({"Door"}),
                )
            )  # fmt: skip
    return demands, tuple(found)


def run(panels: int, each: int, staves: int, seed: int, effort: Effort) -> Outcome:
    """Arrange one instance."""
    demands, wood = instance(panels, each, staves, seed)
    began = time.monotonic()
    found = arrange(demands, wood, Taste(inch=INCH), effort=effort)
    took = time.monotonic() - began
    return Outcome(panels, each, staves, found.first, found, took)


def report(outcomes: list[Outcome]) -> str:
    """Return a table, a row per instance."""
    rows = [
        (
            str(one.panels), str(one.each), str(one.staves),
            "-" if one.greedy is None else number(one.greedy / POINT, 1),
            number(one.found.cost / POINT, 1),
            "yes" if one.found.is_proven else "no", number(one.took, 1),
        )
        for one in outcomes
    ]  # fmt: skip
    return markdown(HEADS, rows) + "\n\n" + LEGEND
