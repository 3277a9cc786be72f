"""Copies that are sawn out of one piece by their outlines: in words, and as drawn."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from nesting.drawn import Ring
from nesting.interlock import Laid, laid_ring
from nesting.nests import ring_of
from nesting.plan import Nested, Piece, Plan
from nesting.project import Project
from reports.plaintext import counted


def rings_in(project: Project) -> dict[str, Ring]:
    """Return the outlines of parts that are not as good as rectangles, by part."""
    found = ((part.name, ring_of(part)) for part in project.parts)
    return {name: ring for name, ring in found if ring}


def outlines_in(piece: Piece, rings: Mapping[str, Ring]) -> Iterator[Ring]:
    """Yield the outlines of the copies in a piece, where they lie on its board."""
    ring = rings.get(piece.part)
    for one in piece.nest if ring else ():
        laid = Laid(one.x, one.y, one.turned, one.mirrored)
        yield tuple((piece.x + x, piece.y + y) for x, y in laid_ring(ring or (), laid))


def nest_words(piece: Piece) -> str:
    """Return which copies are sawn out of a piece; nothing if it is a copy itself."""
    if not piece.nest:
        return ""
    names = (f"{piece.part} {one.copy}{_lie(one)}" for one in piece.nest)
    return f"saw out by the outline: {', '.join(names)}"


def _lie(one: Nested) -> str:
    """Return how a copy lies, in brackets; nothing if it lies as drawn."""
    words = [
        *(["end for end"] if one.turned else []),
        *(["face down"] if one.mirrored else []),
    ]
    return f" ({', '.join(words)})" if words else ""


def nest_lines(project: Project, plan: Plan) -> Iterator[str]:
    """Yield a line for each part some copies of which share a blank."""
    for part in project.parts:
        nests = [
            piece for cut in plan.boards for piece in cut.pieces
            if piece.part == part.name and piece.nest
        ]  # fmt: skip
        if nests:
            copies = sum(len(piece.nest) for piece in nests)
            blanks = counted(len(nests), "blank")
            yield f"{part.name}: {copies} copies interlock in {blanks}"
