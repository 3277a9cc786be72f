"""What a plan leaves short, why, and what to buy so that it does not."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import replace

from nesting.blanks import blanks_for
from nesting.fitting import misfits, net_feet
from nesting.plan import Shortage
from nesting.problem import Problem
from nesting.project import Project
from nesting.settle import Settled
from stock.measures import BOARD_FEET_PER_M3, Unit

LOSS = 3  # a loss of one third, a seller's advice: buy half as much again as the blanks


def shortages(project: Project, problem: Problem, settled: Settled) -> Iterator[Shortage]:
    """Yield every copy that is not made, with the reason."""
    fits = {short.part: short.why for short in misfits(project, blanks_for(project))}
    made = settled.made()
    for item in problem.items:
        done = made.get(item.index, set())
        for first in range(0, item.units, item.layers):
            if all(unit in done for unit in range(first, first + item.layers)):
                continue
            why = fits.get(item.part, "the boards at hand do not hold it beside the rest")
            for copy in dict.fromkeys(item.copies_of(first)):
                yield Shortage(part=item.part, copy=copy, why=why)


def to_buy(project: Project, short: tuple[Shortage, ...]) -> tuple[str, ...]:
    """Return what to buy for the copies that are short, one line per kind of wood.

    The blanks' net board feet are raised by half, which allows for losing a third of what
    is bought (common practice, no source).
    """
    lacking = Counter(shortage.part for shortage in short)
    missing = [
        replace(blank, copies=lacking[blank.part])
        for blank in blanks_for(project)
        if lacking[blank.part]
    ]
    lines = []
    for (species, thickness), feet in sorted(net_feet(project, missing).items()):
        wood = feet * LOSS / (LOSS - 1)
        amount = f"{float(wood):.1f} board feet"
        if project.unit is Unit.MM:
            amount = f"{float(wood / BOARD_FEET_PER_M3):.3f} m3"
        label = thickness.label or f"{float(thickness.nominal):g} {project.unit.value}"
        lines.append(
            f"buy about {amount} more of {species} {label}, in boards that hold the short "
            "parts; that is half as much again as their blanks"
        )
    return tuple(lines)
