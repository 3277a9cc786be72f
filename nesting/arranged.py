"""The panels of a finished plan arranged: nothing is cut otherwise, and nothing costs more.

Staves as long and as thick, of one species, may change places between panels that their
wood serves; within a panel they change places, are turned end for end and turned over.
"""

from __future__ import annotations

import time
from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType

from nesting.arrange import Arrangement, Effort, arrange
from nesting.arranging import PAIRED, POINT, Demand, Placed, Stave, Taste
from nesting.arranging_costs import panel_terms
from nesting.blanks import blanks_for, grain_ways
from nesting.parts import Part
from nesting.plan import CutBoard, PanelPlan, PanelStave, Piece, Plan, leaf_letter
from nesting.project import Project
from stock.boards import SOUND_MARKS, Board, dressed_thickness
from stock.measures import inch_in, steps_per_unit
from stock.shop import Shop

MOST_PANELS, MOST_STAVES = 10, 60  # arranged together
SECONDS = 2.0
EFFORT = Effort(rounds=40, idle=12, mixes=20_000, work=0.5)
Class = tuple[str | bool | int, ...]


@dataclass(frozen=True, slots=True)
class _Home:
    """A stave's piece, and the board that it is cut from."""

    piece: Piece
    board: Board


def with_panels_arranged(
    project: Project,
    plan: Plan,
    *,
    kept: Mapping[str, frozenset[str]] = MappingProxyType({}),
    source: str | None = None,
    seed: int = 1,
    is_steady: bool = False,
    should_stop: Callable[[], bool] = lambda: False,
) -> Plan:
    """Return the plan with the staves of its panels arranged.

    A set stays within the boards that it is `kept` to. With a `source` only panels of
    parts from there are arranged. With `is_steady` nothing depends
    on the clock; else it takes a few seconds at most.
    """
    if not plan.panels:
        return plan
    bench = _Bench(project, plan, kept)
    end = time.monotonic() + SECONDS
    done: dict[int, tuple[Placed, ...]] = {}
    costs: dict[int, Mapping[str, int]] = {}
    for group in bench.groups(source):
        left = 3600.0 if is_steady else max(0.0, end - time.monotonic())
        effort = replace(EFFORT, seed=seed, seconds=left)
        found = bench.arranged(group, effort, should_stop)
        for at, panel, terms in zip(group, found.panels, found.terms, strict=True):
            if panel and terms:
                done[at], costs[at] = panel, terms
    return _replanned(plan, done, costs)


def with_points_anew(project: Project, plan: Plan, panels: Iterable[int]) -> Plan | None:
    """Return the plan with what some panels count (by number) worked out again.

    None if one of them must not lie so any more.
    """
    bench, changed = _Bench(project, plan, {}), list(plan.panels)
    for at in panels:
        panel = changed[at]
        placed = [
            Placed(bench.stave(one, {panel.part}), one.turned, one.face)
            for one in panel.staves
        ]
        terms = panel_terms(bench.demand(panel), placed, bench.taste)
        if terms is None:
            return None
        changed[at] = replace(panel, match_cost=_points(terms))
    return replace(plan, panels=tuple(changed))


def _points(terms: Mapping[str, int]) -> tuple[tuple[str, int], ...]:
    return tuple((term, cost) for term, cost in terms.items() if cost)


def taste_of(shop: Shop) -> Taste:
    """Return what counts how much, as the shop's settings say."""
    return Taste(
        board=int(shop.board_weight * POINT),
        flitch=int(shop.flitch_weight * POINT),
        tone=int(shop.tone_weight * POINT),
        figure=int(shop.figure_weight * POINT),
        knots=int(shop.knot_weight * POINT),
        joint_from_edge=shop.joint_from_edge,
        edge_stave=shop.edge_stave,
        inch=max(1, int(inch_in(shop.unit) * steps_per_unit(shop.unit))),
    )


