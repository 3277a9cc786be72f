"""How the thickness of parts comes about in a plan, in words: resawn, in layers, planed."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator

from nesting.parts import Part
from nesting.plan import Piece, Plan, leaf_letter
from nesting.project import Project
from reports.plaintext import counted


def resaw_words(piece: Piece) -> str:
    """Return what a piece is resawn into, leaf by leaf from the bark side; or nothing."""
    if piece.leaves <= 1:
        return ""
    if piece.role == "stave":
        names = [f"{piece.name}{leaf_letter(n)}" for n in range(1, piece.leaves + 1)]
    else:
        names = [f"{piece.part} {copy}" for copy in piece.copies]
    spare = piece.leaves - len(names)
    rest = f", {spare} to spare" if spare else ""
    return f"resaw into {piece.leaves} leaves: {', '.join(names)}{rest}"


def thickness_lines(project: Project, plan: Plan) -> Iterator[str]:
    """Yield a line for each part that is resawn, or in layers though it need not be."""
    for part in project.parts:
        ways = _ways(project, plan, part)
        if any(leaves > 1 or _is_chosen(part, layers) for leaves, layers, _ in ways):
            words = "; ".join(
                _way_words(way, copies) for way, copies in sorted(ways.items())
            )
            yield f"{part.name}: {words}"


def _is_chosen(part: Part, layers: int) -> bool:
    return layers > 1 and part.build != "laminate"


def _ways(
    project: Project, plan: Plan, part: Part
) -> Counter[tuple[int, int, tuple[str, ...]]]:
    """Return how many copies are made with so many leaves, layers, from such wood."""
    boards = {board.name: board for board in project.boards}
    woods: dict[int, set[str]] = defaultdict(set)
    leaves: dict[int, int] = {}
    layers: dict[int, int] = {}
    for cut in plan.boards:
        for piece in cut.pieces:
            for copy in piece.copies if piece.part == part.name else ():
                if cut.board in boards:
                    woods[copy].add(boards[cut.board].thickness.label)
                leaves[copy] = max(piece.leaves, leaves.get(copy, 1))
                layers[copy] = max(piece.layer, layers.get(copy, 1))
    return Counter(
        (leaves[copy], layers[copy], tuple(sorted(woods[copy]))) for copy in leaves
    )


def _way_words(way: tuple[int, int, tuple[str, ...]], copies: int) -> str:
    leaves, layers, woods = way
    wood = " and ".join(woods)
    if leaves > 1:
        return f"{copies} resawn from {wood}, {counted(leaves, 'leaf', 'leaves')} a piece"
    if layers > 1:
        return f"{copies} glued up from {counted(layers, 'layer')} of {wood}"
    return f"{copies} planed from {wood}"
