"""Boards as drawings: what is sawn where, marks, kerfs at true size, what is kept."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import replace
from types import MappingProxyType

from nesting.drawn import Ring
from nesting.plan import CutBoard, Piece, Plan
from reports.board_figures import BOTTOM, LEFT, PAPER_WIDTH, TOP, Paper, figures, height_at
from reports.breakdown import steps_for
from reports.drawings import Area, Drawing, Label, Shape, rectangle
from reports.letters import fitted_size, text_width
from reports.nests import outlines_in
from reports.styles import INK, LOOSE, PANELS, SOFT, WHITE
from stock.boards import Mark
from stock.measures import Unit, format_measure, inch_in, steps_per_unit

_ROOM = 9.43 * 72
_SCALES = (
    1,
    2,
    3,
    4,
    5,
    6,
    8,
    10,
    12,
    14,
    16,
    18,
    20,
    24,
    28,
    32,
    40,
    50,
    64,
    80,
    100,
    200,
)

MARK_LETTERS = {
    "knot": "K", "sound knot": "SK", "split": "S", "wane": "W", "sapwood": "SW",
    "stain": "ST", "worm": "WH", "pith": "P", "check": "C", "figure": "F", "sawing": "R",
}  # fmt: skip


def scale_for(boards: tuple[CutBoard, ...], unit: Unit, stretch: int) -> int:
    """Return n of the scale 1:n at which every board fits the paper, lengths and widths.

    `stretch` is how many times larger widths are drawn than lengths.
    """
    inch = float(inch_in(unit)) * steps_per_unit(unit)
    longest = max((board.length for board in boards), default=1) / inch
    widest = max((max(board.width, board.width2) for board in boards), default=1) / inch
    for scale in _SCALES:
        if longest * 72 <= _ROOM * scale and widest * stretch * 72 <= 250 * scale:
            return scale
    return _SCALES[-1]


def fills_for(plan: Plan) -> dict[str, str]:
    """Return the fill of each part: panels in turn from three colours, the rest plain."""
    names = dict.fromkeys(panel.part for panel in plan.panels)
    return {name: PANELS[at % len(PANELS)] for at, name in enumerate(names)}


class BoardView:
    """Draws boards of one job on one kind of paper; `fills` and outlines are by part."""

    def __init__(
        self,
        paper: Paper,
        fills: Mapping[str, str],
        rings: Mapping[str, Ring] = MappingProxyType({}),
    ) -> None:
        self._paper = paper
        self._fills = fills
        self._rings = rings

    def draw(self, board: CutBoard, marks: tuple[Mark, ...] = ()) -> Drawing:
        """Return the drawing of one board."""
        shapes = [
            *self._ground(board),
            *self._kerfs(board),
            *self._offcuts(board),
            *self._pieces(board, marks),
            *_gangs(board),
            *_marks(marks),
            *figures(board, self._paper),
        ]
        return Drawing(
            width=PAPER_WIDTH,
            height=TOP + BOTTOM + max(board.width, board.width2) * self._paper.upward,
            left=LEFT,
            bottom=BOTTOM,
            across=self._paper.across,
            upward=self._paper.upward,
            shapes=tuple(shapes),
            alt=alt_text(board, marks, self._paper.unit),
        )

    def _ground(self, board: CutBoard) -> Iterator[Shape]:
        """Draw the whole board as waste; everything else goes on top."""
        corners = (
            (0, 0),
            (board.length, 0),
            (board.length, board.width2),
            (0, board.width),
        )
        yield Area(points=corners, fill=WHITE, hatch="waste", weight=0.9)

    def _kerfs(self, board: CutBoard) -> Iterator[Shape]:
        """Draw saw cuts at true size: dark, or white for cuts made after planing."""
        kerf = self._paper.kerf
        for step in steps_for(board, kerf):
            cut, wood = step.cut, step.wood
            if cut.kind == "crosscut":
                high = min(wood.high, height_at(board, cut.at))
                area = rectangle(
                    cut.at, wood.low, min(kerf, wood.right - cut.at), high - wood.low,
                    fill=WHITE if cut.after_planing else SOFT, edge=None,
                )  # fmt: skip
            else:
                area = rectangle(
                    wood.left, cut.at, wood.length, min(kerf, wood.high - cut.at),
                    fill=WHITE if cut.after_planing else SOFT, edge=None,
                )  # fmt: skip
            yield area

    def _offcuts(self, board: CutBoard) -> Iterator[Shape]:
        for offcut in board.offcuts:
            if not offcut.keep:
                continue
            yield rectangle(
                offcut.x, offcut.y, offcut.length, offcut.width,
                fill=WHITE, edge=INK, dashed=True,
            )  # fmt: skip
            room, high = (
                offcut.length * self._paper.across,
                offcut.width * self._paper.upward,
            )
            for words in (f"keep {offcut.name}", "keep"):
                yield from _fitted(
                    words,
                    offcut.x + offcut.length / 2,
                    offcut.y + offcut.width / 2,
                    room,
                    high,
                )
                if fitted_size(words, room, high):
                    break

    def _pieces(self, board: CutBoard, marks: tuple[Mark, ...]) -> Iterator[Shape]:
        crowded: dict[tuple[int, int], list[Piece]] = defaultdict(list)
        for piece in board.pieces:
            fill = self._fills.get(piece.part, LOOSE) if piece.role != "solid" else LOOSE
            yield replace(
                rectangle(piece.x, piece.y, piece.length, piece.width, fill=fill),
                weight=0.35,
            )
            for ring in outlines_in(piece, self._rings):
                yield Area(points=ring, edge=SOFT)
            labels = tuple(self._name(piece, marks))
            yield from labels
            if not labels:
                crowded[piece.x, piece.length].append(piece)
        for pieces in crowded.values():
            yield from self._plate(pieces)

    def _name(self, piece: Piece, marks: tuple[Mark, ...]) -> Iterator[Shape]:
        """Write the name of a piece, with its size if there is room for it."""
        start, end = _free_stretch(piece, marks, self._paper)
        x, y = (start + end) / 2, piece.y + piece.width / 2
        room, high = (end - start) * self._paper.across, piece.width * self._paper.upward
        name = _drawn_name(piece)
        size = fitted_size(name, room, high)
        if size is None:
            yield from _narrow_name(name, x, y, room, high)
            return
        long, wide = (
            format_measure(side, self._paper.unit) for side in (piece.length, piece.width)
        )
        below = f"{long} x {wide}"
        leaves = f"{below}, {piece.leaves} leaves"
        if piece.leaves > 1 and text_width(leaves, size - 1) + 3 <= room:
            below = leaves
        if high >= 2 * size + 6 and text_width(below, size - 1) + 3 <= room:
            yield Label(x=x, y=y, text=name, size=size, up=size * 0.6)
            yield Label(x=x, y=y, text=below, size=size - 1, up=-size * 0.6, ink=SOFT)
        else:
            yield Label(x=x, y=y, text=name, size=size)

    def _plate(self, pieces: list[Piece]) -> Iterator[Shape]:
        """Put one plate on pieces too small to carry their names."""
        low = min(piece.y for piece in pieces)
        high = max(piece.y + piece.width for piece in pieces)
        x, room = pieces[0].x + pieces[0].length / 2, pieces[0].length * self._paper.across
        count = len(pieces)
        if count == 1:
            return
        for words in (f"{count} pieces, see table", f"{count}, see table", str(count)):
            if text_width(words, 6.5) + 8 <= room or words == str(count):
                yield Label(x=x, y=(low + high) / 2, text=words, size=6.5, plate=WHITE)
                return


def _drawn_name(piece: Piece) -> str:
    """Return the name of a piece, or of the copies that are sawn out of it."""
    if not piece.nest:
        return piece.name
    return f"{piece.part} {', '.join(str(copy) for copy in piece.copies)}"


def alt_text(board: CutBoard, marks: tuple[Mark, ...], unit: Unit) -> str:
    """Return what the drawing of a board shows, in words."""
    long, wide = (format_measure(side, unit) for side in (board.length, board.width))
    pieces = "; ".join(
        f"{piece.name} at {format_measure(piece.x, unit)}, {format_measure(piece.y, unit)},"
        f" {format_measure(piece.length, unit)} by {format_measure(piece.width, unit)}"
        + (f", resawn into {piece.leaves} leaves" if piece.leaves > 1 else "")
        + (f", holds {len(piece.nest)} copies" if piece.nest else "")
        for piece in board.pieces
    )
    kept = sum(offcut.keep for offcut in board.offcuts)
    words = (
        f"Board {board.board}, {long} by {wide} {unit.value}. Pieces: {pieces or 'none'}."
    )
    words += f" Offcuts to keep: {kept}."
    if marks:
        words += " Marks: " + ", ".join(mark_words(mark, unit) for mark in marks) + "."
    return words


def mark_words(mark: Mark, unit: Unit) -> str:
    """Return what a mark is and where it lies."""
    start, end = format_measure(mark.start, unit), format_measure(mark.end, unit)
    kind = mark.kind if mark.is_defect else f"{mark.kind} {mark.tag}"
    return f"{kind} from {start} to {end}"


def _narrow_name(
    name: str, x: float, y: float, room: float, high: float
) -> Iterator[Shape]:
    """Write a name upwards, or only its initials, or nothing."""
    for words, turned in ((name, True), (initials(name), False), (initials(name), True)):
        labels = tuple(_fitted(words, x, y, room, high, turned=turned))
        if labels:
            yield from labels
            return


def initials(name: str) -> str:
    """Return a name as initials and number: `Seat cleat 3` is SC3."""
    *words, number = name.split() or [""]
    return "".join(word[0].upper() for word in words) + number


def _fitted(
    words: str, x: float, y: float, room: float, high: float, *, turned: bool = False
) -> Iterator[Shape]:
    """Write a label as large as fits, or nothing."""
    size = fitted_size(words, high, room) if turned else fitted_size(words, room, high)
    if size is not None:
        yield Label(x=x, y=y, text=words, size=size, turned=turned)


def _free_stretch(
    piece: Piece, marks: tuple[Mark, ...], paper: Paper
) -> tuple[float, float]:
    """Return the longest stretch of a piece that no mark covers, nor its letter."""
    on = sorted(
        _covered(mark, paper)
        for mark in marks
        if mark.touches(piece.x, piece.y, piece.length, piece.width)
    )
    best, start = (float(piece.x), float(piece.x)), float(piece.x)
    for left, right in [*on, (piece.x + piece.length, piece.x + piece.length)]:
        if left - start > best[1] - best[0]:
            best = (start, left)
        start = max(start, right)
    return best


def _covered(mark: Mark, paper: Paper) -> tuple[float, float]:
    """Return from where to where a mark or the plate of its letter covers the wood."""
    if not mark.is_defect:
        return mark.start, mark.end
    letter = MARK_LETTERS.get(mark.kind, "?")
    half = (text_width(letter, 7) / 2 + 3) / paper.across
    middle = (mark.start + mark.end) / 2
    return min(mark.start, middle - half), max(mark.end, middle + half)


def _gangs(board: CutBoard) -> Iterator[Shape]:
    """Frame the pieces that stay in one length of wood until planed."""
    by_name = {piece.name: piece for piece in board.pieces}
    for gang in board.gangs:
        pieces = [by_name[name] for name in gang if name in by_name]
        if len(pieces) < 2:
            continue
        left, low = min(p.x for p in pieces), min(p.y for p in pieces)
        right = max(p.x + p.length for p in pieces)
        high = max(p.y + p.width for p in pieces)
        corners = ((left, low), (right, low), (right, high), (left, high))
        yield Area(points=corners, edge=INK, dashed=True, weight=1.6)


def _marks(marks: tuple[Mark, ...]) -> Iterator[Shape]:
    """Lay marks over the wood: defects crosshatched, better zones dashed."""
    for mark in marks:
        yield rectangle(
            mark.start, mark.low, mark.end - mark.start, mark.high - mark.low,
            hatch="mark" if mark.is_defect else None, dashed=not mark.is_defect,
        )  # fmt: skip
        letter = MARK_LETTERS.get(mark.kind, "?")
        x, y = (mark.start + mark.end) / 2, (mark.low + mark.high) / 2
        if not mark.is_defect:
            letter, x, y = f"{letter}: {mark.tag}", mark.start, mark.high
            yield Label(
                x=x, y=y, text=letter, size=6.5, right=3, up=-5, anchor="lm", plate=WHITE
            )
            continue
        yield Label(x=x, y=y, text=letter, size=7, plate=WHITE)
