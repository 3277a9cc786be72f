"""All ways to the thickness of every part at once: what no choice among them goes below.

Each way is an item of its own; the ways of a part share its rows in the linear master,
where a piece counts for as many copies as its leaves are, and for one of its layers. Any
plan, whichever way it makes each copy, is a solution of that program, so what it proves
holds for all of them. It also tells in which ways a part is made best, in fractions.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np

from nesting.blanks import Blank, blank_for, blanks_for, dressed_by_species
from nesting.bulk import relax_large
from nesting.columns import Column, Master, Relaxation, Rows, kernels_for, relax
from nesting.large import is_large
from nesting.parts import Part, Way
from nesting.patterns import Kernel
from nesting.problem import Problem, problem_of
from nesting.project import Project
from nesting.select import priced_on, select
from nesting.sets import lots_for

Shares = Mapping[str, Mapping[Way, float]]


@dataclass(frozen=True, slots=True)
class EveryWay:
    """A problem with an item for every way of every part.

    Attributes
    ----------
    ways
        The way of each item.
    per
        What a piece of each item counts in the rows of its part: leaves over layers, in
        the least common multiple of the layers.
    """

    problem: Problem
    ways: tuple[Way, ...]
    per: tuple[int, ...]

    def rows(self, copies: Mapping[str, int] | None = None) -> Rows:
        """Return the rows of the parts; `copies` says how many are made, if not all."""
        demand: list[float] = []
        first: list[int] = []
        known: dict[str, int] = {}
        for item, way, per in zip(self.problem.items, self.ways, self.per, strict=True):
            if item.part not in known:
                known[item.part] = len(demand)
                wanted = item.copies if copies is None else copies.get(item.part, 0)
                whole = wanted * per * way.layers // way.per_piece
                demand += (
                    [whole * item.need, whole * item.staves] if item.is_panel else [whole]
                )
            first.append(known[item.part])
        return Rows(np.array(demand, dtype=float), tuple(first), self.per)

    def fewest_units(self, copies: Mapping[str, int] | None = None) -> list[int]:
        """Return units of each item: of a part, of the way that takes fewest pieces."""
        pieces: dict[str, list[tuple[float, int, int]]] = defaultdict(list)
        for item, way in zip(self.problem.items, self.ways, strict=True):
            count = item.copies if copies is None else copies.get(item.part, 0)
            units = count * way.layers
            if not item.is_panel:
                units = -(-units // way.per_piece)
            staves = item.staves if item.is_panel and not item.single else 1
            pieces[item.part].append((units * staves, item.index, units))
        found = [0] * len(self.problem.items)
        for some in pieces.values():
            _, index, units = min(some)
            found[index] = units
        return found

    def cannot_make(self) -> bool:
        """Whether some part is served by no bin in any way."""
        served = frozenset[int]().union(*(one.wanted for one in self.problem.bins))
        parts = {item.part for item in self.problem.items if item.index in served}
        return any(item.part not in parts for item in self.problem.items)


@dataclass(frozen=True, slots=True)
class Outlook:
    """What is proven of all ways, in cents, by what, and in which ways parts are made."""

    bound: float
    bound_name: str
    shares: tuple[Shares, ...]


def every_way(project: Project, ways: Mapping[str, tuple[Way, ...]]) -> EveryWay:
    """Return the problem of a project's parts in all `ways`; others as their blanks say."""
    dressed = dressed_by_species(project)
    made = []
    found: list[Way] = []
    per: list[int] = []
    for part, blank in zip(project.parts, blanks_for(project), strict=True):
        if part.source != "stock" or not part.copies:
            continue
        own = ways.get(part.name, (Way(1, blank.layers),))
        common = math.lcm(*(way.layers for way in own))
        for way in own:
            is_usual = part.name not in ways
            made.append((part, blank if is_usual else _blank(project, part, dressed, way)))
            found.append(way)
            per.append(way.per_piece * common // way.layers)
    return EveryWay(problem_of(project, made), tuple(found), tuple(per))


def _blank(
    project: Project, part: Part, dressed: Mapping[str, set[int]], way: Way
) -> Blank:
    return blank_for(part, project.shop, dressed.get(part.species, ()), way)


def outlook(
    every: EveryWay,
    *,
    stop: Callable[[], bool],
    seconds: float,
    nodes: int = 0,
) -> Outlook:
    """Return what holds for all ways, and in which ways parts would be made.

    Parts may be made otherwise in fractions of boards than in the cheapest set of whole
    boards, so the shares of both are told, as far as known. `seconds` limits each integer
    program, and `nodes` its tree if not 0.
    """
    problem, rows = every.problem, every.rows()
    kernels = kernels_for(problem)
    if is_large(problem):
        relaxed = relax_large(problem, kernels, rows, stop)
        return Outlook(
            relaxed.bound, "column generation", (_shares(every, rows, relaxed.columns),)
        )
    relaxed = relax(problem, kernels, rows, stop=stop)
    shares = [_shares(every, rows, relaxed.columns)]
    if not relaxed.feasible:
        return Outlook(0.0, "column generation", tuple(shares))
    if not _are_apart(problem, kernels, rows):
        return Outlook(relaxed.bound, "column generation", tuple(shares))
    chosen = select(problem, kernels, relaxed, stop=stop, seconds=seconds, nodes=nodes)
    if chosen.bins:
        _, _, new = priced_on(problem, kernels, relaxed, relaxed.columns, chosen.bins)
        columns = [*relaxed.columns, *new]
        shares.append(_shares(every, rows, columns, chosen.bins))
    name = "whole boards" if chosen.bound > relaxed.bound else "column generation"
    return Outlook(max(chosen.bound, relaxed.bound), name, tuple(shares))


def proven(every: EveryWay, copies: Mapping[str, int]) -> float:
    """Return what making so many copies of the parts costs at least, in cents."""
    problem, rows = every.problem, every.rows(copies)
    kernels = kernels_for(problem)
    if is_large(problem):
        return relax_large(problem, kernels, rows, lambda: True).bound
    relaxed: Relaxation = relax(problem, kernels, rows, stop=lambda: True, rounds=40)
    return relaxed.bound if relaxed.feasible else 0.0


def _are_apart(problem: Problem, kernels: tuple[Kernel, ...], rows: Rows) -> bool:
    """Whether no row is of two lots of bins: only then each lot covers its own rows."""
    held = [row for lot in lots_for(problem, kernels, rows) for row in lot.rows]
    return len(held) == len(set(held))


def _shares(
    every: EveryWay,
    rows: Rows,
    columns: list[Column],
    chosen: frozenset[int] | None = None,
) -> Shares:
    """Return how many copies of each part the columns make in each way, in fractions."""
    problem = every.problem
    master = Master(problem, rows, chosen)
    taken = [column for column in columns if master.takes(column)]
    for column in taken:
        master.add(column)
    found: dict[str, dict[Way, float]] = defaultdict(dict)
    try:
        master.solve()
    except ArithmeticError:  # nothing is known then
        return found
    for column, use in zip(taken, master.uses, strict=True):
        amount = use.solution_value()
        if amount < 1e-6:
            continue
        for i, net in column_nets(problem, column):
            item, way = problem.items[i], every.ways[i]
            whole = item.need * way.leaves if item.is_panel else 1
            copies = amount * net * way.per_piece / way.layers / whole
            own = found[item.part]
            own[way] = own.get(way, 0.0) + copies
    return found


def column_nets(problem: Problem, column: Column) -> list[tuple[int, int]]:
    """Return the item of each piece of a pattern, with 1, or the net width of a stave."""
    return [
        (i, (item.need if whole else strip.width - item.joint) if item.is_panel else 1)
        for section in column.sections
        for strip in section.strips
        for i, _, whole in strip.pieces
        for item in (problem.items[i],)
    ]