class _Bench:
    """A plan's panels and staves as the arranging wants them."""

    def __init__(
        self, project: Project, plan: Plan, kept: Mapping[str, frozenset[str]]
    ) -> None:
        self.project, self.plan, self.kept = project, plan, kept
        self.taste = taste_of(project.shop)
        self.parts = {part.name: part for part in project.parts}
        self.blanks = {blank.part: blank for blank in blanks_for(project)}
        self.layers = Counter((panel.part, panel.copy) for panel in plan.panels)
        boards = {board.name: board for board in project.boards}
        self.homes = {
            piece.name: _Home(piece, boards[cut.board])
            for cut in plan.boards
            for piece in cut.pieces
            if piece.role == "stave"
        }

    def groups(self, source: str | None) -> Iterator[list[int]]:
        """Yield panels (by number) that may share staves, a few of them at a time."""
        classes: dict[Class, list[int]] = defaultdict(list)
        for at, panel in enumerate(self.plan.panels):
            if source not in (None, self.parts[panel.part].source):
                continue
            classes[self._class(panel)].append(at)
        for members in classes.values():
            members.sort(key=self._together)
            group: list[int] = []
            staves = 0
            for at in members:
                count = len(self.plan.panels[at].staves)
                if group and (len(group) == MOST_PANELS or staves + count > MOST_STAVES):
                    yield group
                    group, staves = [], 0
                group.append(at)
                staves += count
            yield group

    def _class(self, panel: PanelPlan) -> Class:
        """Return what panels share that may exchange staves.

        All layers of a matched copy share one log, and all leaves of a stave lie in one
        panel, so such copies keep their staves.
        """
        part = self.parts[panel.part]
        layers = self.layers[panel.part, panel.copy]
        is_resawn = any(stave.leaf for stave in panel.staves)
        alone = is_resawn or (layers > 1 and part.match != "none")
        own = (panel.part, panel.copy, panel.layer) if alone else ()
        thick = -(-part.thickness // layers)
        return (part.species, part.source, panel.length, thick, *own)

    def _together(self, at: int) -> tuple[str, str, int, int]:
        panel = self.plan.panels[at]
        return self.parts[panel.part].set or "", panel.part, panel.copy, panel.layer

    def arranged(
        self, group: Sequence[int], effort: Effort, stop: Callable[[], bool]
    ) -> Arrangement:
        """Return the best arrangement found of a group of panels."""
        panels = [self.plan.panels[at] for at in group]
        demands = [self.demand(panel) for panel in panels]
        parts = {demand.part for demand in demands}
        staves: list[Stave] = []
        given: list[list[int]] = []
        for panel in panels:
            given.append([])
            for stave in panel.staves:
                given[-1].append(len(staves))
                staves.append(self.stave(stave, parts))
        return arrange(
            demands, staves, self.taste, given=given, effort=effort, should_stop=stop
        )

    def demand(self, panel: PanelPlan) -> Demand:
        """Return a panel as it is wanted."""
        part, blank = self.parts[panel.part], self.blanks[panel.part]
        shop = self.project.shop
        finished = max(grain_ways(part), key=lambda size: size[0])[1]
        return Demand(
            name=f"{panel.part} {panel.copy}.{panel.layer}", part=panel.part,
            need=panel.need, finished=finished,
            low=blank.stave_low, high=blank.stave_high, single=blank.single_high,
            sawing=part.sawing, figure=part.figure, face=part.face, ring=shop.ring,
            match=part.match, set=part.set,
        )  # fmt: skip

    def stave(self, stave: PanelStave, parts: set[str]) -> Stave:
        """Return a stave of the plan as it is sawn, and which of the parts it serves."""
        paired = any(self.parts[name].match in PAIRED for name in parts)
        home = self.homes[stave.piece]
        piece, board = home.piece, home.board
        order = board.order
        if paired and stave.leaf:  # what lies under a leaf is the next one of its log
            leaf, order = f" {leaf_letter(stave.leaf)}", stave.leaf
        else:
            leaf = ""
        near = [
            mark for mark in board.marks if mark.is_defect
            and mark.touches(piece.x, piece.y, piece.length, piece.width)
        ]  # fmt: skip
        return Stave(
            name=stave.name, board=f"{board.name}{leaf}", x=piece.x, y=piece.y,
            length=piece.length, width=piece.width, net=stave.net_width,
            log=board.log, order=order, sawing=board.sawing, tone=board.tone,
            figure=board.figure,
            is_blind=any(m.face == "one" and m.kind in SOUND_MARKS for m in near),
            serves=frozenset(name for name in parts if self._serves(home, name)),
            knots=tuple(self._knots(home)),
        )  # fmt: skip

    def _knots(self, home: _Home) -> Iterator[tuple[int, str]]:
        """Yield the marks that lie in a stave within an inch of its edges."""
        piece, near = home.piece, self.taste.inch
        for mark in home.board.marks:
            if not mark.is_defect or not mark.touches(
                piece.x, piece.y, piece.length, piece.width
            ):
                continue
            at = (max(mark.start, piece.x) + min(mark.end, piece.x + piece.length)) // 2
            if mark.low < piece.y + near:
                yield at - piece.x, "low"
            if mark.high > piece.y + piece.width - near:
                yield at - piece.x, "high"

    def _serves(self, home: _Home, name: str) -> bool:
        """Whether a stave's wood does for a part."""
        part, piece, board = self.parts[name], home.piece, home.board
        if piece.part == name:
            return True  # panels that may share staves have as many layers
        if board.name not in self.kept.get(part.set or "", (board.name,)):
            return False
        box = (piece.x, piece.y, piece.length, piece.width)
        dressed = dressed_thickness(board, self.project.shop)
        return (
            dressed >= self.blanks[name].thickness
            and not any(m.touches(*box) and m.forbids(part.face) for m in board.marks)
            and _shows(board, box, "sawing", part.sawing, board.sawing)
            and _shows(board, box, "figure", _wished(part), *board.figure)
        )


def _wished(part: Part) -> tuple[str, ...]:
    return (part.figure,) if part.figure else ()


def _shows(
    board: Board,
    box: tuple[int, int, int, int],
    kind: str,
    wanted: tuple[str, ...],
    *shown: str | None,
) -> bool:
    """Whether a board, or a zone that holds the piece, has one of the wanted properties."""
    if not wanted or not set(wanted).isdisjoint(shown):
        return True
    return any(m.kind == kind and m.tag in wanted and m.holds(*box) for m in board.marks)


def _replanned(
    plan: Plan,
    done: Mapping[int, tuple[Placed, ...]],
    costs: Mapping[int, Mapping[str, int]],
) -> Plan:
    """Return the plan with panels in their new order, and pieces named after it."""
    named: dict[str, Piece] = {}
    pieces = {p.name: p for cut in plan.boards for p in cut.pieces}
    panels = list(plan.panels)
    sawn = {stave.name: stave for panel in panels for stave in panel.staves}
    layered = {panel.part for panel in panels if panel.layer > 1}
    for at, placed in done.items():
        panel = panels[at]
        stem = f"{panel.part} {panel.copy}"
        stem += f".{panel.layer}" if panel.part in layered else ""
        staves = []
        numbers: dict[str, int] = {}  # all leaves of a piece share its name
        for one in placed:
            old = sawn[one.stave.name]
            number = numbers.setdefault(old.piece, len(numbers) + 1)
            name = f"{stem}.{number}"
            piece = pieces[old.piece]
            named[old.piece] = replace(
                piece, name=name, part=panel.part, copy=panel.copy, layer=panel.layer,
                others=(panel.copy,) * len(piece.others),
            )  # fmt: skip
            staves.append(
                replace(
                    old, piece=name, width=one.stave.width,
                    net_width=one.stave.net, turned=one.turned, face=one.face,
                )
            )  # fmt: skip
        panels[at] = replace(
            panel, staves=tuple(staves), net_width=sum(s.net_width for s in staves),
            match_cost=_points(costs[at]),
        )  # fmt: skip
    boards = tuple(_renamed(cut, named) for cut in plan.boards)
    return replace(plan, boards=boards, panels=tuple(panels))


def _renamed(cut: CutBoard, named: Mapping[str, Piece]) -> CutBoard:
    """Return a board's record with its staves named anew."""
    gangs = tuple(
        tuple(named[name].name if name in named else name for name in gang)
        for gang in cut.gangs
    )
    pieces = tuple(named.get(piece.name, piece) for piece in cut.pieces)
    return replace(cut, pieces=pieces, gangs=gangs)
