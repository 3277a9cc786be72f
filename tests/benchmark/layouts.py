"""Layouts of simple planners: what they must place, where they put it, what it costs.

Panels come as staves of equal width here. Costs are worked out from the project's tables
alone, so that plans and layouts may be compared: a test computes a plan's cost so too.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from nesting.blanks import Blank, blanks_for
from nesting.project import Project
from stock.boards import RACK, Board
from stock.shop import Shop

Box = tuple[int, int, int, int]  # x, y, length, width on the board


@dataclass(frozen=True, slots=True)
class Want:
    """Equal rectangles to place; sizes in grid steps, no kerf added."""

    part: str
    length: int
    width: int
    face: str
    count: int


@dataclass(frozen=True, slots=True)
class Sawn:
    """One board: where each piece lies (index of its want, box), what is left over."""

    board: str
    pieces: tuple[tuple[int, Box], ...]
    left: tuple[Box, ...]


@dataclass(frozen=True, slots=True)
class Layout:
    """Boards as sawn, and how many pieces of each want are still missing."""

    wants: tuple[Want, ...]
    sawn: tuple[Sawn, ...]
    missing: tuple[int, ...]

    @property
    def is_complete(self) -> bool:
        """Whether everything has its place."""
        return not any(self.missing)


def boards_per_panel(project: Project, layout: Layout) -> float | None:
    """Return from how many boards a panel's staves come, on the average; None if no panels.

    Staves go to the copies of a part in the order in which they are sawn.
    """
    units = {
        part.name: blank.units
        for part, blank in zip(project.parts, blanks_for(project), strict=True)
        if blank.is_panel
    }
    boards: list[int] = []
    for number, want in enumerate(layout.wants):
        if want.part not in units:
            continue
        sawn = [
            one.board for one in layout.sawn for piece, _ in one.pieces if piece == number
        ]
        staves = want.count // units[want.part]
        boards += [
            len(set(sawn[first : first + staves])) for first in range(0, len(sawn), staves)
        ]
    return sum(boards) / len(boards) if boards else None


def wants_for(project: Project, more: frozenset[str] = frozenset()) -> tuple[Want, ...]:
    """Return what a project asks for, with panels in as few equal staves as may be.

    Panels whose part is in `more` have one stave more, if staves may be so narrow.
    """
    found = []
    for part, blank in zip(project.parts, blanks_for(project), strict=True):
        length, width = blank.sizes[0]
        count = blank.units
        if blank.is_panel:
            staves, width = equal_staves(blank, project.shop, int(part.name in more))
            count *= staves
        found.append(Want(part.name, length, width, part.face, count))
    return tuple(found)


def equal_staves(blank: Blank, shop: Shop, more: int) -> tuple[int, int]:
    """Return how many equal staves make a panel, and how wide they are sawn."""
    need, joint = blank.sizes[0][1], shop.joint_allowance
    fewest = -(-need // (blank.stave_high - joint))
    for staves in (fewest + more, fewest):
        width = shop.up(-(-need // staves) + joint)
        if width >= blank.stave_low:
            return staves, width
    return fewest, blank.stave_low


def usable(board: Board, shop: Shop) -> Box:
    """Return what the end trim leaves of a board."""
    trim = max(shop.end_trim, shop.kerf) if shop.end_trim else 0
    return trim, 0, board.length - trim - shop.end_trim, min(board.width, board.width2)


def is_kept(board: Board, shop: Shop, box: Box) -> bool:
    """Whether what is left over goes back to the rack: large enough, and sound."""
    _, _, length, width = box
    if length < shop.keep_length or width < shop.keep_width:
        return False
    return not any(m.forbids("hidden") and m.touches(*box) for m in board.marks)


def layout_cost(project: Project, sawn: Iterable[Sawn]) -> Decimal:
    """Return what a layout costs by the objective of plans, kept offcuts credited."""
    sawn = tuple(sawn)
    boards = {board.name: board for board in project.boards}
    kept = [
        (one.board, box[2] * box[3])
        for one in sawn
        for box in one.left
        if is_kept(boards[one.board], project.shop, box)
    ]
    return cost_of(project, [one.board for one in sawn], kept)


def cost_of(
    project: Project, used: Iterable[str], kept: Iterable[tuple[str, int]]
) -> Decimal:
    """Return the cost of whole boards and trips, less kept offcuts (board, area).

    For generated projects: straight rough boards in inches, one price in the list, no
    tax, no charges, no smallest order, no price of an hour.
    """
    boards = {board.name: board for board in project.boards}
    trips = {yard.name: round(yard.trip_cost * 100) for yard in project.yards}
    used = [boards[name] for name in used]
    spent = sum(
        math.floor(_feet(one, one.length * one.width) * _rate(project, one) * 100 + _HALF)
        for one in used
    )
    spent += sum(trips[where] for where in {one.where for one in used} - {RACK})
    share = project.shop.offcut_value / 100
    back = sum(
        math.floor(_feet(boards[name], area) * _rate(project, boards[name]) * share * 100)
        for name, area in kept
    )
    return Decimal(spent - back) / 100


_HALF = Fraction(1, 2)


def _feet(board: Board, area: int) -> Fraction:
    """Return board feet: square inches x thickness / 144, a step being 1/64 in."""
    return Fraction(area, 64 * 64 * 144) * max(Fraction(1), board.thickness.nominal)


def _rate(project: Project, board: Board) -> Fraction:
    """Return what a board foot is charged at, by the only line of the price list."""
    asked = project.prices[0].price
    return asked * project.shop.rack_value / 100 if board.where == RACK else asked
