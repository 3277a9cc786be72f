"""Whether a plan makes what the project asks for: copies, builds, staves and layers."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from nesting.parts import Part
from nesting.plan import COMPLETE, SHORT, PanelPlan, Piece
from nesting.verify_rules import Case, Violation
from nesting.verify_sizes import finished_ways


def check_parts(case: Case) -> Iterator[Violation]:
    """Yield what is wrong with what is made, and how it is built up."""
    yield from _names(case)
    yield from _strangers(case)
    yield from _copies(case)
    yield from _left_over(case)
    yield from _status(case)
    yield from _builds(case)
    yield from _staves(case)
    yield from _layers(case)


def _pieces(case: Case) -> list[Piece]:
    """Return all pieces, of boards and of sheets."""
    cuts = (*case.plan.boards, *case.plan.sheets)
    return [piece for cut in cuts for piece in cut.pieces]


def _names(case: Case) -> Iterator[Violation]:
    counts = Counter(piece.name for piece in _pieces(case))
    counts.update(one.name for one in case.plan.from_windows)
    for name, count in counts.items():
        if count > 1:
            yield Violation("names", f"piece {name!r}", f"{count} pieces have this name")


def _strangers(case: Case) -> Iterator[Violation]:
    claims = [
        *(
            (f"piece {piece.name!r}", piece.part, copy)
            for piece in _pieces(case)
            for copy in dict.fromkeys(piece.copies)
        ),
        *((f"piece {one.name!r}", one.part, one.copy) for one in case.plan.from_windows),
        *(("a panel", panel.part, panel.copy) for panel in case.plan.panels),
        *(("a shortage", short.part, short.copy) for short in case.plan.short),
        *(("what is not made", one.part, one.copy) for one in case.plan.not_made),
    ]
    for what, name, copy in claims:
        part = case.parts.get(name)
        if part is None:
            yield Violation("parts", what, f"the project has no part {name!r}")
        elif not 1 <= copy <= part.copies:
            text = f"is for copy {copy} of {name!r}, which has {part.copies}"
            yield Violation("parts", what, text)


def _copies(case: Case) -> Iterator[Violation]:
    units = case.units()
    short = Counter((short.part, short.copy) for short in case.plan.short)
    not_made = Counter((one.part, one.copy) for one in case.plan.not_made)
    for part in case.project.parts:
        for copy in range(1, part.copies + 1):
            made = units.get((part.name, copy), [])
            text = _count_fault(part, made, short[part.name, copy])
            text = text or _omission_fault(part, made, not_made[part.name, copy])
            if text:
                yield Violation("copies", f"part {part.name!r}, copy {copy}", text)


def _count_fault(part: Part, made: list[int], short: int) -> str | None:
    """Say what is wrong with the count of one copy; None if all is well."""
    if short > 1:
        return "is listed as short more than once"
    if short:
        return "is made and listed as short" if made else None
    if not made:
        return None if part.source == "offcut" else "is neither made nor listed as short"
    is_layered = part.build == "auto" and len(set(made)) == len(made)
    if part.build != "laminate" and len(made) > 1 and not is_layered:
        return f"is made {len(made)} times"
    return None


def _omission_fault(part: Part, made: list[int], listed: int) -> str | None:
    """Say what is wrong with listing a copy as not made; None if all is well."""
    if listed and part.source != "offcut":
        return "is listed as not made, and is no part from offcuts"
    if listed and made:
        return "is made and listed as not made"
    return "is listed as not made more than once" if listed > 1 else None


def _left_over(case: Case) -> Iterator[Violation]:
    for cut in (*case.plan.boards, *case.plan.sheets):
        parts = [case.parts[one.part] for one in cut.pieces if one.part in case.parts]
        if parts and all(part.source == "offcut" for part in parts):
            names = ", ".join(sorted({part.name for part in parts}))
            text = f"is cut for {names} alone, which must come from what is left over"
            yield Violation("left over", f"board {cut.board!r}", text)


def _status(case: Case) -> Iterator[Violation]:
    wanted = SHORT if case.plan.short else COMPLETE
    if case.plan.status != wanted:
        text = f"must be {wanted!r}, is {case.plan.status!r}"
        yield Violation("status", "status of the plan", text)


def _builds(case: Case) -> Iterator[Violation]:
    units = case.units()
    for piece in _pieces(case):
        part = case.parts.get(piece.part)
        layers = len(units.get((piece.part, piece.copy), []))
        text = build_fault(case, part, piece.role, layers) if part else None
        if text:
            yield Violation("build", f"piece {piece.name!r}", text)


def build_fault(case: Case, part: Part, role: str, layers: int) -> str | None:
    """Say why a copy of so many layers can't have pieces of this role; None if it can."""
    if case.is_of_sheets(part):
        return None if role == "solid" else f"is cut from sheet goods, so no {role}"
    roles = {
        "solid": ("solid",),
        "panel": ("stave",),
        "laminate": ("layer", "stave"),
    }.get(part.build, ("solid", "stave", *(("layer",) if layers > 1 else ())))
    if role not in roles:
        return f"is a {role}, but the build of {part.name!r} is {part.build!r}"
    widest = case.project.shop.widest_solid
    narrowest = min(across for _, across in finished_ways(part))
    if role != "stave" and part.build != "solid" and narrowest > widest:
        return (
            f"is one piece of wood {case.size(narrowest)} wide when finished, "
            f"more than {case.size(widest)}"
        )
    return None


def _staves(case: Case) -> Iterator[Violation]:
    sawn = {
        (piece.name, leaf): (cut.board, piece.width, piece.part, piece.copy, piece.layer)
        for cut in case.plan.boards
        for piece in cut.pieces
        if piece.role == "stave"
        for leaf in (range(1, piece.leaves + 1) if piece.leaves > 1 else (0,))
    }
    placed: Counter[tuple[str, int]] = Counter()
    for panel in case.plan.panels:
        for stave in panel.staves:
            key = (stave.piece, stave.leaf)
            placed[key] += 1
            glued = (stave.board, stave.width, panel.part, panel.copy, panel.layer)
            if sawn.get(key) != glued:
                text = f"the panel's stave {stave.name!r} is not sawn like this"
                yield Violation("staves", _panel_place(panel), text)
    for name, leaf in sawn:
        count = placed[name, leaf]
        if count != 1:
            what = f"leaf {leaf} lies" if leaf else "lies"
            text = f"{what} in {count} panels, must lie in one"
            yield Violation("staves", f"piece {name!r}", text)


def _panel_place(panel: PanelPlan) -> str:
    return f"panel {panel.part!r}, copy {panel.copy}"


def _layers(case: Case) -> Iterator[Violation]:
    for (name, copy), layers in case.units().items():
        part = case.parts.get(name)
        if part is None:
            continue
        counted = sorted(layers) == list(range(1, len(layers) + 1))
        if part.build == "laminate":
            sound = len(layers) >= 2 and counted
        elif part.build == "auto" and len(set(layers)) > 1:
            sound = counted
        else:
            sound = set(layers) == {1}
        if not sound:
            shown = ", ".join(map(str, sorted(layers)))
            text = f"layers {shown} are made"
            yield Violation("layers", f"part {name!r}, copy {copy}", text)
