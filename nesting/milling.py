"""All set-ups of a plan in the order of the work: cut, plane, glue, trim to finished size.

Pieces in gangs run in their one length of wood as long as they can: they are planed and,
if nothing is glued to them, ripped to finished width before they are cut apart.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

from nesting.blanks import Blank, blanks_for, grain_ways
from nesting.leftovers import replayed
from nesting.parts import Part
from nesting.placing import lies_in
from nesting.plan import CutBoard, PanelPlan, Piece, Plan
from nesting.project import Project
from nesting.set_ups import FENCE, PLANER, STOP, Run, SetUp, cutting_set_ups

# Phases between and behind those of the plan's cuts: from 0, after planing from 100.
EVEN, PLANE, WIDTH = 40, 41, 60
THIN, GLUED, FACED, GLUED_WIDTH, LENGTH = 140, 141, 142, 150, 160
SHEETS = 200

Key = tuple[int, str, int, float]  # phase, way, setting, angle


@dataclass(frozen=True, kw_only=True, slots=True)
class _Made:
    """A piece, a panel or a laminate on its way to a finished part; sizes in grid steps.

    Attributes
    ----------
    length, width
        As it comes to the machines.
    along, across
        As it is trimmed, joinery and bevels included.
    """

    name: str
    part: Part
    blank: Blank
    length: int
    width: int
    along: int
    across: int


def set_ups_for(project: Project, plan: Plan) -> tuple[SetUp, ...]:
    """Return every set-up of a plan, in an order in which no piece is missing."""
    kerf = project.shop.kerf
    goods = cutting_set_ups(plan.sheets, kerf)
    found = [
        *cutting_set_ups(plan.boards, kerf),
        *_Mill(project, plan).set_ups(),
        *(replace(one, phase=SHEETS + one.phase) for one in goods),
    ]
    return tuple(sorted(found, key=lambda one: one.phase))


def finished_way(part: Part, length: int, width: int) -> tuple[int, int]:
    """Return the finished size along and across the grain that wood of a size is for."""
    ways = grain_ways(part)
    fitting = [way for way in ways if way[0] <= length and way[1] <= width]
    return fitting[0] if fitting else ways[0]


class _Mill:
    """Gathers what is planed and trimmed to the same size."""

    def __init__(self, project: Project, plan: Plan) -> None:
        self.plan, self.shop = plan, project.shop
        self.parts = {part.name: part for part in project.parts}
        self.blanks = {blank.part: blank for blank in blanks_for(project)}
        self.lengths: dict[str, int] = {}
        for cut in plan.boards:
            self.lengths |= _planed_lengths(cut, self.shop.kerf)
        self.runs: dict[Key, list[Run]] = defaultdict(list)

    def set_ups(self) -> Iterator[SetUp]:
        """Yield the set-ups, thick, wide and long ones first."""
        for cut in self.plan.boards:
            self._board(cut)
        for panel in self.plan.panels:
            self._panel(panel)
        for made in self._laminates():
            self._glued(made, FACED, made.part.thickness)
        keys = sorted(self.runs, key=lambda key: (key[0], key[3], -key[2]))
        for phase, way, setting, angle in keys:
            runs = tuple(self.runs[phase, way, setting, angle])
            yield SetUp(phase=phase, way=way, setting=setting, runs=runs, angle=angle)

    def _board(self, cut: CutBoard) -> None:
        """Note what is done to the pieces of a board before anything is glued.

        A strip that holds more than solid pieces is cut apart before any is ripped.
        """
        for strip in _strips(cut):
            roles = {piece.role for piece in strip}
            phase = EVEN if roles == {"stave"} else PLANE
            self._together(strip, (phase, THIN), PLANER, self._thickness)
            solid = [piece for piece in strip if piece.role == "solid"]
            if roles == {"solid"}:
                self._together(strip, (WIDTH, GLUED_WIDTH), FENCE, self._across)
            for piece in solid:
                if roles != {"solid"}:
                    key = (GLUED_WIDTH, FENCE, self._across(piece), 0.0)
                    self.runs[key].append(self._alone(piece))
                self._length(self._made(piece))

    def _together(
        self, strip: list[Piece], phases: tuple[int, int], way: str,
        size: Callable[[Piece], int],
    ) -> None:  # fmt: skip
        """Run a strip whole at the greatest size in it, and later what needs less."""
        most = max(map(size, strip))
        self.runs[phases[0], way, most, 0.0].append(self._run(strip))
        for piece in strip:
            if size(piece) < most:
                self.runs[phases[1], way, size(piece), 0.0].append(self._alone(piece))

    def _run(self, strip: list[Piece]) -> Run:
        """Return a strip as it runs over a machine, whole."""
        names = tuple(piece.name for piece in strip)
        length = max(self.lengths.get(piece.name, piece.length) for piece in strip)
        return Run(names=names, length=length, width=max(p.width for p in strip))

    def _alone(self, piece: Piece) -> Run:
        return Run(names=(piece.name,), length=piece.length, width=piece.width)

    def _thickness(self, piece: Piece) -> int:
        return self.blanks[piece.part].thickness

    def _across(self, piece: Piece) -> int:
        return self._made(piece).across

    def _panel(self, panel: PanelPlan) -> None:
        """Note what is done to a glued-up panel: if it is a layer, it is planed only."""
        part, blank = self.parts[panel.part], self.blanks[panel.part]
        name = f"{panel.part} {panel.copy}"
        name += f".{panel.layer}" if blank.layers > 1 else ""
        along, across = max(grain_ways(part), key=lambda way: way[0])
        made = _Made(
            name=name, part=part, blank=blank, length=panel.length, width=panel.net_width,
            along=along, across=across,
        )  # fmt: skip
        if blank.layers > 1:
            self._plane(made, GLUED, blank.thickness)
        else:
            self._glued(made, GLUED, part.thickness)

    def _glued(self, made: _Made, phase: int, thickness: int) -> None:
        self._plane(made, phase, thickness)
        run = Run(names=(made.name,), length=made.length, width=made.width)
        self.runs[GLUED_WIDTH, FENCE, made.across, 0.0].append(run)
        self._length(made)

    def _plane(self, made: _Made, phase: int, thickness: int) -> None:
        """Note a glued blank for the planer, if it goes through."""
        if made.width <= self.shop.planer_width:
            run = Run(names=(made.name,), length=made.length, width=made.width)
            self.runs[phase, PLANER, thickness, 0.0].append(run)

    def _length(self, made: _Made) -> None:
        run = Run(names=(made.name,), length=made.length, width=made.across)
        angle = abs(made.part.end_angle)
        self.runs[LENGTH, STOP, made.along, angle].append(run)

    def _made(self, piece: Piece) -> _Made:
        part = self.parts[piece.part]
        along, across = finished_way(part, piece.length, piece.width)
        return _Made(
            name=piece.name, part=part, blank=self.blanks[piece.part], along=along,
            across=across, length=piece.length, width=piece.width,
        )  # fmt: skip

    def _laminates(self) -> Iterator[_Made]:
        """Yield the parts that are glued face to face, once each."""
        seen = set()
        for cut in self.plan.boards:
            for piece in cut.pieces:
                if piece.role == "layer" and (piece.part, piece.copy) not in seen:
                    seen.add((piece.part, piece.copy))
                    yield replace(self._made(piece), name=f"{piece.part} {piece.copy}")
        for panel in self.plan.panels:
            blank = self.blanks[panel.part]
            if blank.layers > 1 and (panel.part, panel.copy) not in seen:
                seen.add((panel.part, panel.copy))
                part = self.parts[panel.part]
                along, across = max(grain_ways(part), key=lambda way: way[0])
                yield _Made(
                    name=f"{panel.part} {panel.copy}", part=part, blank=blank,
                    length=panel.length, width=panel.net_width, along=along, across=across,
                )  # fmt: skip


def _strips(cut: CutBoard) -> list[list[Piece]]:
    """Return the pieces of a board by the wood they are planed in: gangs, or alone."""
    ganged = {name: gang for gang in cut.gangs for name in gang}
    strips: dict[tuple[str, ...], list[Piece]] = defaultdict(list)
    for piece in cut.pieces:
        strips[ganged.get(piece.name, (piece.name,))].append(piece)
    return list(strips.values())


def _planed_lengths(cut: CutBoard, kerf: int) -> dict[str, int]:
    """Return the length of wood that each piece of a gang is planed in."""
    found: dict[str, int] = {}
    for one, wood, _ in replayed(cut, kerf):
        if one.after_planing and wood.planed is None:
            for piece in cut.pieces:
                if lies_in(piece, wood.box):
                    found[piece.name] = wood.length
    return found
