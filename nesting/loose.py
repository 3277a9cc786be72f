"""Strips of a finished plan that could be sawn wider or narrower, and what limits them.

A strip is loose if it holds staves only, and lies in a section that is ripped side by
side with no mark in its strips. Its panel stays as wide as it must be and gets no wider,
its staves keep their limits, outer staves theirs; kept offcuts lose nothing.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

from nesting.arranging import PAIRED
from nesting.blanks import Blank, blanks_for, grain_ways
from nesting.leftovers import Leftover, replayed
from nesting.plan import Cut, CutBoard, PanelPlan, Piece, Plan
from nesting.project import Project
from stock.boards import Board


@dataclass(frozen=True, kw_only=True, slots=True)
class Strip:
    """One strip of a section; sizes in grid steps.

    Attributes
    ----------
    low, high
        What its width may be; both are its width if it is not loose.
    pieces
        Names of the pieces that are as wide as it.
    is_ripped
        Whether the fence is set to its width; the last strip may be what is left.
    """

    y: int
    width: int
    low: int
    high: int
    pieces: tuple[str, ...]
    is_ripped: bool = True

    @property
    def is_loose(self) -> bool:
        """Whether its width may change."""
        return self.low < self.high


@dataclass(frozen=True, kw_only=True, slots=True)
class LooseSection:
    """A section whose strips lie side by side from its lower edge.

    Attributes
    ----------
    least, most
        What the widths of its strips may add up to.
    """

    board: str
    x: int
    length: int
    strips: tuple[Strip, ...]
    least: int
    most: int


Rips = list[tuple[Cut, Leftover, Leftover, Leftover]]  # cut, wood, wood before and behind
Limits = Mapping[str, tuple[int, int]]


def loose_sections(project: Project, plan: Plan) -> tuple[LooseSection, ...]:
    """Return the sections of a plan in which some strip is loose."""
    limits = stave_limits(project, plan)
    boards = {board.name: board for board in project.boards}
    return tuple(
        section
        for cut in plan.boards
        for section in _sections(project, cut, boards[cut.board], limits)
        if any(strip.is_loose for strip in section.strips)
    )


def stave_limits(project: Project, plan: Plan) -> dict[str, tuple[int, int]]:
    """Return what the rough width of each stave may be, by the name of its piece.

    A stave that is not in it stays as it is.
    """
    blanks = {blank.part: blank for blank in blanks_for(project)}
    found: dict[str, tuple[int, int]] = {}
    for panel in plan.panels:
        found.update(_panel_limits(project, panel, blanks[panel.part]))
    return found


def _panel_limits(
    project: Project, panel: PanelPlan, blank: Blank
) -> Iterator[tuple[str, tuple[int, int]]]:
    """Yield the limits of a panel's staves; leaves that match keep their widths."""
    part = next(part for part in project.parts if part.name == panel.part)
    joint = project.shop.joint_allowance
    if part.match in PAIRED:
        return
    if len(panel.staves) == 1:
        stave = panel.staves[0]
        yield stave.piece, (panel.need + joint, stave.width)
        return
    finished = max(grain_ways(part), key=lambda way: way[0])[1]
    off = -(-max(0, panel.net_width - finished) // 2)
    outer = max(project.shop.edge_stave, off + project.shop.joint_from_edge)
    ends = (panel.staves[0], panel.staves[-1])
    if min(stave.net_width for stave in ends) < outer:
        return  # no order of these staves keeps the edges: what they are they stay
    for stave in panel.staves:
        low = max(blank.stave_low, outer + joint) if stave in ends else blank.stave_low
        yield stave.piece, (min(low, stave.width), max(blank.stave_high, stave.width))


def _sections(
    project: Project, cut: CutBoard, board: Board, limits: Limits
) -> Iterator[LooseSection]:
    """Yield the sections of a board that are ripped from end to end, side by side."""
    kerf = project.shop.kerf
    for rips in _ripped(cut, kerf):
        whole = rips[0][1]
        top = rips[-1][3]
        woods = [before for _, _, before, _ in rips]
        pieces = [_pieces_in(cut, wood) for wood in woods]
        at_top = _pieces_in(cut, top) if min(top.length, top.width) > 0 else []
        if at_top:
            woods, pieces = [*woods, top], [*pieces, at_top]
        ceiling = _ceiling(board, whole, woods[-1].y + woods[-1].width)
        if ceiling is None or not all(pieces):
            continue
        strips = [
            _strip(project, cut, wood, some, limits)
            for wood, some in zip(woods, pieces, strict=True)
        ]
        if at_top:
            strips[-1] = replace(strips[-1], is_ripped=False)
        total = sum(strip.width for strip in strips)
        room = min(whole.width - 1, ceiling)  # the last cut is made, if only to trim
        most = room - kerf * (len(strips) - 1)
        if at_top or _keeps(cut, top):
            most = total
        yield LooseSection(
            board=cut.board, x=whole.x, length=whole.length, strips=tuple(strips),
            least=total if at_top else 0, most=max(most, total),
        )  # fmt: skip


def _ceiling(board: Board, whole: Leftover, top: int) -> int | None:
    """Return how far up the strips of a section may reach, `top` being how far they do.

    None if a mark lies in them; a zone that covers the whole section is no matter.
    """
    clear = min(board.width_at(whole.x), board.width_at(whole.x + whole.length))
    ceiling = clear
    for mark in board.marks:
        is_all = mark.holds(whole.x, 0, whole.length, clear) and not mark.is_defect
        if is_all or not mark.touches(*whole.box):
            continue
        if mark.low < top:
            return None
        ceiling = min(ceiling, mark.low)
    return ceiling


def _ripped(cut: CutBoard, kerf: int) -> Iterator[Rips]:
    """Yield the rips of each section: each made on what the one before it left."""
    rips: dict[Leftover, Rips] = {}  # by the wood that the last of them left
    ended: list[Rips] = []
    for one, wood, (before, behind) in replayed(cut, kerf):
        if one.kind != "rip" or one.after_planing:
            continue
        chain = rips.pop(wood, None)
        if chain is None:
            if wood.y or wood.width != max(cut.width, cut.width2):
                continue
            chain = []
            ended.append(chain)
        chain.append((one, wood, before, behind))
        rips[behind] = chain
    yield from ended


def _pieces_in(cut: CutBoard, wood: Leftover) -> list[Piece]:
    return [
        piece
        for piece in cut.pieces
        if wood.x <= piece.x < wood.x + wood.length
        and wood.y <= piece.y < wood.y + wood.width
    ]


def _strip(
    project: Project, cut: CutBoard, wood: Leftover, pieces: list[Piece], limits: Limits
) -> Strip:
    """Return a strip with what its width may be, in whole saw steps."""
    shop = project.shop
    as_is = (wood.width, wood.width)
    low = max(limits.get(piece.name, as_is)[0] for piece in pieces)
    high = min(limits.get(piece.name, as_is)[1] for piece in pieces)
    is_plain = all((p.y, p.width) == (wood.y, wood.width) for p in pieces)
    if not is_plain or shop.down(wood.width) != wood.width:
        low = high = wood.width
    elif _keeps(cut, wood):
        low = wood.width
    return Strip(
        y=wood.y, width=wood.width, low=min(wood.width, shop.up(low)),
        high=max(wood.width, shop.down(high)), pieces=tuple(p.name for p in pieces),
    )  # fmt: skip


def _keeps(cut: CutBoard, wood: Leftover) -> bool:
    """Whether an offcut that is kept lies in a piece of wood."""
    return any(
        offcut.keep
        and wood.x <= offcut.x < wood.x + wood.length
        and wood.y <= offcut.y < wood.y + wood.width
        for offcut in cut.offcuts
    )
