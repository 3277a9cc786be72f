"""Wood that falls out of windows of outlined parts: which parts from offcuts it would make.

Such wood is free only once the part is dressed and sawn out, so a plan does not count on
it: it says where a part that nothing else holds could come from.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import shapely
from shapely import Polygon

from nesting.blanks import Blank, blanks_for
from nesting.drawn import Ring
from nesting.interlock import no_fit
from nesting.parts import Part
from nesting.plan import Plan, Shortage
from nesting.project import Project
from stock.boards import FACES

_NOISE = 1e-6  # of a grid step: what floating point may add to where areas touch


@dataclass(frozen=True, slots=True)
class Cutout:
    """A window of one copy of a part: its edge, the grain along x."""

    part: Part
    copy: int
    window: Ring


def offered(project: Project, plan: Plan) -> tuple[Shortage, ...]:
    """Return what a plan does not make from offcuts, with the cut-outs that would do.

    Each cut-out is offered once, the parts in the order in which they are listed.
    """
    free = list(_cutouts(project, plan)) if plan.not_made else []
    blanks = {blank.part: blank for blank in blanks_for(project)}
    found = []
    for missing in plan.not_made:
        part, blank = project.part(missing.part), blanks[missing.part]
        cutout = next(
            (one for one in free if _serves(one, part, blank, project.shop.kerf)), None
        )
        if cutout is None:
            found.append(missing)
            continue
        free.remove(cutout)
        source = f"{cutout.part.name} {cutout.copy}"
        why = f"{missing.why}; the cut-out of {source} would hold it, once that is sawn out"
        found.append(Shortage(part=missing.part, copy=missing.copy, why=why))
    return tuple(found)


def _cutouts(project: Project, plan: Plan) -> Iterator[Cutout]:
    """Yield the windows of solid parts that the plan makes of lumber or sheets."""
    for cut in (*plan.boards, *plan.sheets):
        for piece in cut.pieces:
            part = project.part(piece.part)
            is_whole = piece.role == "solid" and part.grain == "length"
            for window in part.drawn.windows if part.drawn and is_whole else ():
                for copy in piece.copies:
                    yield Cutout(part, copy, window)


def _serves(cutout: Cutout, part: Part, blank: Blank, kerf: int) -> bool:
    """Whether a part from offcuts could be made of a cut-out, for all that is known of it.

    What the wood of the host shows is known only as far as its face asks for it.
    """
    host = cutout.part
    is_plain = not blank.is_panel and blank.layers == 1 and not part.figure
    return (
        is_plain
        and host.species == part.species
        and host.thickness >= part.thickness
        and FACES.index(host.face) <= FACES.index(part.face)
        and set(host.sawing or ("",)) <= set(part.sawing or host.sawing or ("",))
        and any(holds(cutout.window, *size, kerf) for size in blank.sizes)
    )


def holds(window: Ring, length: int, width: int, kerf: int) -> bool:
    """Whether a rectangle lies somewhere in a window, a saw cut from its edge."""
    inside = Polygon(window).buffer(-kerf, join_style="mitre")
    if inside.is_empty:
        return False
    left, low, right, high = inside.bounds
    if right - left < length or high - low < width:
        return False
    around = shapely.box(left, low, right, high).difference(inside)
    if around.is_empty:
        return True
    barred = no_fit(around, shapely.box(0, 0, length, width)).buffer(-_NOISE)
    room = shapely.box(left, low, right - length, high - width)
    edges = shapely.intersection(barred.boundary, room)
    spots = [*shapely.get_coordinates(room), *shapely.get_coordinates(edges)]
    return not all(barred.contains(shapely.Point(spot)) for spot in spots)
