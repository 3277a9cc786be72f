"""What a panel of staves counts, by term: small where it looks like one piece.

Costs are whole tenths of a point. How the terms weigh against each other is a matter of
taste and our choice; the weightiest are settings of the shop.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import pairwise

from nesting.arranging import PAIRED, POINT, UPRIGHT, Demand, Placed, Stave, Taste

NEAR, OTHER = 5 * POINT, 30 * POINT  # a joint in one board, and between strangers
MATE, STEP = 14 * POINT, 2 * POINT  # between boards of one log, and per step of sawing
UNKNOWN_STEPS = 3  # of the order of sawing, where it is not known
SAWING, PLANING = 15 * POINT, 1 * POINT
SIDES, TRIMMED = 2 * POINT, 3 * POINT  # per inch of width
EDGE, ONE_LEAF, FACE = 15 * POINT, 60 * POINT, 1 * POINT
COUNTS = 10 * POINT  # of the staves in panels of a set


def joint_ok(demand: Demand, one: Placed, other: Placed) -> bool:
    """Whether two staves may meet: leaves of a book or slip match follow each other."""
    if demand.match not in PAIRED:
        return True
    if one.turned != other.turned:
        return False
    if one.stave.board == other.stave.board:
        return one.face == other.face
    steps = _steps(one.stave, other.stave)
    opposite = demand.match == "book"
    return steps == 1 and (one.face != other.face) == opposite


def joint_terms(demand: Demand, one: Placed, other: Placed, taste: Taste) -> dict[str, int]:
    """Return what the joint between neighbours counts; `one` comes first."""
    a, b = one.stave, other.stave
    tones = a.tone is not None and b.tone is not None
    rings = demand.match not in PAIRED and is_ring_broken(demand.ring, one, other)
    return {
        "joints": _kinship(one, other, taste)
        + taste.tone_step * (abs((a.tone or 0) - (b.tone or 0)) if tones else 0),
        "rings": taste.ring * rings,
        "knots": taste.knots * _stacked(one, other, taste),
        "planing": PLANING * (one.is_flipped != other.is_flipped),
    }


def is_ring_broken(ring: str, one: Placed, other: Placed) -> bool:
    """Whether two neighbours lie otherwise than the shop's habit asks."""
    known = one.face and other.face
    flat = one.stave.sawing not in UPRIGHT and other.stave.sawing not in UPRIGHT
    if not known or not flat or ring == "any":
        return False
    return (one.face == other.face) == (ring == "alternate")


def _steps(a: Stave, b: Stave) -> int:
    """Return how far two boards of a log are apart in the order of sawing."""
    if a.order is None or b.order is None or a.source != b.source:
        return UNKNOWN_STEPS
    return abs(a.order - b.order)


def _kinship(one: Placed, other: Placed, taste: Taste) -> int:
    a, b = one.stave, other.stave
    if a.board == b.board:
        return 0 if _were_neighbours(one, other, taste) else NEAR
    return MATE + STEP * _steps(a, b) if a.source == b.source else OTHER


def _were_neighbours(one: Placed, other: Placed, taste: Taste) -> bool:
    """Whether the edges that meet were parted by one cut, and nothing was turned.

    The drawing of a board has y going up, and panels are listed from the top: a stave as
    sawn has its high edge first.
    """
    upper, lower = (other, one) if one.is_flipped else (one, other)
    gap = upper.stave.y - lower.stave.y - lower.stave.width
    same = one.turned == other.turned and one.is_flipped == other.is_flipped
    return same and one.stave.x == other.stave.x and 0 <= 4 * gap <= taste.inch


def _stacked(one: Placed, other: Placed, taste: Taste) -> int:
    """Return how many pairs of marks lie beside each other at a joint, within 2 in."""
    first = _marks_at(one, "high" if one.is_flipped else "low")
    second = _marks_at(other, "low" if other.is_flipped else "high")
    return sum(abs(a - b) <= 2 * taste.inch for a in first for b in second)


def _marks_at(placed: Placed, edge: str) -> list[int]:
    """Return where marks lie at an edge, from the left end of the panel."""
    length = placed.stave.length
    return [
        length - at if placed.turned else at for at, side in placed.stave.knots
        if side == edge
    ]  # fmt: skip


