"""Whether staves lie in panels as the craft asks, and sets are what the plan says."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from itertools import pairwise

from nesting.parts import Part
from nesting.plan import ONE_FLITCH, ONE_STEP, PanelPlan, PanelStave, SetPlan
from nesting.verify_rules import Case, Violation
from nesting.verify_sizes import finished_ways
from stock.boards import Board

_PAIRED = ("book", "slip")
_STANDING = ("rift", "quarter")  # rings that stand: either side may be up


def check_panels(case: Case) -> Iterator[Violation]:
    """Yield what is wrong with the order and lie of staves, and with sets."""
    for panel in case.plan.panels:
        part = case.parts.get(panel.part)
        if part is None or not all(stave.board in case.boards for stave in panel.staves):
            continue
        where = f"panel {panel.part!r}, copy {panel.copy}"
        if part.match in _PAIRED:
            yield from _leaves(case, where, panel, part)
            continue
        yield from _rings(case, where, panel)
        yield from _edges(case, where, panel, part)
    yield from _sets(case)


def _leaves(case: Case, where: str, panel: PanelPlan, part: Part) -> Iterator[Violation]:
    """Yield joints of a book or slip match that are no neighbours, or lie otherwise."""
    for one, other in pairwise(panel.staves):
        text = _leaf_fault(case.boards[one.board], case.boards[other.board], one, other)
        same = one.face == other.face
        is_one = one.board == other.board and one.leaf == other.leaf
        wanted = is_one or part.match == "slip"
        if text is None and same != wanted:
            text = "have the same side up" if same else "have different sides up"
        if text:
            pair = f"staves {one.piece!r} and {other.piece!r}"
            yield Violation("leaves", where, f"{pair} {text}, its match is {part.match}")


def _leaf_fault(
    board: Board, next_board: Board, one: PanelStave, other: PanelStave
) -> str | None:
    if None in (one.face, other.face):
        return "don't say which side is up"
    if one.turned != other.turned:
        return "have different ends first"
    if board.name == next_board.name:
        apart = abs(one.leaf - other.leaf)
        is_near = one.leaf == other.leaf or (one.leaf and other.leaf and apart == 1)
        return None if is_near else "are no neighbours among the leaves of their board"
    orders = (board.order, next_board.order)
    if board.log != next_board.log or None in orders:
        return "come from boards that are no neighbours in one flitch"
    steps = abs((board.order or 0) - (next_board.order or 0))
    return None if steps == 1 else f"come from boards {steps} steps of sawing apart"


def _rings(case: Case, where: str, panel: PanelPlan) -> Iterator[Violation]:
    """Yield neighbours whose rings lie otherwise than the shop's setting asks."""
    ring = case.project.shop.ring
    for one, other in pairwise(panel.staves):
        sawings = {case.boards[stave.board].sawing for stave in (one, other)}
        if ring == "any" or None in (one.face, other.face) or sawings & set(_STANDING):
            continue
        if (one.face == other.face) != (ring == "same"):
            text = f"staves {one.piece!r} and {other.piece!r} have the {one.face} and "
            text += f"the {other.face} side up, the setting is {ring!r}"
            yield Violation("ring", where, text)


def _edges(case: Case, where: str, panel: PanelPlan, part: Part) -> Iterator[Violation]:
    """Yield outer staves too narrow, where another order of the same staves would do."""
    nets = [stave.net_width for stave in panel.staves]
    if len(nets) < 2:
        return
    shop = case.project.shop
    finished = max(finished_ways(part), key=lambda way: way[0])[1]
    cut_off = -(-max(0, sum(nets) - finished) // 2)
    outer, second = min(nets[0], nets[-1]), sorted(nets)[-2]
    if outer < shop.edge_stave <= second:
        text = f"an outer stave is {case.size(outer)} wide, must be "
        yield Violation("edges", where, text + case.size(shop.edge_stave))
    elif outer < cut_off + shop.joint_from_edge <= second:
        text = f"a joint is {case.size(max(0, outer - cut_off))} from the finished edge, "
        yield Violation("edges", where, f"{text}must be {case.size(shop.joint_from_edge)}")


def _sets(case: Case) -> Iterator[Violation]:
    """Yield sets of which the plan says more than their boards show."""
    boards: dict[str, dict[str, Board]] = defaultdict(dict)
    for _, board, _, part in case.lumber():
        if part.set and part.source == "stock":
            boards[part.set][board.name] = board
    seen: set[str] = set()
    for one in case.plan.sets:
        where = f"set {one.name!r}"
        known = any(part.set == one.name for part in case.project.parts)
        if not known or one.name in seen:
            text = "is named twice" if known else "the project has no such set"
            yield Violation("sets", where, text)
        else:
            yield from _likeness(where, one, list(boards[one.name].values()))
        seen.add(one.name)


def _likeness(where: str, one: SetPlan, boards: list[Board]) -> Iterator[Violation]:
    logs = sorted({board.log for board in boards})
    tones = [board.tone for board in boards]
    known = [tone for tone in tones if tone is not None]
    if one.likeness == ONE_FLITCH and (len(logs) > 1 or one.source not in logs):
        text = f"comes from {', '.join(logs) or 'nothing'}, recorded as {one.source!r}"
        yield Violation("sets", where, text)
    near = len(known) == len(tones) and max(known, default=0) - min(known, default=0) < 2
    if one.likeness == ONE_STEP and not near:
        shown = ", ".join(sorted({str(tone or "not known") for tone in tones}))
        yield Violation("sets", where, f"is of tones {shown}, more than one step")
