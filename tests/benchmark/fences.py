"""How often the rip fence is set, before and after stave widths are made to agree."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

from nesting.plan import RipCount
from nesting.project import Project
from nesting.solve import SolveParams, solve
from tests.benchmark.tables import markdown, percent

HEADS = ("size", "plans", "settings", "before widths agree", "fewer")
LEGEND = "Settings of the rip fence for all rough rips, summed over the plans of a size.\n"


@dataclass(frozen=True, slots=True)
class Outcome:
    """One project planned."""

    size: str
    rips: RipCount


def run(size: str, project: Project, seconds: float) -> Outcome:
    """Plan a project and return how often its plan sets the fence."""
    rips = solve(project, SolveParams(seconds=seconds, seed=1)).rips
    return Outcome(size, rips or RipCount(settings=0, before=0))


def report(outcomes: Sequence[Outcome]) -> str:
    """Return a table of the outcomes, a row per size."""
    sizes: dict[str, list[RipCount]] = defaultdict(list)
    for one in outcomes:
        sizes[one.size].append(one.rips)
    rows = []
    for size, counts in sizes.items():
        settings, before = sum(c.settings for c in counts), sum(c.before for c in counts)
        fewer = percent((before - settings) / before if before else None, 0)
        rows.append((size, str(len(counts)), str(settings), str(before), fewer))
    return f"{LEGEND}\n{markdown(HEADS, rows)}"
