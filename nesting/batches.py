"""Which glue-ups are in clamps together: as few batches as the shop's clamps allow.

That is bin packing, some jobs only after others. Filling batch after batch with the
largest job that still fits gives a plan; a lower bound by Martello and Toth (1990,
Knapsack Problems, chapter 8: L2, from memory) and the longest chain of jobs say how many
batches there must be; where the two differ, CP-SAT decides.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from ortools.sat.python import cp_model

from nesting.limits import AGES
from nesting.solvers import solver_for

WORK = 5.0  # CP-SAT's deterministic time for one number of batches
LARGEST = 20_000  # jobs times batches; beyond that the first plan and its bound must do


@dataclass(frozen=True, slots=True)
class Job:
    """What is put into clamps in one go.

    Attributes
    ----------
    clamps
        How many clamps it takes; one that takes more than there are goes alone.
    after
        Names of jobs that must have left their clamps before.
    """

    name: str
    clamps: int
    after: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Batching:
    """Batches in order, each the names of its jobs; `least` batches are proven needed."""

    batches: tuple[tuple[str, ...], ...]
    least: int

    @property
    def is_proven(self) -> bool:
        """Whether no fewer batches would do."""
        return len(self.batches) == self.least


def batches_for(jobs: Sequence[Job], clamps: int) -> Batching:
    """Return batches for jobs with names of their own, `clamps` at hand.

    Jobs must name only jobs of the list in `after`, and not in a circle.
    """
    most = max(1, clamps)
    needs = {job.name: max(1, min(job.clamps, most)) for job in jobs}
    best = _filled(jobs, needs, most)
    least = max(_packed_least(list(needs.values()), most), _longest_chain(jobs))
    for count in range(least, len(best)):
        if count * len(jobs) > LARGEST:
            break
        status, found = _decided(jobs, needs, most, count)
        if found:
            return Batching(found, least)
        if status != cp_model.INFEASIBLE:
            break
        least = count + 1
    return Batching(best, least)


def _filled(
    jobs: Sequence[Job], needs: Mapping[str, int], most: int
) -> tuple[tuple[str, ...], ...]:
    """Fill batch after batch: what others wait for first, then the largest that fits."""
    waited = {name for job in jobs for name in job.after}
    done: set[str] = set()
    batches = []
    while len(done) < len(needs):
        ready = [j for j in jobs if j.name not in done and done.issuperset(j.after)]
        if not ready:
            raise ValueError("jobs wait for each other")
        ready.sort(key=lambda job: (job.name not in waited, -needs[job.name]))
        free, inside = most, set()
        for job in ready:
            if needs[job.name] <= free:
                free -= needs[job.name]
                inside.add(job.name)
        done |= inside
        batches.append(tuple(job.name for job in jobs if job.name in inside))
    return tuple(batches)


def _packed_least(needs: Sequence[int], most: int) -> int:
    """Return batches that sizes alone ask for, whatever waits for what (bound L2)."""
    bounds = [0]
    for small in {0, *(need for need in needs if 2 * need <= most)}:
        alone = sum(need > most - small for need in needs)
        large = [need for need in needs if 2 * need > most and need <= most - small]
        rest = sum(need for need in needs if small <= need and 2 * need <= most)
        over = rest - (len(large) * most - sum(large))
        bounds.append(alone + len(large) + max(0, -(-over // most)))
    return max(bounds)


def _longest_chain(jobs: Sequence[Job]) -> int:
    """Return the most jobs that wait for one another."""
    by_name = {job.name: job for job in jobs}
    depths: dict[str, int] = {}

    def depth(name: str) -> int:
        if name not in depths:
            depths[name] = 1 + max(map(depth, by_name[name].after), default=0)
        return depths[name]

    return max((depth(job.name) for job in jobs), default=0)


def _decided(
    jobs: Sequence[Job], needs: Mapping[str, int], most: int, count: int
) -> tuple[cp_model.CpSolverStatus, tuple[tuple[str, ...], ...] | None]:
    """Decide whether `count` batches will do; return the status, and batches if so."""
    model = cp_model.CpModel()
    inside = {
        job.name: [model.new_bool_var(f"{at} in {b}") for b in range(count)]
        for at, job in enumerate(jobs)
    }
    batch = {
        name: sum(b * one for b, one in enumerate(row)) for name, row in inside.items()
    }
    for row in inside.values():
        model.add_exactly_one(row)
    for b in range(count):
        model.add(sum(need * inside[name][b] for name, need in needs.items()) <= most)
    for job in jobs:
        for name in job.after:
            model.add(batch[name] + 1 <= batch[job.name])
    _break_ties(model, jobs, needs, batch)
    solver = solver_for(AGES, 1, WORK)
    status = solver.solve(model)
    if status not in {cp_model.OPTIMAL, cp_model.FEASIBLE}:
        return status, None
    found = (
        tuple(job.name for job in jobs if solver.boolean_value(inside[job.name][b]))
        for b in range(count)
    )
    return status, tuple(names for names in found if names)


def _break_ties(
    model: cp_model.CpModel,
    jobs: Sequence[Job],
    needs: Mapping[str, int],
    batch: Mapping[str, cp_model.LinearExprT],
) -> None:
    """Put jobs that are alike in every way in batches in the order of the list."""
    waited = {name for job in jobs for name in job.after}
    last: dict[int, str] = {}
    for job in jobs:
        if job.after or job.name in waited:
            continue
        need = needs[job.name]
        if need in last:
            model.add(batch[last[need]] <= batch[job.name])
        last[need] = job.name
