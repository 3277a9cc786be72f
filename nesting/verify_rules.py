"""What a plan must keep: the rules by name, and the breaking of one."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from nesting.goods import Sheet
from nesting.parts import Part
from nesting.plan import CutBoard, Piece, Plan
from nesting.project import Project
from stock.boards import Board
from stock.measures import format_measure

RULES: Mapping[str, str] = MappingProxyType(
    {
        # what is made
        "names": "every piece has a name of its own",
        "parts": "every piece, panel and shortage is of a copy of a part of the project",
        "copies": "every copy of every part, spares included, is made exactly once or "
        "listed as short; a part from offcuts, and no other, may be left out or listed as "
        "not made",
        "left over": "no board and no sheet is cut for parts from offcuts alone",
        "status": "a plan is complete exactly when nothing is listed as short",
        "build": "a part is made as its build says, and one piece of wood makes no part "
        "wider than `widest solid` unless its build is `solid`",
        "staves": "staves, or their leaves, and their places in panels correspond one to "
        "one, with the same board and width",
        "layers": "a laminate has its layers 1, 2, ... once each, two at least; a part "
        "whose build is `auto` may have them too, any other part has one",
        "resawn": "leaves come from pieces of no laminate and no sheet that are neither "
        "shorter than `shortest machined` nor wider than `resaw height`, and are for "
        "copies of their own; those of a stave lie in one panel",
        "nests": "copies that one piece holds are a saw cut apart by their outlines and "
        "within it, with crosscut and rip allowance to spare; none lies face down unless "
        "its face is `hidden`",
        "windows": "what comes out of a window is a solid part from offcuts, a saw cut "
        "within it and from its neighbours; the part around it is one piece of wood, as "
        "thick or, where the piece is long enough to be planed, thicker",
        # the wood
        "boards": "every board and sheet is the project's, is used at most once, and is "
        "recorded as the project has it",
        "species": "a piece comes from a board of its part's species, or from a sheet of "
        "that name or material",
        "thickness": "a board's dressed thickness, times the layers, is at least the "
        "finished thickness; for leaves it is at least theirs, with kerf and `resaw "
        "allowance` between them; a sheet is as thick as the part",
        "sawing": "board or zone shows a sawing that the part asks for",
        "figure": "board or zone shows the figure that the part asks for",
        "marks": "no piece touches a mark that its part's face forbids",
        "match": "staves of one copy come from one board, or one log, where its match asks",
        # how staves lie
        "leaves": "in a panel that asks for `book` or `slip`, boards that meet follow each "
        "other in the sawing order of one flitch, and leaves of one board that meet are "
        "neighbours; all staves have the same end first, and from one board or leaf to the "
        "next opposite sides up for `book`, the same for `slip`",
        "ring": "neighbours have bark and heart side up as the setting `ring` asks; where "
        "one is quartered or rift, or the plan names no side, either may be up",
        "edges": "outer staves are as wide as `edge stave`, and joints as far from a "
        "finished edge as `joint from edge`, if any order of the staves makes them so; "
        "book and slip matches keep their order",
        "sets": "the parts of a set, those from offcuts aside, come from one flitch, or "
        "differ by one step of tone, where the plan says so",
        # sizes
        "length": "a blank is as long as finished length, joinery, bevel and crosscut "
        "allowance together; on a sheet as long as the part, turned only without grain; "
        "an outline is as long as its drawing",
        "width": "a solid blank is as wide as finished width, joinery and rip allowance "
        "together; on a sheet as wide as the part; an outline is as wide as its drawing",
        "stave width": "a stave keeps within the stave limits plus joint allowance; alone "
        "it may be as wide as `widest solid`",
        "net width": "a stave's net width is its width less the joint allowance, and a "
        "panel's add up to what the panel asks for",
        # where pieces lie
        "inside": "a piece lies on its board, under the slanted edge of a tapered one",
        "end trim": "a piece keeps clear of the end trim, on a sheet of the trim at each "
        "edge",
        "overlap": "no two pieces share wood",
        "kerf": "neighbours are a kerf apart at least",
        # how the board comes apart
        "cuts": "cuts count 1, 2, ..., and each goes right through one piece of wood",
        "pieces": "the cuts free every piece, in its place and size",
        "waste": "what the cuts leave is listed among the offcuts",
        "offcuts": "an offcut is one piece of what the cuts leave, and shares no wood",
        "keep": "a kept offcut is large enough, sound and wholly on the board",
        "gangs": "a short piece stays in a length of wood that can be machined until it "
        "is planed, as does every gang, and no other wood waits for planing",
        # money and sums
        "cost": "a board costs what its yard asks, owned wood its share of the yard price",
        "pay": "what is paid for a board is price, charges and tax; nothing if owned",
        "feet": "a board's feet are its tally",
        "credit": "a kept offcut is credited its share of the price, rounded down",
        "sums": "boards, trips, top-ups, owned wood, sawing and credit are what the "
        "project's prices make them",
        "total cost": "the cost is boards, trips, top-ups, owned wood, sawing, less credit",
        "to pay": "to pay is what is paid for boards, trips and top-ups",
        "bound": "the bound is not above the cost, and the gap is their distance over it",
        "tally": "board feet, boards bought and yield are those of the boards in the plan",
    }
)


@dataclass(frozen=True, slots=True)
class Violation:
    """A rule that a plan breaks: which, where, and in what way."""

    rule: str
    where: str
    text: str

    def __str__(self) -> str:
        """Return one line for the maker."""
        return f"{self.where}: {self.text} (rule {self.rule!r})"


@dataclass(frozen=True, slots=True)
class Case:
    """A plan beside its project, with names looked up."""

    project: Project
    plan: Plan
    parts: Mapping[str, Part]
    boards: Mapping[str, Board]
    sheets: Mapping[str, Sheet]

    def lumber(self) -> list[tuple[CutBoard, Board, Piece, Part]]:
        """Return each piece with its board, as far as project and plan know them."""
        return [
            (cut, self.boards[cut.board], piece, self.parts[piece.part])
            for cut in self.plan.boards
            if cut.board in self.boards
            for piece in cut.pieces
            if piece.part in self.parts
        ]

    def units(self) -> dict[tuple[str, int], list[int]]:
        """Return for each copy the layers made for it: pieces, and whole panels."""
        found: dict[tuple[str, int], list[int]] = defaultdict(list)
        for cut in (*self.plan.boards, *self.plan.sheets):
            for piece in cut.pieces:
                for copy in piece.copies if piece.role != "stave" else ():
                    found[piece.part, copy].append(piece.layer)
        for one in self.plan.from_windows:
            found[one.part, one.copy].append(1)
        for panel in self.plan.panels:
            found[panel.part, panel.copy].append(panel.layer)
        return found

    def size(self, steps: int) -> str:
        """Return a size in words, exact to the grid."""
        unit = self.project.unit
        return f"{format_measure(steps, unit, 64)} {unit.value}"

    def is_of_sheets(self, part: Part) -> bool:
        """Return whether a part is cut from sheet goods."""
        return any(part.species in sheet.names for sheet in self.sheets.values())

    def sheet_of(self, name: str) -> Sheet | None:
        """Return the sheet goods that the sheet `<sheet> <n>` is one of, or None."""
        kind, _, number = name.rpartition(" ")
        sheet = self.sheets.get(kind)
        if sheet is None or not number.isascii() or not number.isdigit():
            return None
        return sheet if 1 <= int(number[:9]) <= sheet.qty else None


def case_for(project: Project, plan: Plan) -> Case:
    """Return the case of a plan and its project."""
    return Case(
        project=project,
        plan=plan,
        parts={part.name: part for part in project.parts},
        boards={board.name: board for board in project.boards},
        sheets={sheet.name: sheet for sheet in project.sheets},
    )


def piece_place(board: CutBoard, piece: Piece) -> str:
    """Return where a piece is, in words."""
    return f"board {board.board!r}, piece {piece.name!r}"