def edge_limit(demand: Demand, nets: Sequence[int], taste: Taste) -> tuple[int, int]:
    """Return the net width an outer stave must have, and what it should have.

    It must keep a limit that some order of these staves keeps at both edges.
    """
    if len(nets) < 2:
        return 0, 0
    off = max(0, sum(nets) - demand.finished)
    limits = (taste.edge_stave, -(-off // 2) + taste.joint_from_edge)
    second = sorted(nets)[-2]
    return max((one for one in limits if one <= second), default=0), max(limits)


def edges_ok(demand: Demand, nets: Sequence[int], taste: Taste) -> bool:
    """Whether the outer staves of a panel are wide enough, if any order makes them so."""
    must, _ = edge_limit(demand, nets, taste)
    return min(nets[0], nets[-1]) >= must


def order_terms(demand: Demand, nets: Sequence[int], taste: Taste) -> dict[str, int]:
    """Return what the order of widths counts: sides that differ, narrow outer staves."""
    apart = sum(abs(a - b) for a, b in zip(nets, reversed(nets), strict=True)) // 2
    _, wanted = edge_limit(demand, nets, taste)
    narrow = sum(net < wanted for net in (nets[0], nets[-1])) if len(nets) > 1 else 0
    return {"widths": SIDES * apart // taste.inch, "edges": EDGE * narrow}


def mix_terms(demand: Demand, staves: Sequence[Stave], taste: Taste) -> dict[str, int]:
    """Return what the mix of staves counts, in whatever order they stand."""
    tones = [stave.tone for stave in staves if stave.tone is not None]
    sawings = {stave.sawing for stave in staves if stave.sawing}
    boards = {stave.board for stave in staves}
    misses = sum(stave.sawing not in demand.sawing for stave in staves)
    plain = sum(demand.figure not in stave.figure for stave in staves)
    beauty = sum(stave.beauty for stave in staves)
    seen = {"show": 3 * len(staves) - beauty, "second": 0, "hidden": beauty}
    is_leaf = demand.match in PAIRED and len(boards) == 1 < len(staves)
    surplus = sum(stave.net for stave in staves) - demand.need
    return {
        "boards": taste.board * (len(boards) - 1),
        "flitches": taste.flitch * (len({stave.source for stave in staves}) - 1),
        "tone": taste.tone * (max(tones) - min(tones) if tones else 0),
        "sawing": SAWING * (max(0, len(sawings) - 1) + (misses if demand.sawing else 0)),
        "figure": taste.figure * plain if demand.figure else 0,
        "best faces": FACE * seen[demand.face],
        "trimmed": TRIMMED * surplus // taste.inch,
        "leaves": ONE_LEAF * is_leaf,
    }


def panel_terms(
    demand: Demand, placed: Sequence[Placed], taste: Taste
) -> dict[str, int] | None:
    """Return what a panel counts by term, or None if its staves must not lie so."""
    staves = [one.stave for one in placed]
    nets = [stave.net for stave in staves]
    meets = all(joint_ok(demand, a, b) for a, b in pairwise(placed))
    if not meets or (demand.match not in PAIRED and not edges_ok(demand, nets, taste)):
        return None
    terms = {
        **mix_terms(demand, staves, taste), **order_terms(demand, nets, taste),
        "joints": 0, "rings": 0, "knots": 0, "planing": 0,
    }  # fmt: skip
    for one, other in pairwise(placed):
        for name, points in joint_terms(demand, one, other, taste).items():
            terms[name] += points
    return terms


def set_terms(panels: Iterable[Sequence[Stave]], taste: Taste) -> dict[str, int]:
    """Return what the panels of a set count for not looking alike."""
    panels = list(panels)
    staves = [stave for panel in panels for stave in panel]
    tones = [stave.tone for stave in staves if stave.tone is not None]
    counts = [len(panel) for panel in panels]
    if len(panels) < 2:
        return {"set flitches": 0, "set tone": 0, "set staves": 0}
    logs = {stave.source for stave in staves}
    return {
        "set flitches": taste.set_flitch * (len(logs) - 1),
        "set tone": taste.set_tone * (max(tones) - min(tones) if tones else 0),
        "set staves": COUNTS * (max(counts) - min(counts)),
    }
