"""Whether pieces and kept offcuts lie where wood is, and a kerf apart."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from itertools import combinations

from nesting.plan import CutBoard, Offcut, Piece
from nesting.verify_rules import Case, Violation, piece_place
from stock.boards import Mark


@dataclass(frozen=True, slots=True)
class Outline:
    """A board or sheet as the saw meets it, in grid steps."""

    length: int
    width: int
    width2: int
    trim: int
    marks: tuple[Mark, ...] = ()
    edge: int = 0  # lost along both edges, as `trim` is at both ends

    def clear(self, x: int, length: int) -> Fraction:
        """Return the width that is there from x to x + length; the edge is straight."""
        slope = Fraction(self.width2 - self.width, max(1, self.length))
        return self.width + min(slope * x, slope * (x + length))


def check_places(case: Case, cut: CutBoard, outline: Outline) -> Iterator[Violation]:
    """Yield the pieces that do not lie on the board, or lie in its end trim."""
    for piece in cut.pieces:
        where = piece_place(cut, piece)
        end = piece.x + piece.length
        clear = outline.clear(piece.x, piece.length)
        on_board = 0 <= piece.x <= end <= outline.length and piece.y >= 0
        if not on_board or piece.y + piece.width > clear:
            yield Violation("inside", where, "does not lie on the board")
        elif min(piece.length, piece.width) <= 0:
            yield Violation("inside", where, "has no wood in it")
        elif piece.x < outline.trim or end > outline.length - outline.trim:
            text = f"lies in the end trim of {case.size(outline.trim)}"
            yield Violation("end trim", where, text)
        elif piece.y < outline.edge or piece.y + piece.width > clear - outline.edge:
            text = f"lies in the trim of {case.size(outline.edge)} at an edge"
            yield Violation("end trim", where, text)


def check_neighbours(case: Case, cut: CutBoard, kerf: int) -> Iterator[Violation]:
    """Yield the pieces that share wood or leave no kerf between them."""
    for one, other in combinations(cut.pieces, 2):
        gap = distance(one, other)
        where = f"board {cut.board!r}, pieces {one.name!r} and {other.name!r}"
        if gap < 0:
            yield Violation("overlap", where, "share wood")
        elif gap < kerf:
            text = f"are {case.size(gap)} apart, must be {case.size(kerf)}"
            yield Violation("kerf", where, text)


def distance(one: Piece | Offcut, other: Piece | Offcut) -> int:
    """Return how far two rectangles are apart along or across; negative if they overlap."""
    first, last = sorted((one, other), key=lambda shape: shape.x)
    low, high = sorted((one, other), key=lambda shape: shape.y)
    return max(last.x - first.x - first.length, high.y - low.y - low.width)


def check_kept(case: Case, cut: CutBoard, outline: Outline) -> Iterator[Violation]:
    """Yield the kept offcuts that are too small, unsound or not all there."""
    shop = case.project.shop
    for offcut in cut.offcuts:
        if not offcut.keep:
            continue
        where = f"board {cut.board!r}, offcut {offcut.name!r}"
        x, y, length, width = offcut.x, offcut.y, offcut.length, offcut.width
        if length < shop.keep_length or width < shop.keep_width:
            text = f"is {case.size(length)} x {case.size(width)}, too small to keep"
            yield Violation("keep", where, text)
        if (
            min(x, y) < 0
            or x + length > outline.length
            or y + width > outline.clear(x, length)
        ):
            yield Violation("keep", where, "does not lie on the board")
        for mark in outline.marks:
            if mark.forbids("hidden") and mark.touches(x, y, length, width):
                yield Violation("keep", where, f"touches the {mark.kind}")
