"""The ways to the thickness of a part: planed down, resawn into leaves, or in layers.

Every build but `laminate` admits leaves of one piece, `auto` and `laminate` admit layers of
as many pieces; a leaf is never glued up again. What is shorter than `shortest machined` is
not resawn: it would be too short for the saw, or planed in one length before.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace

from nesting.blanks import (
    Blank,
    blank_for,
    blanks_for,
    dressed_by_species,
    resawn_from,
    usual_layers,
)
from nesting.nests import nests_for
from nesting.parts import Part, Way
from nesting.plan import Plan
from nesting.project import Project
from stock.shop import Shop


def ways_in(project: Project) -> dict[str, tuple[Way, ...]]:
    """Return the ways of every part that has more than one, the usual one first."""
    sheets = {name for sheet in project.sheets for name in sheet.names}
    listed, there = _thicknesses(project)
    found = {
        part.name: ways_of(
            part, project.shop, there.get(part.species, ()), listed.get(part.species, ())
        )
        for part in project.parts
        if part.source == "stock" and part.species not in sheets and part.copies
    }
    return {name: ways for name, ways in found.items() if len(ways) > 1}


def _thicknesses(project: Project) -> tuple[dict[str, set[int]], dict[str, set[int]]]:
    """Return what wood dresses to by species: all that is listed, and what is there.

    Without boards that is what price lists promise.
    """
    listed = dressed_by_species(project)
    boards = dressed_by_species(replace(project, prices=()))
    return listed, boards if project.boards else listed


def ways_of(
    part: Part, shop: Shop, dressed: Iterable[int], listed: Iterable[int] = ()
) -> tuple[Way, ...]:
    """Return the ways to a part's thickness that wood of some thicknesses allows.

    Parameters
    ----------
    dressed
        What the wood dresses to, in grid steps: as many leaves are counted as one of them
        gives, and as few layers as one of them needs.
    listed
        What wood dresses to that settles the usual number of layers, beside it.
    """
    thick = sorted(set(dressed))
    usual = Way(1, usual_layers(part, {*thick, *listed}))
    found = {usual}
    if part.build in ("auto", "laminate"):
        found |= {Way(1, count) for count in _layers(part, thick)}
    if part.build != "laminate":
        counts = {_leaves(part.thickness, gives, shop) for gives in thick}
        found |= {
            Way(count) for count in counts
            if count > 1 and _may_resaw(blank_for(part, shop, thick, Way(count)))
        }  # fmt: skip
    if usual.layers == 1:
        found |= {Way(nested=nest.copies) for nest in nests_for(part, shop)}
    return (usual, *sorted(found - {usual}))


def _layers(part: Part, dressed: Iterable[int]) -> set[int]:
    """Return the numbers of layers, two at least, that some wood needs for a part."""
    counts = {-(-part.thickness // gives) for gives in dressed if gives}
    return {max(2, n) for n in counts if n > 1 or part.build == "laminate"}


def _leaves(thickness: int, gives: int, shop: Shop) -> int:
    """Return how many leaves come out of wood that dresses to `gives`."""
    count = 1
    while thickness and resawn_from(count + 1, thickness, shop) <= gives:
        count += 1
    return count


def _may_resaw(blank: Blank) -> bool:
    """Whether a blank is long enough for the saw, and low enough."""
    if blank.is_panel and blank.stave_high < blank.stave_low:
        return False
    return bool(blank.sizes) and not blank.is_short


def blanks_in(project: Project) -> tuple[tuple[Part, Blank], ...]:
    """Return each part with its blanks: one for every way that the project has chosen."""
    dressed = dressed_by_species(project)
    found: list[tuple[Part, Blank]] = []
    for part, blank in zip(project.parts, blanks_for(project), strict=True):
        first = 0
        for way, copies in project.ways.get(part.name, ()):
            made = blank_for(part, project.shop, dressed.get(part.species, ()), way)
            found.append((part, replace(made, copies=copies, first=first)))
            first += copies
        if part.name not in project.ways:
            found.append((part, blank))
    return tuple(found)


def other_blanks(project: Project, part: Part) -> tuple[Blank, ...]:
    """Return the blanks of a part in all ways but its usual one."""
    listed, there = (some.get(part.species, ()) for some in _thicknesses(project))
    ways = ways_of(part, project.shop, there, listed)
    return tuple(blank_for(part, project.shop, listed, way) for way in ways[1:])


def way_counts(plan: Plan) -> Mapping[tuple[str, int], Way]:
    """Return the way in which a plan makes each copy of a part from lumber."""
    layers: dict[tuple[str, int], int] = {}
    leaves: dict[tuple[str, int], int] = {}
    nested: dict[tuple[str, int], int] = {}
    for cut in plan.boards:
        for piece in cut.pieces:
            for copy in piece.copies:
                key = (piece.part, copy)
                layers[key] = max(piece.layer, layers.get(key, 1))
                leaves[key] = max(piece.leaves, leaves.get(key, 1))
                nested[key] = max(len(piece.nest), 1)
    return {key: Way(leaves[key], count, nested[key]) for key, count in layers.items()}


def as_planned(project: Project, plan: Plan) -> Project:
    """Return a project whose parts are to be made in the ways that a plan makes them."""
    made = way_counts(plan)
    several = ways_in(project)
    chosen: dict[str, tuple[tuple[Way, int], ...]] = {}
    for part in project.parts:
        if part.name not in several:
            continue
        runs: list[tuple[Way, int]] = []
        for copy in range(1, part.copies + 1):
            way = made.get((part.name, copy), several[part.name][0])
            if runs and runs[-1][0] == way:
                runs[-1] = (way, runs[-1][1] + 1)
            else:
                runs.append((way, 1))
        chosen[part.name] = tuple(runs)
    return replace(project, ways=chosen)
