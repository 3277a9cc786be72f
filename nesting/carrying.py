"""Where to crosscut boards at the yard, so that what is carried fits the vehicle.

Only crosscuts that the plan makes anyway are made there, right across the whole board, so
a plan stays as it is. Which of them is a shortest way along the board.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from nesting.plan import Cut, CutBoard, Offcut, Piece


@dataclass(frozen=True, kw_only=True, slots=True)
class YardCut:
    """A crosscut of the plan that is made at the yard; places from the butt end.

    Attributes
    ----------
    at
        The line to cut on, in the middle of the plan's kerf, rounded down to the grid.
    low, high
        The plan turns all between them to dust or waste: room for the yard's saw.
    """

    at: int
    low: int
    high: int


@dataclass(frozen=True, slots=True)
class Stretch:
    """A length of board between two lines; `is_waste` if the plan uses none of it."""

    start: int
    end: int
    is_waste: bool = False

    @property
    def length(self) -> int:
        """Extent along the board, the yard's saw not yet taken off."""
        return self.end - self.start


@dataclass(frozen=True, kw_only=True, slots=True)
class Carried:
    """How one board leaves the yard.

    Attributes
    ----------
    cuts, stretches
        Crosscuts at the yard in order, and what they part the board into; waste among
        it can stay there.
    section
        Longest wood that the plan needs and none of its crosscuts parts.
    is_too_long
        Whether that is longer than can be carried; no cut is made then.
    """

    board: CutBoard
    cuts: tuple[YardCut, ...]
    stretches: tuple[Stretch, ...]
    section: int
    is_too_long: bool

    @property
    def taken(self) -> tuple[Stretch, ...]:
        """The stretches that are carried home."""
        return tuple(one for one in self.stretches if not one.is_waste)


def carried_for(board: CutBoard, kerf: int, longest: int | None) -> Carried:
    """Return how a board is carried where nothing longer than `longest` can be.

    The fewest cuts that do; among as few, those that leave most waste behind, and then
    those whose longest stretch is shortest. Lengths in grid steps; None is no limit. A
    board as short as that, or one that no cut helps, stays whole.
    """
    chances = _chances(board, kerf)
    marks = [0, *(cut.at for cut in chances), board.length]
    whole = (Stretch(0, board.length),)
    parts = [_stretch(board, *ends) for ends in pairwise(marks)]
    section = max((one.length for one in parts if not one.is_waste), default=0)
    if longest is None or board.length <= longest or section > longest:
        return Carried(
            board=board, cuts=(), stretches=whole, section=section,
            is_too_long=longest is not None and section > longest,
        )  # fmt: skip
    chosen = _fewest(board, marks, longest)
    ends = [0, *(marks[place] for place in chosen), board.length]
    return Carried(
        board=board,
        cuts=tuple(chances[place - 1] for place in chosen),
        stretches=tuple(_stretch(board, *two) for two in pairwise(ends)),
        section=section,
        is_too_long=False,
    )


def _chances(board: CutBoard, kerf: int) -> list[YardCut]:
    """Return the crosscuts that can be made first, from the butt end on.

    They go across all the wood there is, don't wait for planing, and leave a saw room.
    """
    used = _used(board)
    found = {}
    for cut in board.cuts:
        if cut.kind != "crosscut" or cut.after_planing or not _is_across(board, cut, kerf):
            continue
        low = max((x for _, x in used if x <= cut.at), default=0)
        high = min((x for x, _ in used if x >= cut.at + kerf), default=board.length)
        at = cut.at + kerf // 2
        if low < high and 0 < at < board.length:
            found[at] = YardCut(at=at, low=low, high=high)
    return [found[at] for at in sorted(found)]


def _is_across(board: CutBoard, cut: Cut, kerf: int) -> bool:
    """Whether a crosscut goes through all the wood of a board, which may taper."""
    slant = board.width2 - board.width
    ends = (cut.at, min(board.length, cut.at + kerf))
    wide = max(board.width * board.length + slant * x for x in ends)
    return cut.start <= 0 and cut.end * board.length >= wide


def _used(board: CutBoard) -> list[tuple[int, int]]:
    """Return from where to where along a board the plan uses wood."""
    wood: list[Piece | Offcut] = [*board.pieces, *(o for o in board.offcuts if o.keep)]
    return [(one.x, one.x + one.length) for one in wood]


def _stretch(board: CutBoard, start: int, end: int) -> Stretch:
    """Return a stretch of a board, and whether the plan uses any of it."""
    used = any(low < end and start < high for low, high in _used(board))
    return Stretch(start, end, is_waste=not used)


def _fewest(board: CutBoard, marks: Sequence[int], longest: int) -> list[int]:
    """Return the places in `marks` to cut at: the shortest way from end to end.

    The first and last mark are the ends of the board; each stretch between neighbours is
    short enough, or waste.
    """
    best: list[tuple[int, int, int]] = [(0, 0, 0)]  # cuts, length carried, longest of it
    before = [0]
    for j in range(1, len(marks)):
        ways = []
        for i in range(j):
            one = _stretch(board, marks[i], marks[j])
            if one.is_waste or one.length <= longest:
                cuts, carried, most = best[i]
                length = 0 if one.is_waste else one.length
                ways.append(((cuts + (i > 0), carried + length, max(most, length)), i))
        worth, i = min(ways)
        best.append(worth)
        before.append(i)
    chosen = []
    place = before[-1]
    while place:
        chosen.append(place)
        place = before[place]
    return chosen[::-1]
