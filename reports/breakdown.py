"""How a board comes apart: each cut, what it frees and what it leaves, in words.

The cuts of a plan are replayed on the board; nothing here is decided, only told.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from nesting.plan import Cut, CutBoard, Piece
from reports.nests import nest_words
from reports.thickness import resaw_words


@dataclass(frozen=True, slots=True)
class Wood:
    """A rectangle of wood on a board, in grid steps: x from `left` to `right`."""

    left: int
    right: int
    low: int
    high: int

    @property
    def length(self) -> int:
        """Extent along the board."""
        return self.right - self.left

    @property
    def width(self) -> int:
        """Extent across the board."""
        return self.high - self.low

    @property
    def is_nothing(self) -> bool:
        """Whether nothing is left of it."""
        return self.length <= 0 or self.width <= 0

    def holds(self, x: int, y: int, length: int, width: int) -> bool:
        """Whether a rectangle lies inside."""
        return (
            self.left <= x
            and x + length <= self.right
            and self.low <= y
            and y + width <= self.high
        )


@dataclass(frozen=True, slots=True)
class Step:
    """One cut on one piece of wood: `freed` lies before the saw, `rest` behind it."""

    cut: Cut
    wood: Wood
    freed: Wood
    rest: Wood
    rest_is_done: bool = False


@dataclass(frozen=True, kw_only=True, slots=True)
class CutLine:
    """One line of a cutting table: one cut, or equal cuts in a row.

    Attributes
    ----------
    first, last
        Order of the first and the last cut of the line.
    at
        Where the first cut goes: from the butt end (crosscut) or lower edge (rip).
    last_at
        Where the last cut goes.
    length, width
        Of each piece of wood that the cut takes off.
    count
        How many such pieces of wood.
    pieces
        How many pieces of the plan they hold.
    gives, leaves
        What comes off, and what is left over if it isn't cut further, in words.
    """

    first: int
    last: int
    kind: str
    at: int
    last_at: int
    length: int
    width: int
    count: int
    pieces: int
    gives: str
    leaves: str
    after_planing: bool


def steps_for(board: CutBoard, kerf: int) -> tuple[Step, ...]:
    """Return the cuts of a board in order, each with the wood it is made on."""
    live = [Wood(0, board.length, 0, max(board.width, board.width2))]
    steps: list[Step] = []
    for cut in sorted(board.cuts, key=lambda one: one.order):
        wood = next((one for one in live if _is_on(cut, one)), None)
        if wood is None:
            continue
        freed, rest = _parted(cut, wood, kerf)
        live.remove(wood)
        live += [one for one in (freed, rest) if not one.is_nothing]
        steps.append(Step(cut, wood, freed, rest))
    return tuple(replace(step, rest_is_done=step.rest in live) for step in steps)


def lines_for(board: CutBoard, kerf: int) -> tuple[CutLine, ...]:
    """Return the cutting table of a board, equal neighbouring cuts in one line."""
    lines: list[CutLine] = []
    last_wood = Wood(0, 0, 0, 0)
    for step in steps_for(board, kerf):
        line = _line(board, step)
        if lines and step.wood == last_wood and _is_repeat(lines[-1], line):
            lines[-1] = _joined(lines[-1], line)
        else:
            lines.append(line)
        last_wood = step.rest
    return tuple(lines)


def content_of(board: CutBoard, wood: Wood) -> str:
    """Return what a rectangle of a board becomes, in words."""
    pieces = _pieces_in(board, wood)
    if len(pieces) == 1:
        return _named(pieces[0])
    if pieces:
        return ", ".join(piece.name for piece in pieces)
    kept = [
        f"{_offcut_name(offcut.name)} (keep)"
        for offcut in board.offcuts
        if offcut.keep and wood.holds(offcut.x, offcut.y, offcut.length, offcut.width)
    ]
    return ", ".join(kept) or "waste"


def _pieces_in(board: CutBoard, wood: Wood) -> list[Piece]:
    """Return the pieces of the plan that a rectangle of a board holds."""
    return [
        piece
        for piece in board.pieces
        if wood.holds(piece.x, piece.y, piece.length, piece.width)
    ]


def _named(piece: Piece) -> str:
    """Return a piece by name, with what is made of it at once: leaves, or copies."""
    words = resaw_words(piece) or nest_words(piece)
    return f"{piece.name} ({words})" if words else piece.name


def _offcut_name(name: str) -> str:
    """Return a name that says it is an offcut, once."""
    return name if "offcut" in name.lower() else f"offcut {name}"


def needed_size(board: CutBoard, end_trim: int) -> tuple[int, int]:
    """Return length and width of the smallest clear board that gives the same pieces.

    The pieces move together to the ends that are trimmed; (0, 0) if there are none.
    """
    if not board.pieces:
        return (0, 0)
    left = min(piece.x for piece in board.pieces)
    right = max(piece.x + piece.length for piece in board.pieces)
    low = min(piece.y for piece in board.pieces)
    high = max(piece.y + piece.width for piece in board.pieces)
    # Trim at each end, but never more than the board of the plan itself loses there.
    length = right - left + min(left, end_trim) + min(board.length - right, end_trim)
    return (length, high - low)


def _is_on(cut: Cut, wood: Wood) -> bool:
    """Whether a cut is made on this piece of wood."""
    middle = (cut.start + cut.end) / 2
    if cut.kind == "crosscut":
        return wood.left <= cut.at < wood.right and wood.low <= middle < wood.high
    return wood.low <= cut.at < wood.high and wood.left <= middle < wood.right


def _parted(cut: Cut, wood: Wood, kerf: int) -> tuple[Wood, Wood]:
    """Return what lies before and behind a cut."""
    if cut.kind == "crosscut":
        return replace(wood, right=cut.at), replace(wood, left=cut.at + kerf)
    return replace(wood, high=cut.at), replace(wood, low=cut.at + kerf)


def _line(board: CutBoard, step: Step) -> CutLine:
    """Return one cut as a line of the table."""
    return CutLine(
        first=step.cut.order,
        last=step.cut.order,
        kind=step.cut.kind,
        at=step.cut.at,
        last_at=step.cut.at,
        length=step.freed.length,
        width=step.freed.width,
        count=1,
        pieces=len(_pieces_in(board, step.freed)),
        gives="waste" if step.freed.is_nothing else content_of(board, step.freed),
        leaves=content_of(board, step.rest) if step.rest_is_done else "",
        after_planing=step.cut.after_planing,
    )


def _is_repeat(before: CutLine, line: CutLine) -> bool:
    """Whether a cut takes off the same size as the one just before it.

    Crosscuts only if each frees one piece: what a section holds is told section by section.
    """
    are_single = before.pieces == before.count and line.pieces == 1
    return (
        before.kind == line.kind
        and (line.kind == "rip" or are_single)
        and not before.leaves
        and (before.length, before.width) == (line.length, line.width)
        and before.after_planing == line.after_planing
        and "waste" not in (before.gives, line.gives)
    )


def _joined(before: CutLine, line: CutLine) -> CutLine:
    """Return two equal cuts as one line."""
    return replace(
        before,
        last=line.last,
        last_at=line.last_at,
        count=before.count + 1,
        pieces=before.pieces + line.pieces,
        gives=f"{before.gives}, {line.gives}",
        leaves=line.leaves,
    )
