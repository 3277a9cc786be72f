"""Parts that come from offcuts only: which of them a plan makes, and what it leaves out."""

from __future__ import annotations

from collections.abc import Mapping

from nesting.plan import Plan, WindowPiece
from nesting.project import Project


def made_from_offcuts(project: Project, plan: Plan) -> Mapping[tuple[str, int], str]:
    """Return the copies that a plan cuts from leftovers, with their places in words."""
    names = {part.name for part in project.parts if part.source == "offcut"}
    found: dict[tuple[str, int], list[str]] = {}
    for cut in (*plan.boards, *plan.sheets):
        for piece in cut.pieces:
            if piece.part in names:
                found.setdefault((piece.part, piece.copy), []).append(cut.board)
    for one in plan.from_windows:
        found.setdefault((one.part, one.copy), []).append(window_name(one))
    return {copy: ", ".join(dict.fromkeys(boards)) for copy, boards in found.items()}


def window_name(one: WindowPiece) -> str:
    """Return what a window is called: by the part and copy that it is in."""
    return f"window of {one.host} {one.host_copy}"


def not_from_offcuts(project: Project, plan: Plan) -> Mapping[tuple[str, str], int]:
    """Return how many copies are not made, by part and reason.

    A plan made elsewhere may leave copies out and say nothing about them.
    """
    made = made_from_offcuts(project, plan)
    short = {(one.part, one.copy) for one in plan.short}
    why = {(one.part, one.copy): one.why for one in plan.not_made}
    found: dict[tuple[str, str], int] = {}
    for part in project.parts:
        for copy in range(1, part.copies + 1):
            key = (part.name, copy)
            if part.source != "offcut" or key in made or key in short:
                continue
            reason = (part.name, why.get(key, "the plan does not say why"))
            found[reason] = found.get(reason, 0) + 1
    return found
