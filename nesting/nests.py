"""Which parts may share a blank with copies of their own, and how these lie in it."""

from __future__ import annotations

from functools import lru_cache

from nesting.drawn import Ring
from nesting.interlock import MOST_COPIES, Nest, nests_of
from nesting.parts import Part
from stock.shop import Shop

KEPT = 256  # outlines whose nests are remembered


def ring_of(part: Part) -> Ring | None:
    """Return the outline of a part that is not as good as a rectangle; None if it is.

    A taper has one straight edge and runs from end to end of the part.
    """
    if part.shape == "taper" and part.ends:
        first, last = part.ends
        corners = ((0, 0), (part.length, 0), (part.length, last), (0, first))
        return tuple(dict.fromkeys(corners))
    return part.drawn.rim if part.shape == "outline" and part.drawn else None


def may_nest(part: Part) -> bool:
    """Whether copies of a part may be sawn from one blank, by their outlines.

    Joinery beyond the outline and bevelled ends need room of their own.
    """
    return (
        part.copies > 1
        and part.build in ("auto", "solid")
        and part.match == "none"
        and part.grain == "length"
        and not (part.add_length or part.add_width or part.end_angle)
        and ring_of(part) is not None
    )


def nests_for(part: Part, shop: Shop) -> tuple[Nest, ...]:
    """Return nests of 2, 3, ... copies of a part: those that save wood.

    A nest saves wood if its blank is smaller than the blanks of its copies, and per copy
    smaller than that of any nest of fewer copies. It is no wider than one piece of wood
    may be.
    """
    ring = ring_of(part)
    if ring is None or not may_nest(part):
        return ()
    beyond, beside = shop.crosscut_allowance, shop.rip_allowance
    least = _area(part.length, part.width, shop)
    found: list[Nest] = []
    nests = _nests(
        ring, shop.kerf, beyond, beside, max(1, shop.saw_step),
        min(part.copies, MOST_COPIES), may_mirror=part.face == "hidden",
    )  # fmt: skip
    for nest in nests:
        each = _area(nest.length, nest.width, shop) / nest.copies
        if nest.width <= shop.widest_solid and each < least:
            found.append(nest)
            least = each
    return tuple(found)


def _area(length: int, width: int, shop: Shop) -> float:
    """Return the area of the blank for something of these finished sizes."""
    return shop.up(length + shop.crosscut_allowance) * shop.up(width + shop.rip_allowance)


@lru_cache(KEPT)
def _nests(
    ring: Ring,
    gap: int,
    beyond: int,
    beside: int,
    step: int,
    most: int,
    *,
    may_mirror: bool,
) -> tuple[Nest, ...]:
    return nests_of(
        ring, gap, beyond=beyond, beside=beside, step=step, may_mirror=may_mirror, most=most
    )
