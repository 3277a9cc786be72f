"""From settled strips to the records of a plan: pieces, cuts in order, offcuts, panels."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass, replace
from decimal import Decimal
from fractions import Fraction

from nesting.detail import Slot
from nesting.plan import Cut, CutBoard, Nested, Offcut, PanelPlan, PanelStave, Piece
from nesting.problem import Bin, Item, Problem
from nesting.project import Project
from nesting.settle import Settled
from stock.boards import Board, board_feet
from stock.yards import Tariff

Box = tuple[int, int, int, int]  # x, y, length, width on the board


@dataclass(frozen=True, slots=True)
class Laid:
    """A strip on its board, with the pieces that are cut from it in order."""

    box: Box
    pieces: tuple[tuple[Slot, int, int], ...]  # slot, x, length

    def is_gang(self, problem: Problem) -> bool:
        """Whether its pieces stay together until planed."""
        return any(problem.items[slot.item].is_short for slot, _, _ in self.pieces)


def strips_of(
    problem: Problem, settled: Settled, one: Bin
) -> dict[tuple[int, int], list[Laid]]:
    """Return the strips of a board by section (x, length), from the lower edge up."""
    sections: dict[tuple[int, int], list[Laid]] = defaultdict(list)
    for b, band in enumerate(settled.bands[one.index]):
        y = band.y
        for s, strip in enumerate(band.strips):
            slots = [
                Slot(one.index, b, s, place, item, size, whole)
                for place, (item, size, whole) in enumerate(strip.pieces)
            ]
            kept = [slot for slot in slots if slot in settled.units]
            if not kept:
                continue
            width = settled.widths[one.index, b, s]
            x = one.start + band.x
            pieces = []
            for slot in kept:
                length = problem.items[slot.item].sizes[slot.size][0]
                start = one.start + band.x + band.starts[slot.place] if band.starts else x
                pieces.append((slot, start, length))
                x = start + length + problem.kerf
            box = (one.start + band.x, y, band.length, width)
            sections[one.start + band.x, band.length].append(Laid(box, tuple(pieces)))
            y += width + problem.kerf
    return {
        key: sorted(found, key=lambda laid: laid.box[1])
        for key, found in sorted(sections.items())
    }


class Bench:
    """Takes one board apart: hands out cuts in order and gathers what is left over."""

    def __init__(self, kerf: int) -> None:
        self.kerf = kerf
        self.cuts: list[Cut] = []
        self.left: list[Box] = []

    def slice(
        self, box: Box, spans: list[tuple[int, int]], kind: str, *, after: bool = False
    ) -> None:
        """Free `spans` (start, end along the axis) from a box; the rest is left over."""
        x, y, length, width = box
        along = kind == "crosscut"
        at, end = (x, x + length) if along else (y, y + width)
        for start, stop in spans:
            if start > at:
                self._cut(box, start - self.kerf, kind, after=after)
                self._leave(box, at, start - self.kerf, kind)
            if stop < end:
                self._cut(box, stop, kind, after=after)
            at = stop + self.kerf
        self._leave(box, at, end, kind)

    def _cut(self, box: Box, at: int, kind: str, *, after: bool) -> None:
        x, y, length, width = box
        start, end = (y, y + width) if kind == "crosscut" else (x, x + length)
        self.cuts.append(
            Cut(
                order=len(self.cuts) + 1,
                kind=kind,
                at=at,
                start=start,
                end=end,
                after_planing=after,
            )
        )

    def _leave(self, box: Box, low: int, high: int, kind: str) -> None:
        if high <= low:
            return
        x, y, length, width = box
        self.left.append(
            (low, y, high - low, width)
            if kind == "crosscut"
            else (x, low, length, high - low)
        )


def take_apart(
    problem: Problem,
    size: tuple[int, int],
    sections: Mapping[tuple[int, int], list[Laid]],
    end: Box | None,
) -> Bench:
    """Return the cuts that free the strips' pieces from a board of this bounding size.

    `end` is a kept offcut at the far end that takes the full width, if there is one.
    """
    bench = Bench(problem.kerf)
    length, width = size
    spans = [(x, x + n) for x, n in sections]
    if end is not None:
        spans.append((end[0], end[0] + end[2]))
    bench.slice((0, 0, length, width), spans, "crosscut")
    for (x, n), strips in sections.items():
        bench.slice(
            (x, 0, n, width), [(s.box[1], s.box[1] + s.box[3]) for s in strips], "rip"
        )
    for strips in sections.values():
        for strip in strips:
            spans = [(x, x + n) for _, x, n in strip.pieces]
            bench.slice(strip.box, spans, "crosscut", after=strip.is_gang(problem))
    return bench


class Namer:
    """Names pieces as the maker will chalk them."""

    def __init__(self, problem: Problem) -> None:
        self.problem = problem
        self.staves: dict[tuple[int, int], int] = defaultdict(int)

    def piece(
        self, index: int, unit: int, x: int, y: int, length: int, width: int
    ) -> Piece:
        """Return the record of one piece of an item."""
        item = self.problem.items[index]
        (copy, *others), layer = item.copies_of(unit), unit % item.layers + 1
        name = f"{item.part} {copy}"
        role = "solid"
        if item.layers > 1:
            name, role = f"{name}.{layer}", "layer"
        if item.is_panel:
            self.staves[index, unit] += 1
            name, role = f"{name}.{self.staves[index, unit]}", "stave"
        return Piece(
            name=name, part=item.part, copy=copy, role=role, x=x, y=y,
            length=length, width=width, layer=layer,
            leaves=item.leaves, others=tuple(others),
            nest=_nested(item, (copy, *others), (length, width)),
        )  # fmt: skip


def _nested(
    item: Item, copies: tuple[int, ...], size: tuple[int, int]
) -> tuple[Nested, ...]:
    """Return where copies lie in a piece: their nest in the middle of it."""
    if item.nest is None:
        return ()
    left, low = (size[0] - item.nest.length) // 2, (size[1] - item.nest.width) // 2
    return tuple(
        Nested(
            copy=copy, x=left + laid.x, y=low + laid.y,
            turned=laid.is_turned, mirrored=laid.is_mirrored,
        )
        for copy, laid in zip(copies, item.nest.places, strict=False)
    )  # fmt: skip


def cut_board(
    project: Project,
    tariff: Tariff,
    problem: Problem,
    settled: Settled,
    one: Bin,
    namer: Namer,
) -> CutBoard:
    """Return the record of one board: pieces, cuts, offcuts, gangs and money."""
    board = next((b for b in project.boards if b.name == one.name), None)
    sections = strips_of(problem, settled, one)
    length = board.length if board else one.length
    width = max(board.width, board.width2) if board else one.width
    end = _end_offcut(problem, one, sections)
    bench = take_apart(problem, (length, width), sections, end)
    pieces: list[Piece] = []
    gangs: list[tuple[str, ...]] = []
    for strips in sections.values():
        for strip in strips:
            names = []
            for slot, x, n in strip.pieces:
                unit = settled.units[slot]
                pieces.append(
                    namer.piece(slot.item, unit, x, strip.box[1], n, strip.box[3])
                )
                names.append(pieces[-1].name)
            if strip.is_gang(problem):
                gangs.append(tuple(names))
    left = [*bench.left, *([end] if end else [])]
    record = CutBoard(
        board=one.name,
        where=board.where if board else _where(one),
        bought=one.yard is not None,
        cost=_money(one.cost),
        pay=_money(tariff.pay(board) if board else (one.cost if one.yard else 0)),
        board_feet=board_feet(board, project.unit) if board else Fraction(0),
        length=length,
        width=board.width if board else one.width,
        width2=board.width2 if board else one.width,
        pieces=tuple(pieces),
        cuts=tuple(bench.cuts),
        offcuts=(),
        gangs=tuple(gangs),
    )
    return replace(record, offcuts=offcuts_in(problem, tariff, one, board, sorted(left)))


def _where(one: Bin) -> str:
    return one.yard or "rack"


def _money(cents: int) -> Decimal:
    return Decimal(cents) / 100


def _end_offcut(
    problem: Problem, one: Bin, sections: Mapping[tuple[int, int], list[Laid]]
) -> Box | None:
    """Return the longest stretch beyond the last section that is worth keeping."""
    start = max((x + n + problem.kerf for x, n in sections), default=one.start)
    stop = one.start + one.length
    edges = [start, stop]
    spoils = [m for m in one.marks if m.forbids("hidden")]
    best: Box | None = None
    begins = [
        start,
        *(
            one.start + m.end + (0 if m.end - m.start >= problem.kerf else problem.kerf)
            for m in spoils
        ),
    ]
    for begin in sorted(b for b in begins if start <= b < stop):
        finish = min(
            [one.start + m.start for m in spoils if one.start + m.end > begin] + [edges[1]]
        )
        width = min(
            one.width_at(begin - one.start), one.width_at(max(0, finish - one.start))
        )
        if finish - begin < problem.keep_length or width < problem.keep_width:
            continue
        box = (begin, 0, finish - begin, width)
        if best is None or box[2] * box[3] > best[2] * best[3]:
            best = box
    return best


def offcuts_in(
    problem: Problem, tariff: Tariff, one: Bin, board: Board | None, left: list[Box]
) -> tuple[Offcut, ...]:
    """Return what is left over; big clear rectangles are kept, the rest is waste."""
    found: list[Offcut] = []
    kept = 0
    for box in left:
        real = _inside(board, one, box)
        if real is None:
            continue
        x, y, length, width = real
        keep = _is_kept(problem, one, board, real)
        kept += keep
        credit = (
            _money(tariff.credit(board, length * width)) if keep and board else Decimal(0)
        )
        found.append(
            Offcut(
                name=f"{one.name} offcut {kept}" if keep else "",
                x=x, y=y, length=length, width=width, keep=keep, credit=credit,
            )
        )  # fmt: skip
    return tuple(found)


def _inside(board: Board | None, one: Bin, box: Box) -> Box | None:
    """Clip a leftover to the board's real outline, or drop what lies outside.

    Between the end trims it is clipped to the bin's outline, which is rounded down from
    widths that are rounded already: of what lies beyond, no bound knows.
    """
    x, y, length, width = box
    if board is None:
        return box
    top = min(board.width_at(x), board.width_at(x + length))
    start, end = x - one.start, x - one.start + length
    if start >= 0 and end <= one.length:
        top = min(top, one.width_at(start), one.width_at(end))
    return (x, y, length, min(width, top - y)) if top > y else None


def _is_kept(problem: Problem, one: Bin, board: Board | None, box: Box) -> bool:
    """Whether a leftover is big enough, clear, and free of the trimmed ends."""
    x, y, length, width = box
    if length < problem.keep_length or width < problem.keep_width:
        return False
    if x < one.start or x + length > one.start + one.length:
        return False
    marks = board.marks if board else ()
    return not any(m.forbids("hidden") and m.touches(x, y, length, width) for m in marks)


def panels_for(problem: Problem, boards: tuple[CutBoard, ...]) -> tuple[PanelPlan, ...]:
    """Return the problem's glued-up panels; staves of one board stand side by side."""
    items: dict[str, list[Item]] = defaultdict(list)
    for one in problem.items:
        items[one.part].append(one)
    staves: dict[tuple[str, int, int], list[tuple[Piece, str]]] = defaultdict(list)
    for cut in boards:
        for piece in cut.pieces:
            if piece.role == "stave" and piece.part in items:
                staves[piece.part, piece.copy, piece.layer].append((piece, cut.board))
    found = []
    for (part, copy, layer), pieces in sorted(staves.items()):
        item = next(one for one in items[part] if one.makes(copy))
        placed = tuple(
            PanelStave(
                piece=p.name, board=board, width=p.width, net_width=p.width - item.joint,
                leaf=leaf if item.leaves > 1 else 0,
            )
            for p, board in pieces
            for leaf in range(1, item.leaves + 1)
        )  # fmt: skip
        found.append(
            PanelPlan(
                part=part, copy=copy, layer=layer,
                net_width=sum(stave.net_width for stave in placed),
                need=item.need * item.leaves, length=item.length, staves=placed,
            )
        )  # fmt: skip
    return tuple(found)
