"""What goes into which load of a vehicle: as few loads as weights allow.

Packing into bins of one size: first fit from the heaviest down, beside a lower bound; where
they differ, CP-SAT decides whether one load less does.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from ortools.sat.python import cp_model

from nesting.solvers import solver_for

MOST_DECIDED = 60  # things to carry, beyond which first fit and the bound must do
_WORK, _SECONDS = 2.0, 30.0  # of CP-SAT for one question


@dataclass(frozen=True, slots=True)
class Loads:
    """Loads as places in the weights given; no way takes fewer loads than `least`."""

    loads: tuple[tuple[int, ...], ...]
    least: int


def loads_for(weights: Sequence[int], most: int) -> Loads:
    """Return the fewest loads of at most `most` that take all `weights`.

    Raises
    ------
    ValueError
        If a weight is above what a load takes, or below nothing.
    """
    if any(not 0 <= weight <= most for weight in weights):
        raise ValueError(f"a weight is between 0 and {most}")
    loads = _first_fit(weights, most)
    least = least_loads(weights, most)
    if len(weights) <= MOST_DECIDED:
        while least < len(loads):
            found = _decide(weights, most, least)
            if found is None:
                break
            if found:
                loads = found
                break
            least += 1
    return Loads(tuple(tuple(sorted(load)) for load in loads), least)


def least_loads(weights: Sequence[int], most: int) -> int:
    """Return a number of loads that no way goes below.

    For each k the weights above `most - k` take a load each, those from `most / 2` to
    there one each too, and what they leave can't hold all that weighs k or more: the
    bound L2 of Martello and Toth, Knapsack Problems (1990), chapter 8, from memory. With
    k = 0 it is at least the total weight by `most`, rounded up.
    """
    if not weights:
        return 0
    bounds = [1]
    for k in {0, *(weight for weight in weights if 2 * weight <= most)}:
        alone = sum(1 for weight in weights if weight > most - k)
        halves = [weight for weight in weights if most - k >= weight > most / 2]
        small = sum(weight for weight in weights if k <= weight and 2 * weight <= most)
        beyond = small - (len(halves) * most - sum(halves))
        more = -(-beyond // most) if beyond > 0 else 0
        bounds.append(alone + len(halves) + more)
    return max(bounds)


def _first_fit(weights: Sequence[int], most: int) -> list[list[int]]:
    """Return loads filled one after the other, the heaviest things first."""
    loads: list[list[int]] = []
    room: list[int] = []
    for at in sorted(range(len(weights)), key=lambda at: (-weights[at], at)):
        place = next((n for n, left in enumerate(room) if weights[at] <= left), None)
        if place is None:
            loads.append([])
            room.append(most)
            place = len(loads) - 1
        loads[place].append(at)
        room[place] -= weights[at]
    return loads


def _decide(weights: Sequence[int], most: int, count: int) -> list[list[int]] | None:
    """Return `count` loads that take everything, [] if there are none, None if unknown."""
    model = cp_model.CpModel()
    order = sorted(range(len(weights)), key=lambda at: (-weights[at], at))
    # goes[at, n] is true when a thing goes into load n; loads are alike, so the heaviest
    # thing goes into the first, the next into one of the first two, and so on.
    goes = {
        (at, n): model.new_bool_var(f"{at} in {n}")
        for rank, at in enumerate(order)
        for n in range(min(rank + 1, count))
    }
    for at in order:
        model.add_exactly_one(goes[at, n] for n in range(count) if (at, n) in goes)
    for n in range(count):
        model.add(sum(weights[at] * one for (at, m), one in goes.items() if m == n) <= most)
    solver = solver_for(_SECONDS, 0, _WORK)
    status = solver.solve(model)
    if status == cp_model.INFEASIBLE:
        return []
    if status not in {cp_model.OPTIMAL, cp_model.FEASIBLE}:
        return None
    loads = [[at for at in order if (at, n) in goes and solver.value(goes[at, n])]
             for n in range(count)]  # fmt: skip
    return [load for load in loads if load]
