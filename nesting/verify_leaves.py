"""Whether what is resawn can be, and its leaves go where the plan says."""

from __future__ import annotations

from collections.abc import Iterator

from nesting.parts import Part
from nesting.plan import Piece
from nesting.verify_rules import Case, Violation


def check_leaves(case: Case) -> Iterator[Violation]:
    """Yield pieces that are resawn and must not be, and leaves that are not accounted."""
    units = case.units()
    for cut in (*case.plan.boards, *case.plan.sheets):
        for piece in cut.pieces:
            where = f"board {cut.board!r}, piece {piece.name!r}"
            for text in _count_faults(piece):
                yield Violation("resawn", where, text)
            part = case.parts.get(piece.part)
            if part is None or piece.leaves <= 1:
                continue
            layers = max(len(units[part.name, copy]) for copy in piece.copies)
            for text in _faults(case, part, piece, layers):
                yield Violation("resawn", where, text)


def _count_faults(piece: Piece) -> Iterator[str]:
    """Say what is wrong with the number of leaves and the copies they are for."""
    if not 1 <= len(piece.copies) <= max(piece.leaves, len(piece.nest)):
        yield f"has {piece.leaves} leaves for {len(piece.copies)} copies"
    elif piece.role == "stave":
        if piece.copies != (piece.copy,) * piece.leaves:
            yield "is a stave, and not all of its leaves are for one panel"
    elif len(set(piece.copies)) < len(piece.copies):
        yield "has two leaves for one copy"


def _faults(case: Case, part: Part, piece: Piece, layers: int) -> Iterator[str]:
    """Say why a piece must not be resawn."""
    shop = case.project.shop
    if case.is_of_sheets(part) or part.source == "offcut":
        yield "is resawn, which neither sheet goods nor parts from offcuts are"
    if part.build == "laminate" or layers > 1:
        yield "is resawn, and its leaves would be glued up again in layers"
    if piece.length < shop.shortest_machined:
        text = f"is {case.size(piece.length)} long, too short to be resawn: "
        yield f"{text}{case.size(shop.shortest_machined)} is the least"
    if shop.resaw_height is not None and piece.width > shop.resaw_height:
        text = f"is {case.size(piece.width)} wide, too wide to be resawn: "
        yield f"{text}{case.size(shop.resaw_height)} is the most"
