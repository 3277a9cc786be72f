"""Boards as drawings: what is sawn where, marks, kerfs at true size, what is kept."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import replace

from nesting.plan import CutBoard, Piece, Plan
from reports.breakdown import steps_for
from reports.drawings import (
    Area,
    Drawing,
    Label,
    Shape,
    Stroke,
    fitted_size,
    rectangle,
    text_width,
)
from reports.styles import INK, LOOSE, PANELS, SOFT, WHITE
from stock.boards import Mark
from stock.measures import Unit, format_measure, inch_in, steps_per_unit

PAPER_WIDTH = 9.8 * 72
_ROOM = 9.43 * 72
_LEFT, _TOP, _BOTTOM = 15.0, 27.0, 25.0
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
    """Draws boards of one job at one scale.

    `stretch` is 2 for boards (widths twice as large as lengths) and 1 for sheets.
    """

    def __init__(
        self,
        unit: Unit,
        kerf: int,
        fills: Mapping[str, str],
        *,
        scale: int,
        stretch: int = 2,
    ) -> None:
        self._unit = unit
        self._kerf = kerf
        self._fills = fills
        self._stretch = stretch
        self._scale = scale
        inch = float(inch_in(unit)) * steps_per_unit(unit)
        self._across = 72 / (inch * scale)
        self._upward = self._across * stretch

    def draw(self, board: CutBoard, marks: tuple[Mark, ...] = ()) -> Drawing:
        """Return the drawing of one board."""
        shapes = [
            *self._ground(board),
            *self._kerfs(board),
            *self._offcuts(board),
            *self._pieces(board, marks),
            *_gangs(board),
            *_marks(marks),
            *self._figures(board),
        ]
        return Drawing(
            width=PAPER_WIDTH,
            height=_TOP + _BOTTOM + max(board.width, board.width2) * self._upward,
            left=_LEFT,
            bottom=_BOTTOM,
            across=self._across,
            upward=self._upward,
            shapes=tuple(shapes),
            alt=alt_text(board, marks, self._unit),
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
        for step in steps_for(board, self._kerf):
            cut, wood = step.cut, step.wood
            if cut.kind == "crosscut":
                high = min(wood.high, _height_at(board, cut.at))
                area = rectangle(
                    cut.at, wood.low, min(self._kerf, wood.right - cut.at), high - wood.low,
                    fill=WHITE if cut.after_planing else SOFT, edge=None,
                )  # fmt: skip
            else:
                area = rectangle(
                    wood.left, cut.at, wood.length, min(self._kerf, wood.high - cut.at),
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
            room, high = offcut.length * self._across, offcut.width * self._upward
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
            labels = tuple(self._name(piece, marks))
            yield from labels
            if not labels:
                crowded[piece.x, piece.length].append(piece)
        for pieces in crowded.values():
            yield from self._plate(pieces)

    def _name(self, piece: Piece, marks: tuple[Mark, ...]) -> Iterator[Shape]:
        """Write the name of a piece, with its size if there is room for it."""
        start, end = _free_stretch(piece, marks)
        x, y = (start + end) / 2, piece.y + piece.width / 2
        room, high = (end - start) * self._across, piece.width * self._upward
        size = fitted_size(piece.name, room, high)
        if size is None:
            yield from _fitted(piece.name, x, y, room, high, turned=True)
            return
        long, wide = (
            format_measure(side, self._unit) for side in (piece.length, piece.width)
        )
        below = f"{long} x {wide}"
        if high >= 2 * size + 6 and text_width(below, size - 1) + 3 <= room:
            yield Label(x=x, y=y, text=piece.name, size=size, up=size * 0.6)
            yield Label(x=x, y=y, text=below, size=size - 1, up=-size * 0.6, ink=SOFT)
        else:
            yield Label(x=x, y=y, text=piece.name, size=size)

    def _plate(self, pieces: list[Piece]) -> Iterator[Shape]:
        """Put one plate on pieces too small to carry their names."""
        low = min(piece.y for piece in pieces)
        high = max(piece.y + piece.width for piece in pieces)
        x, room = pieces[0].x + pieces[0].length / 2, pieces[0].length * self._across
        count = len(pieces)
        for words in (f"{count} pieces, see table", f"{count}, see table", str(count)):
            if text_width(words, 6.5) + 8 <= room or words == str(count):
                yield Label(x=x, y=(low + high) / 2, text=words, size=6.5, plate=WHITE)
                return

    def _figures(self, board: CutBoard) -> Iterator[Shape]:
        """Write positions above ticks, order of cuts, widths, grain and scale."""
        yield from self._ticks(board)
        yield from self._ends(board)
        side = 4 / self._upward
        middle = board.length / 2
        arrow = min(24 / self._across, board.length / 4)
        y = -15.5 / self._upward
        yield Stroke(points=((middle - arrow, y), (middle + arrow, y)), ink=SOFT)
        for way in (-1, 1):
            tip = middle + way * arrow
            back = tip - way * 5 / self._across
            yield Stroke(points=((back, y + side), (tip, y), (back, y - side)), ink=SOFT)
        yield Label(x=middle, y=0, text="grain", size=6.5, up=-21.5, ink=SOFT)

    def _ticks(self, board: CutBoard) -> Iterator[Shape]:
        """Put a tick and a position at each crosscut, on two levels where they crowd."""
        free = [-_LEFT, -_LEFT]
        free_below = -_LEFT
        crosscuts = [
            step for step in steps_for(board, self._kerf) if step.cut.kind == "crosscut"
        ]
        for step in sorted(crosscuts, key=lambda one: (one.cut.at, one.cut.order)):
            at, top = step.cut.at, _height_at(board, step.cut.at)
            words = format_measure(at, self._unit)
            x, half = at * self._across, text_width(words, 7.5) / 2 + 2
            level = next((one for one in (0, 1) if free[one] <= x - half), None)
            if level is not None:
                rise = 4 + 9 * level
                yield Stroke(
                    points=((at, top), (at, top + rise / self._upward)), weight=0.6
                )
                yield Label(x=at, y=top, text=words, size=7.5, up=rise + 4.5)
                free[level] = x + half
            order = f"cut {step.cut.order}"
            half = text_width(order, 6.5) / 2 + 2
            if step.wood.low == 0 and free_below <= x - half:
                yield Label(x=at, y=0, text=order, size=6.5, up=-6, ink=SOFT)
                free_below = x + half

    def _ends(self, board: CutBoard) -> Iterator[Shape]:
        """Write the widths at both ends, which end is the butt, and the scale."""
        first, last = (format_measure(w, self._unit) for w in (board.width, board.width2))
        yield Label(x=0, y=board.width / 2, text=first, size=7.5, right=-7, turned=True)
        yield Label(
            x=board.length, y=board.width2 / 2, text=last, size=7.5, right=7, turned=True
        )
        yield Label(
            x=0, y=0, text="0 = butt end; lower edge is the reference edge", size=6.5,
            up=-19.5, right=-1, anchor="lm", ink=SOFT,
        )  # fmt: skip
        words = f"lengths 1:{self._scale}"
        if self._stretch == 1:
            words = f"scale 1:{self._scale}"
        else:
            words += f", widths drawn {self._stretch} times as large"
        end = (PAPER_WIDTH - _LEFT - 5) / self._across
        yield Label(x=end, y=0, text=words, size=6.5, up=-19.5, anchor="rm", ink=SOFT)


def alt_text(board: CutBoard, marks: tuple[Mark, ...], unit: Unit) -> str:
    """Return what the drawing of a board shows, in words."""
    long, wide = (format_measure(side, unit) for side in (board.length, board.width))
    pieces = "; ".join(
        f"{piece.name} at {format_measure(piece.x, unit)}, {format_measure(piece.y, unit)},"
        f" {format_measure(piece.length, unit)} by {format_measure(piece.width, unit)}"
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


def _height_at(board: CutBoard, x: int) -> int:
    """Return the width of a (tapered) board at x."""
    return board.width + (board.width2 - board.width) * x // board.length


def _fitted(
    words: str, x: float, y: float, room: float, high: float, *, turned: bool = False
) -> Iterator[Shape]:
    """Write a label as large as fits, or nothing."""
    size = fitted_size(words, high, room) if turned else fitted_size(words, room, high)
    if size is not None:
        yield Label(x=x, y=y, text=words, size=size, turned=turned)


def _free_stretch(piece: Piece, marks: tuple[Mark, ...]) -> tuple[int, int]:
    """Return the longest stretch of a piece that no mark covers."""
    on = sorted(
        (mark.start, mark.end)
        for mark in marks
        if mark.touches(piece.x, piece.y, piece.length, piece.width)
    )
    best, start = (piece.x, piece.x), piece.x
    for left, right in [*on, (piece.x + piece.length, piece.x + piece.length)]:
        if left - start > best[1] - best[0]:
            best = (start, left)
        start = max(start, right)
    return best


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
