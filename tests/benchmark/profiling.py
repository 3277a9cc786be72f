"""Where a solve spends its time, and how much memory the process came to."""

from __future__ import annotations

import cProfile
import pstats
import resource
import sys
from pathlib import Path

from nesting.project import Project
from nesting.solve import SolveParams, solve
from tests.benchmark.tables import markdown, number

MOST = 25
ROOT = Path(__file__).resolve().parents[2]


def profiled(project: Project, params: SolveParams) -> str:
    """Solve under the profiler; return the functions with most time of their own."""
    profile = cProfile.Profile()
    plan = profile.runcall(solve, project, params)
    # the largest resident size so far: KiB on Linux, bytes on macOS
    scale = 1 if sys.platform == "darwin" else 1024
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * scale
    stats = pstats.Stats(profile).get_stats_profile()
    lines = sorted(
        ((where, one) for where, one in _functions(profile)), key=lambda line: -line[1][0]
    )
    table = markdown(
        ("own, s", "with calls, s", "calls", "function"),
        [
            (number(own, 2), number(whole, 2), str(calls), where)
            for where, (own, whole, calls) in lines[:MOST]
        ],
    )
    gap = plan.totals.gap
    return (
        f"{project.name}: cost {plan.totals.cost}, bound {plan.totals.bound}, "
        f"gap {'-' if gap is None else f'{100 * gap:.1f} %'}, {plan.status}; "
        f"{stats.total_tt:.1f} s profiled, peak memory {peak / 2**20:.0f} MiB.\n\n"
        f"{table}\n"
    )


def _functions(profile: cProfile.Profile) -> list[tuple[str, tuple[float, float, int]]]:
    """Return every function with its own time, time with calls, and count of calls."""
    stats = pstats.Stats(profile).stats  # type: ignore[attr-defined]
    return [
        (f"`{_place(file, line)}{name}`", (own, whole, calls))
        for (file, line, name), (_, calls, own, whole, _) in stats.items()
    ]


def _place(file: str, line: int) -> str:
    """Return where a function stands, without the folders of this machine."""
    if file == "~":
        return ""
    path = Path(file)
    short = path.relative_to(ROOT) if path.is_relative_to(ROOT) else Path(path.name)
    return f"{short}:{line} "
