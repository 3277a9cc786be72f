"""Whether copies that are sawn out of one piece by their outlines have room in it."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations

from shapely import Polygon, affinity, box

from nesting.parts import Part
from nesting.plan import Nested, Piece
from nesting.verify_rules import Case, Violation, piece_place

_NOISE = 1e-6  # of a grid step: what floating point may take from a distance


def check_nests(case: Case) -> Iterator[Violation]:
    """Yield pieces whose copies overlap, reach beyond them, or may not lie as they do."""
    for cut in (*case.plan.boards, *case.plan.sheets):
        for piece in cut.pieces:
            part = case.parts.get(piece.part)
            if not piece.nest or part is None:
                continue
            for text in (*_way_faults(case, part, piece), *_room_faults(case, part, piece)):
                yield Violation("nests", piece_place(cut, piece), text)


def _way_faults(case: Case, part: Part, piece: Piece) -> Iterator[str]:
    """Say why a part must not be nested so."""
    if tuple(one.copy for one in piece.nest) != piece.copies:
        yield "its nest does not hold the copies that it is for"
    if len(set(piece.copies)) < len(piece.copies):
        yield "its nest holds a copy twice"
    if piece.role != "solid" or piece.leaves > 1 or case.is_of_sheets(part):
        yield "only a solid piece of lumber that is not resawn may hold a nest"
    if part.add_length or part.add_width or part.end_angle or part.grain != "length":
        yield "joinery, bevelled ends and grain across leave no room for a nest"
    if part.face != "hidden" and any(one.mirrored for one in piece.nest):
        yield f"a copy lies face down, and its face is {part.face!r}"


def _room_faults(case: Case, part: Part, piece: Piece) -> Iterator[str]:
    """Say where copies come too close to one another or to the edge of their piece."""
    outline = _outline(part)
    if outline is None:
        yield "its part has no outline that copies could be sawn by"
        return
    shop = case.project.shop
    laid = [_laid(outline, one) for one in piece.nest]
    room = box(0, 0, piece.length, piece.width)
    for one, copy in zip(laid, piece.copies, strict=False):
        if not room.covers(one):
            yield f"copy {copy} reaches beyond it"
    for (first, one), (second, other) in combinations(
        zip(piece.copies, laid, strict=False), 2
    ):
        if one.distance(other) < shop.kerf - _NOISE:
            yield f"copies {first} and {second} are not a saw cut apart"
    left, low, right, high = _extent(laid)
    if piece.length - (right - left) < shop.crosscut_allowance - _NOISE:
        yield "its nest leaves less than the crosscut allowance"
    if piece.width - (high - low) < shop.rip_allowance - _NOISE:
        yield "its nest leaves less than the rip allowance"


def _outline(part: Part) -> Polygon | None:
    """Return the outline of a part, its low corner at (0, 0); None if it has none."""
    if part.shape == "taper" and part.ends:
        first, last = part.ends
        return Polygon([(0, 0), (part.length, 0), (part.length, last), (0, first)])
    return Polygon(part.drawn.rim) if part.drawn else None


def _laid(outline: Polygon, one: Nested) -> Polygon:
    """Return a copy where it lies in its piece."""
    shape = outline
    if one.mirrored:
        shape = affinity.scale(shape, xfact=1, yfact=-1, origin=(0, 0))
    if one.turned:
        shape = affinity.rotate(shape, 180, origin=(0, 0))
    left, low, _, _ = shape.bounds
    return affinity.translate(shape, one.x - left, one.y - low)


def _extent(laid: list[Polygon]) -> tuple[float, float, float, float]:
    """Return the bounds of all copies together."""
    bounds = [one.bounds for one in laid]
    return (
        min(one[0] for one in bounds), min(one[1] for one in bounds),
        max(one[2] for one in bounds), max(one[3] for one in bounds),
    )  # fmt: skip
