"""Cauls: pairs of straight strips across a panel that keep it flat in its clamps.

Which sizes a batch of glue-ups asks for, and where the plan's own offcuts give them; the
same cauls serve batch after batch. Never shorter than is safe to machine: a narrow panel
gets cauls that stand over. Width, and how far pairs stand apart, are our choice.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from nesting.plan import CutBoard, Offcut, PanelPlan, Plan
from nesting.project import Project
from reports.glueups import end_distance, spacing_count
from stock.boards import Board
from stock.measures import Unit, steps_per_unit
from stock.shop import Shop

Box = tuple[int, int, int, int]  # x, y, length, width on its board


@dataclass(frozen=True, kw_only=True, slots=True)
class CaulStrip:
    """A strip of an offcut that cauls are cut from; see `Offcut` for its place.

    Attributes
    ----------
    offcut
        Which of the board's offcuts it is ripped from, 0 the first.
    name
        Of the offcut if it is one to keep, else empty.
    ripped
        Whether it has to be ripped off the offcut.
    cauls
        Lengths cut from it, in order.
    """

    board: str
    offcut: int
    name: str
    box: Box
    is_ripped: bool
    cauls: tuple[int, ...] = ()


@dataclass(frozen=True, kw_only=True, slots=True)
class Cauls:
    """Where cauls come from: strips of offcuts, parts of the project, or the maker.

    Attributes
    ----------
    made
        Cauls that the project has as parts from offcuts and that a glue-up uses.
    wanted
        Lengths and how many of them no offcut gives.
    """

    strips: tuple[CaulStrip, ...]
    made: int
    wanted: tuple[tuple[int, int], ...]


def caul_width(unit: Unit) -> int:
    """Return the least width of a caul: 2 in or 50 mm, far above what is risky to rip."""
    return (2 if unit is Unit.INCH else 50) * steps_per_unit(unit)


def caul_thickness(unit: Unit) -> int:
    """Return the least thickness of a board that cauls come from: 3/4 in or 19 mm."""
    steps = steps_per_unit(unit)
    return 3 * steps // 4 if unit is Unit.INCH else 19 * steps


def shortest_caul(shop: Shop) -> int:
    """Return the least length of a caul: what is safe to machine, 12 in or 300 mm."""
    usual = (12 if shop.unit is Unit.INCH else 300) * steps_per_unit(shop.unit)
    return max(shop.shortest_machined, usual)


def caul_length(panel: PanelPlan, shop: Shop) -> int:
    """Return how long the cauls of a panel are: from edge to edge, or more."""
    return max(panel.net_width, shortest_caul(shop))


def caul_pairs(length: int, unit: Unit) -> int:
    """Return pairs of cauls: one near each end, no more than 24 in / 600 mm apart."""
    apart = (24 if unit is Unit.INCH else 600) * steps_per_unit(unit)
    return spacing_count(length, end_distance(length, unit), apart)


def cauls_for(
    project: Project, plan: Plan, batches: Iterable[Sequence[PanelPlan]]
) -> Cauls:
    """Return cauls for the panels of every batch, as few as serve them all in turn."""
    stock = _Stock(project, plan)
    wanted: Counter[int] = Counter()
    lots = [sorted(_lengths(batch, project.shop), reverse=True) for batch in batches]
    for lot in sorted(lots, reverse=True):
        for length, count in stock.lack(lot).items():
            wanted[length] += count
    return Cauls(
        strips=stock.cut_strips, made=stock.made, wanted=tuple(sorted(wanted.items()))
    )


def _lengths(batch: Iterable[PanelPlan], shop: Shop) -> list[int]:
    """Return a length for every caul that the panels of a batch need."""
    return [
        caul_length(panel, shop)
        for panel in batch
        if len(panel.staves) > 1
        for _ in range(2 * caul_pairs(panel.length, shop.unit))
    ]


class _Stock:
    """Cauls there are, and strips of offcuts to cut more of them from."""

    def __init__(self, project: Project, plan: Plan) -> None:
        self.kerf = project.shop.kerf
        self.boards = {board.name: board for board in project.boards}
        self.wide = caul_width(project.unit)
        self.ready = [(length, True) for length in _made_as_parts(project, plan)]
        self.used: set[int] = set()
        self.strips = [
            strip for one in _big_offcuts(project, plan) for strip in self._split(*one)
        ]

    @property
    def cut_strips(self) -> tuple[CaulStrip, ...]:
        """The strips that cauls are cut from."""
        return tuple(strip for strip in self.strips if strip.cauls)

    @property
    def made(self) -> int:
        """How many cauls that are parts of the project are used."""
        return sum(self.ready[at][1] for at in self.used)

    def lack(self, lot: Iterable[int]) -> Counter[int]:
        """Give every caul of a batch, the longest first; return what is missing."""
        free = set(range(len(self.ready)))
        missing: Counter[int] = Counter()
        for need in lot:
            at = min(
                (at for at in free if self.ready[at][0] >= need),
                key=lambda at: self.ready[at],
                default=None,
            )
            if at is not None:
                free.remove(at)
                self.used.add(at)
                continue
            missing[need] += not self._cut(need)
            self.ready.append((need, False))
        return +missing

    def _cut(self, need: int) -> bool:
        """Cut one caul from the shortest rest that holds it, opened strips first."""
        fits = [at for at, one in enumerate(self.strips) if self._room(one) >= need]
        if not fits:
            return False
        at = min(fits, key=lambda at: self._rank(self.strips[at]))
        one = self.strips[at]
        self.strips[at] = replace(one, cauls=(*one.cauls, need))
        return True

    def _rank(self, strip: CaulStrip) -> tuple[bool, bool, int]:
        """Return what decides where a caul is cut: opened, waste, little left."""
        return (not strip.cauls, bool(strip.name), self._room(strip))

    def _room(self, strip: CaulStrip) -> int:
        """Return the length that a strip has left."""
        return strip.box[2] - sum(strip.cauls) - self.kerf * len(strip.cauls)

    def _split(self, board: str, at: int, offcut: Offcut, box: Box) -> Iterable[CaulStrip]:
        """Yield the sound strips that an offcut is ripped into, or the whole if narrow."""
        x, y, length, width = box
        count = (width + self.kerf) // (self.wide + self.kerf)
        for strip in range(count):
            low = y + strip * (self.wide + self.kerf)
            wide = self.wide if count > 1 else width
            if not _is_clear(self.boards[board], (x, low, length, wide)):
                continue
            yield CaulStrip(
                board=board,
                offcut=at,
                name=offcut.name if offcut.keep else "",
                box=(x, low, length, wide),
                is_ripped=count > 1,
            )


def _made_as_parts(project: Project, plan: Plan) -> list[int]:
    """Return the lengths of cauls that the project lists among its parts from offcuts."""
    parts = {
        part.name: part
        for part in project.parts
        if part.source == "offcut" and "caul" in part.name.lower()
    }
    return [
        parts[piece.part].length
        for cut in plan.boards
        for piece in cut.pieces
        if piece.part in parts
    ]


def _big_offcuts(project: Project, plan: Plan) -> list[tuple[str, int, Offcut, Box]]:
    """Return offcuts that are long, wide and thick enough, waste and small ones first."""
    boards = {board.name: board for board in project.boards}
    found = []
    for cut in plan.boards:
        board = boards.get(cut.board)
        if board is None or not _is_thick(board, project.unit):
            continue
        for at, offcut in enumerate(cut.offcuts):
            box = _untrimmed(cut, offcut, project.shop)
            if box[2] >= shortest_caul(project.shop) and box[3] >= caul_width(project.unit):
                found.append((cut.board, at, offcut, box))
    return sorted(found, key=lambda one: (one[2].keep, one[3][2] * one[3][3], one[:2]))


def _is_thick(board: Board, unit: Unit) -> bool:
    """Whether cauls can be made from a board."""
    return board.thickness.nominal * steps_per_unit(unit) >= caul_thickness(unit)


def _untrimmed(cut: CutBoard, offcut: Offcut, shop: Shop) -> Box:
    """Return an offcut without what lies in the board's trimmed ends."""
    start = max(offcut.x, shop.end_trim)
    end = min(offcut.x + offcut.length, cut.length - shop.end_trim)
    return (start, offcut.y, max(0, end - start), offcut.width)


def _is_clear(board: Board, box: Box) -> bool:
    """Whether no unsound mark touches a place."""
    return not any(mark.forbids("hidden") and mark.touches(*box) for mark in board.marks)
