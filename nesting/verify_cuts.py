"""Whether the cuts of a board, made in their order, free exactly its pieces."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import combinations

from nesting.plan import Cut, CutBoard, Offcut, Piece
from nesting.verify_places import (
    Outline,
    check_kept,
    check_neighbours,
    check_places,
    distance,
)
from nesting.verify_rules import Case, Violation, piece_place
from stock.boards import Board


@dataclass(frozen=True, slots=True)
class Wood:
    """A rectangle of wood between two cuts.

    Attributes
    ----------
    planed
        The length of wood it was planed in: the rectangle just before the first cut that
        waits for planing; None if no such cut was made.
    """

    x: int
    y: int
    x_end: int
    y_end: int
    planed: Wood | None = None

    @property
    def length(self) -> int:
        """Length along the grain."""
        return self.x_end - self.x

    @property
    def width(self) -> int:
        """Width across the grain."""
        return self.y_end - self.y

    def holds(self, shape: Piece | Offcut) -> bool:
        """Whether a piece or offcut lies wholly in this rectangle."""
        return (
            self.x <= shape.x
            and shape.x + shape.length <= self.x_end
            and self.y <= shape.y
            and shape.y + shape.width <= self.y_end
        )


def check_cuts(case: Case) -> Iterator[Violation]:
    """Yield what is wrong with where pieces lie, and with how they come off the saw.

    The cuts of a board are followed only where its pieces lie soundly.
    """
    trim = case.project.shop.end_trim
    for cut in case.plan.boards:
        board = case.boards.get(cut.board)
        if board is not None:
            outline = Outline(board.length, board.width, board.width2, trim, board.marks)
            yield from _board(case, cut, outline, board)
    for cut in case.plan.sheets:
        sheet = case.sheet_of(cut.board)
        if sheet is not None:
            edge = case.project.shop.sheet_trim
            outline = Outline(sheet.length, sheet.width, sheet.width, edge, edge=edge)
            yield from _board(case, cut, outline, None)


def _board(
    case: Case, cut: CutBoard, outline: Outline, board: Board | None
) -> Iterator[Violation]:
    kerf = case.project.shop.kerf
    lies = [*check_places(case, cut, outline), *check_neighbours(case, cut, kerf)]
    yield from lies
    yield from check_kept(case, cut, outline)
    if lies:
        return
    leaves, faults = _cut_up(cut, outline, kerf)
    yield from faults
    if faults:
        return
    yield from _freed(case, cut, leaves)
    yield from _left_over(case, cut, outline, leaves)
    if board is not None:
        yield from _gangs(case, cut, leaves)


def _cut_up(
    cut: CutBoard, outline: Outline, kerf: int
) -> tuple[list[Wood], list[Violation]]:
    """Make the cuts in order; return the wood left after them and the cuts that fail."""
    woods = [Wood(0, 0, outline.length, max(outline.width, outline.width2))]
    faults = []
    where = f"board {cut.board!r}"
    if [one.order for one in cut.cuts] != list(range(1, len(cut.cuts) + 1)):
        faults.append(Violation("cuts", where, "the cuts do not count 1, 2, ..."))
    for one in cut.cuts:
        wood = next((wood for wood in woods if _goes_through(one, wood, kerf)), None)
        if wood is None:
            text = f"the {one.kind} does not go right through one piece of wood"
            faults.append(Violation("cuts", f"{where}, cut {one.order}", text))
            continue
        if wood.planed and not one.after_planing:
            text = "is made in planed wood and does not wait for planing"
            faults.append(Violation("gangs", f"{where}, cut {one.order}", text))
        place = woods.index(wood)
        woods[place : place + 1] = _halves(one, wood, kerf)
    return woods, faults


def _goes_through(cut: Cut, wood: Wood, kerf: int) -> bool:
    """Whether a cut goes across a rectangle; a trimming cut may lie partly beyond it."""
    if cut.kind == "crosscut":
        across, low, high = (wood.y, wood.y_end), wood.x, wood.x_end
    else:
        across, low, high = (wood.x, wood.x_end), wood.y, wood.y_end
    return (cut.start, cut.end) == across and low - kerf < cut.at < high


def _halves(cut: Cut, wood: Wood, kerf: int) -> list[Wood]:
    """Return what a cut leaves of a rectangle; the kerf is gone."""
    planed = wood.planed or (wood if cut.after_planing else None)
    if cut.kind == "crosscut":
        low = replace(wood, x_end=cut.at, planed=planed)
        high = replace(wood, x=cut.at + kerf, planed=planed)
    else:
        low = replace(wood, y_end=cut.at, planed=planed)
        high = replace(wood, y=cut.at + kerf, planed=planed)
    return [half for half in (low, high) if half.length > 0 and half.width > 0]


def _is_piece(wood: Wood, piece: Piece) -> bool:
    return wood.holds(piece) and (wood.length, wood.width) == (piece.length, piece.width)


def _freed(case: Case, cut: CutBoard, leaves: list[Wood]) -> Iterator[Violation]:
    for piece in cut.pieces:
        if any(_is_piece(wood, piece) for wood in leaves):
            continue
        around = next((wood for wood in leaves if wood.holds(piece)), None)
        text = "a cut goes through it"
        if around:
            text = f"stays in {case.size(around.length)} x {case.size(around.width)}"
        yield Violation("pieces", piece_place(cut, piece), text)


def _left_over(
    case: Case, cut: CutBoard, outline: Outline, leaves: list[Wood]
) -> Iterator[Violation]:
    rest = [wood for wood in leaves if not any(wood.holds(piece) for piece in cut.pieces)]
    for offcut in cut.offcuts:
        if not any(wood.holds(offcut) for wood in rest):
            where = f"board {cut.board!r}, offcut {offcut.name!r}"
            yield Violation("offcuts", where, "is not one piece of what the cuts leave")
    for one, other in combinations(cut.offcuts, 2):
        if distance(one, other) < 0:
            where = f"board {cut.board!r}, offcuts {one.name!r} and {other.name!r}"
            yield Violation("offcuts", where, "share wood")
    for wood in rest:
        if not _is_listed(wood, cut, outline, case.project.shop.kerf):
            text = f"{case.size(wood.length)} x {case.size(wood.width)} at x "
            text += f"{case.size(wood.x)}, y {case.size(wood.y)} is not listed"
            yield Violation("waste", f"board {cut.board!r}", text)


def _is_listed(wood: Wood, cut: CutBoard, outline: Outline, kerf: int) -> bool:
    """Whether leftover wood is covered by offcuts, or need not be.

    Wood thinner than a kerf is dust, and what reaches beyond the slanted edge of a
    tapered board is no rectangle.
    """
    if min(wood.length, wood.width) < kerf or wood.y_end > outline.clear(
        wood.x, wood.length
    ):
        return True
    inside = sum(one.length * one.width for one in cut.offcuts if wood.holds(one))
    return inside >= wood.length * wood.width


def _gangs(case: Case, cut: CutBoard, leaves: list[Wood]) -> Iterator[Violation]:
    shortest = case.project.shop.shortest_machined
    lengths = {
        piece.name: wood.planed or wood
        for piece in cut.pieces
        for wood in leaves
        if _is_piece(wood, piece)
    }
    for piece in cut.pieces:
        strip = lengths.get(piece.name)
        if strip is None or piece.length >= shortest:
            continue
        if strip.length < shortest or strip.width != piece.width:
            text = f"is {case.size(piece.length)} long and planed in "
            text += f"{case.size(strip.length)} x {case.size(strip.width)}, must be in a "
            text += f"strip of its width, {case.size(shortest)} long"
            yield Violation("gangs", piece_place(cut, piece), text)
    for strip in {wood.planed for wood in leaves if wood.planed}:
        held = {piece.name: piece.length for piece in cut.pieces if strip.holds(piece)}
        is_gang = any(set(gang) == set(held) for gang in cut.gangs)
        if not is_gang and all(length >= shortest for length in held.values()):
            text = f"{case.size(strip.length)} x {case.size(strip.width)} at x "
            text += f"{case.size(strip.x)} waits for planing, and no gang or short piece "
            text += "lies in it"
            yield Violation("gangs", f"board {cut.board!r}", text)
    for gang in cut.gangs:
        strips = {lengths.get(name) for name in gang}
        if len(strips) != 1 or None in strips:
            text = f"the gang {', '.join(gang)} is not planed in one length of wood"
            yield Violation("gangs", f"board {cut.board!r}", text)
