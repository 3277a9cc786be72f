"""Generated projects, planned by the search and by two planners without one."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from decimal import Decimal

from nesting.plan import COMPLETE, Plan
from nesting.project import Project
from nesting.solve import Progress, SolveParams, solve
from nesting.verify import verify
from stock.errors import VerificationError
from tests.benchmark import craftsman, packer
from tests.benchmark.generated import project_for
from tests.benchmark.layouts import boards_per_panel
from tests.benchmark.tables import markdown, median, number, percent

Say = Callable[[str], None]


@dataclass(frozen=True, slots=True)
class Rivals:
    """Costs of layouts made without a search; None if they leave something out.

    `spread` is how many boards the craftsman's staves of one panel come from.
    """

    packed: Decimal | None
    crafted: Decimal | None
    runs: int
    spread: float | None = None


@dataclass(frozen=True, slots=True)
class Outcome:
    """One project planned within one time limit.

    Attributes
    ----------
    cost, bound, gap
        Of the plan; the cost is None if the plan is short, or was refused.
    first
        Seconds until the first complete plan; None if there was none.
    spread
        How many boards the staves of one panel come from, on the average.
    """

    size: str
    seed: int
    limit: float
    took: float
    cost: Decimal | None
    bound: Decimal | None
    gap: float | None
    first: float | None
    is_verified: bool
    rivals: Rivals
    spread: float | None = None

    @property
    def saved(self) -> float | None:
        """How far the plan is below the better rival, as a share of it."""
        others = [c for c in (self.rivals.packed, self.rivals.crafted) if c is not None]
        if self.cost is None or not others:
            return None
        return float(1 - self.cost / min(others))


def rivals_of(project: Project, *, runs: int, seconds: float) -> Rivals:
    """Return what the two simple planners come to, in about `seconds` each."""
    crafted = craftsman.best_of(project, runs=runs, seconds=seconds)
    packed = packer.best_packing(project, seconds=seconds)
    layout = crafted.layout
    spread = None if layout is None else boards_per_panel(project, layout)
    return Rivals(packed.cost, crafted.cost, crafted.runs, spread)


def planned(
    project: Project, limit: float, rivals: Rivals, *, size: str, seed: int
) -> Outcome:
    """Plan a project in about `limit` seconds and check the plan once more."""
    begun = time.monotonic()
    first: float | None = None

    def note(progress: Progress) -> None:
        nonlocal first
        if first is None and progress.cost is not None:
            first = time.monotonic() - begun

    plan: Plan | None = None
    try:
        plan = solve(project, SolveParams(seconds=limit, seed=seed), on_progress=note)
    except VerificationError:
        plan = None
    took = time.monotonic() - begun
    totals = plan.totals if plan else None
    is_whole = plan is not None and plan.status == COMPLETE
    return Outcome(
        size=size, seed=seed, limit=limit, took=took,
        cost=totals.cost if totals and is_whole else None,
        bound=totals.bound if totals else None,
        gap=totals.gap if totals and is_whole else None,
        first=first,
        is_verified=plan is not None and not verify(project, plan),
        rivals=rivals,
        spread=_spread(plan) if plan and plan.panels else None,
    )  # fmt: skip


def _spread(plan: Plan) -> float:
    """Return how many boards the staves of one panel come from, on the average."""
    boards = [len({stave.board for stave in panel.staves}) for panel in plan.panels]
    return sum(boards) / len(boards)


def run_size(
    size: str,
    seeds: int,
    limits: tuple[float, ...],
    *,
    marks: bool,
    runs: int,
    rival_seconds: float,
    say: Say,
) -> Iterator[Outcome]:
    """Plan all seeds of a size within every limit; the rivals play once per seed."""
    for seed in range(1, seeds + 1):
        project = project_for(size, seed, marks=marks)
        say(f"{size} {seed}: planners without a search")
        rivals = rivals_of(project, runs=runs, seconds=rival_seconds)
        for limit in limits:
            say(f"{size} {seed}: {limit:g} s")
            one = planned(project, limit, rivals, size=size, seed=seed)
            say(f"{size} {seed}: cost {one.cost}, bound {one.bound}, {one.took:.1f} s")
            yield one


# --- the table ------------------------------------------------------------------------

HEADS = (
    "size", "seed", "limit, s", "took, s", "cost", "bound", "gap", "first plan, s",
    "verified", "rectpack", "craftsman", "runs", "saved", "boards/panel", "craftsman's",
)  # fmt: skip


def report(outcomes: list[Outcome]) -> str:
    """Return one table; each group of a size and a limit ends with its medians."""
    groups: dict[tuple[str, float], list[Outcome]] = {}
    for one in outcomes:
        groups.setdefault((one.size, one.limit), []).append(one)
    lines = []
    for group in groups.values():
        lines += [_row(one) for one in group]
        lines.append(_middle(group))
    return markdown(HEADS, lines) + "\n\n" + LEGEND


LEGEND = (
    "Costs are the objective of plans: whole boards and trips, less kept offcuts. A dash: "
    "not everything was made. rectpack and craftsman take staves of equal width; saved is "
    "against the better of the two.\n"
)


def _row(one: Outcome) -> tuple[str, ...]:
    rivals = one.rivals
    return (
        one.size, str(one.seed), f"{one.limit:g}", number(one.took, 1),
        number(one.cost, 2), number(one.bound, 2), percent(one.gap), number(one.first, 1),
        "yes" if one.is_verified else "no", number(rivals.packed, 2),
        number(rivals.crafted, 2), str(rivals.runs), percent(one.saved),
        number(one.spread, 2), number(rivals.spread, 2),
    )  # fmt: skip


def _middle(group: list[Outcome]) -> tuple[str, ...]:
    """Return the medians of a group."""
    verified = sum(1 for one in group if one.is_verified)
    return (
        group[0].size, "median", f"{group[0].limit:g}",
        number(median(one.took for one in group), 1),
        number(median(one.cost for one in group), 2),
        number(median(one.bound for one in group), 2),
        percent(median(one.gap for one in group)),
        number(median(one.first for one in group), 1),
        f"{verified} of {len(group)}",
        number(median(one.rivals.packed for one in group), 2),
        number(median(one.rivals.crafted for one in group), 2),
        "", percent(median(one.saved for one in group)),
        number(median(one.spread for one in group), 2),
        number(median(one.rivals.spread for one in group), 2),
    )  # fmt: skip
