"""The order in which each part is machined, so that the work stays safe and true.

Flat faces and straight edges come first, for the next machine needs them; joinery is cut
while edges are straight and square, slopes and curves come last. Common practice, no
source; the manual of each machine goes before it.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from nesting.blanks import Blank, blanks_for
from nesting.parts import Part
from nesting.plan import CutBoard, Plan
from nesting.project import Project
from stock.boards import Board

SOLID, PANEL, LAMINATE, LAMINATED_PANEL, SHEET = (
    "solid", "panel", "laminate", "laminate of panels", "sheet goods",
)  # fmt: skip

# Each step with how it is done; a later step never spoils what an earlier one needs.
STEPS: Mapping[str, str] = {
    "rough crosscut": "Mark out the whole board, then crosscut it into sections at the"
    " lines, in the order of the sheet Boards.",
    "face": "Flatten one face. Wider than the jointer: planer sled or hand plane.",
    "edge": "Joint one edge straight, and square to the flat face.",
    "rip": "Flat face down, straight edge to the fence, one fence setting after another;"
    " the fresh edge goes to the fence for the next strip.",
    "crosscut to blanks": "At a stop; gangs stay in one length.",
    "cut from the sheet": "In the order of the sheet Sheets, to finished size; no facing,"
    " no planing.",
    "plane": "Flat face down, to one thickness; staves a little over, for the panel's last"
    " pass. Gangs whole.",
    "joint edges": "Both edges of each stave, then set the panel up dry.",
    "glue up": "In the goes that Glue-ups lists; Clamping has the batches.",
    "plane the panel": "Scrape the glue off first; to thickness in one setting.",
    "flatten the panel": "Wider than the planer: glue and plane runs that fit, then flush"
    " the last joints by hand or on a drum sander.",
    "glue the faces": "Dress layers just before; glue face to face, clamps all over.",
    "plane the laminate": "Both faces, to thickness.",
    "finished width": "Joint one edge, rip the other at the fence. Gangs whole.",
    "cut the gang apart": "At a stop, longest first; too short for jointer and planer now.",
    "finished length": "Square one end, cut the other at a stop.",
    "bevel the ends": "Blade at the angle, both ends; the setting is the finished length:"
    " measure the test piece where the drawing does.",
    "joinery": "While edges are straight and square: mortises, tenons, grooves, holes.",
    "taper": "Last, on a carrier that holds it; keep the cut-off to clamp on.",
    "corners": "Last; a wedge of the angle keeps it flat and square to the blade.",
    "curve": "Last, band saw or template; leave the line and smooth to it.",
}

_SHAPES = {
    "taper": "taper", "octagon": "corners", "disc": "curve", "outline": "curve",
}  # fmt: skip


@dataclass(frozen=True, kw_only=True, slots=True)
class Work:
    """How the copies of a part are machined: what they are made as, and steps in order."""

    part: Part
    made_as: str
    copies: int
    steps: tuple[str, ...]


def works_for(project: Project, plan: Plan) -> tuple[Work, ...]:
    """Return how each part that the plan makes is machined, in the order of the parts."""
    bench = _Bench(project, plan)
    return tuple(bench.work(part) for part in project.parts if part.name in bench.copies)


class _Bench:
    """What a plan makes, and from which boards."""

    def __init__(self, project: Project, plan: Plan) -> None:
        self.project = project
        self.blanks = {blank.part: blank for blank in blanks_for(project)}
        self.boards: dict[str, list[CutBoard]] = defaultdict(list)
        self.copies: dict[str, set[int]] = defaultdict(set)
        self.ganged: set[str] = set()
        self.widest: dict[str, int] = defaultdict(int)
        for cut in (*plan.boards, *plan.sheets):
            names = {name for gang in cut.gangs for name in gang}
            for piece in cut.pieces:
                self.boards[piece.part].append(cut)
                self.copies[piece.part].add(piece.copy)
                if piece.name in names:
                    self.ganged.add(piece.part)
        for panel in plan.panels:
            self.widest[panel.part] = max(self.widest[panel.part], panel.net_width)

    def work(self, part: Part) -> Work:
        """Return how a part is machined."""
        blank = self.blanks[part.name]
        made_as = _made_as(blank)
        milled = ["cut from the sheet"] if made_as == SHEET else self._milled(part, blank)
        return Work(
            part=part, made_as=made_as, copies=len(self.copies[part.name]),
            steps=(*milled, *_ends(part, made_as), "joinery", *_shape(part)),
        )  # fmt: skip

    def _milled(self, part: Part, blank: Blank) -> Iterator[str]:
        """Yield the steps from the board to the finished thickness and width."""
        yield from self._blank(part)
        yield "plane"
        is_ganged, is_glued = part.name in self.ganged, _made_as(blank) != SOLID
        if is_ganged and is_glued:
            yield "cut the gang apart"
        if blank.is_panel:
            yield from ("joint edges", "glue up")
            is_wide = self.widest[part.name] > self.project.shop.planer_width
            yield "flatten the panel" if is_wide else "plane the panel"
        if blank.layers > 1:
            yield from ("glue the faces", "plane the laminate")
        yield "finished width"
        if is_ganged and not is_glued:
            yield "cut the gang apart"

    def _blank(self, part: Part) -> Iterator[str]:
        """Yield the steps to a rough blank; what came surfaced is flat and straight."""
        surfaced = {board.surfaced for board in self._lumber(part)}
        yield "rough crosscut"
        if "rough" in surfaced:
            yield "face"
        if surfaced & {"rough", "S2S"}:
            yield "edge"
        yield from ("rip", "crosscut to blanks")

    def _lumber(self, part: Part) -> Iterator[Board]:
        names = {cut.board for cut in self.boards[part.name]}
        return (board for board in self.project.boards if board.name in names)


def _made_as(blank: Blank) -> str:
    """Return what a part is made as."""
    if blank.is_sheet:
        return SHEET
    if blank.layers > 1:
        return LAMINATED_PANEL if blank.is_panel else LAMINATE
    return PANEL if blank.is_panel else SOLID


def _ends(part: Part, made_as: str) -> Iterator[str]:
    """Yield how the ends are cut; sheet goods come from the saw at their length."""
    if part.end_angle:
        yield "bevel the ends"
    elif made_as != SHEET:
        yield "finished length"


def _shape(part: Part) -> Iterator[str]:
    if part.shape in _SHAPES:
        yield _SHAPES[part.shape]
