"""Whether blanks, staves and panels are as large as the finished parts ask for."""

from __future__ import annotations

import math
from collections.abc import Iterator

from nesting.goods import Sheet
from nesting.parts import Part
from nesting.plan import PanelPlan, PanelStave, Piece, WindowPiece
from nesting.verify_rules import Case, Violation, piece_place

_NOISE = 1e-9  # of a grid step: what floating point may add to an exact size


def check_sizes(case: Case) -> Iterator[Violation]:
    """Yield the pieces and panels that are too small, and staves outside their limits."""
    for cut, _, piece, part in case.lumber():
        if piece.role == "stave":
            continue
        yield from too_small(case, piece_place(cut, piece), piece, part)
    lengths = {piece.name: piece.length for cut in case.plan.boards for piece in cut.pieces}
    for panel in case.plan.panels:
        if panel.part in case.parts:
            yield from _panel(case, panel, lengths)
    yield from _sheet_pieces(case)


def finished_ways(part: Part) -> tuple[tuple[int, int], ...]:
    """Return the finished sizes along and across the grain, each way it may run.

    Joinery counts as finished size. A taper counts by its wide end, an outline by the
    extents of its drawing where these are larger than the part is said to be.
    """
    along, across = _drawn_extents(part)
    long, wide = part.length, max(part.width, *(part.ends or (0,)))
    if part.grain == "width":
        wide, long = max(wide, along), max(long, across)
    else:
        long, wide = max(long, along), max(wide, across)
    long, wide = long + part.add_length, wide + part.add_width
    ways = {"length": ((long, wide),), "width": ((wide, long),)}
    return ways.get(part.grain, ((long, wide), (wide, long)))


def _drawn_extents(part: Part) -> tuple[int, int]:
    """Return how far the corners of a drawn part lie apart along and across the grain."""
    if part.drawn is None:
        return 0, 0
    xs, ys = zip(*part.drawn.rim, strict=True)
    return max(xs) - min(xs), max(ys) - min(ys)


def blank_ways(case: Case, part: Part, beside: int) -> tuple[tuple[int, int], ...]:
    """Return the least sizes of a blank that is `beside` wider than the finished part."""
    beyond = case.project.shop.crosscut_allowance + _bevel(part)
    return tuple((along + beyond, across + beside) for along, across in finished_ways(part))


def _bevel(part: Part) -> int:
    """Return what bevelled ends add to a length: thickness x tan(angle), rounded up."""
    run = part.thickness * math.tan(math.radians(abs(part.end_angle)))
    return math.ceil(run - _NOISE)


def too_small(
    case: Case, where: str, piece: Piece | WindowPiece, part: Part
) -> Iterator[Violation]:
    """Yield a violation if a piece is smaller than the blank of a solid part."""
    ways = blank_ways(case, part, case.project.shop.rip_allowance)
    yield from _too_small(case, where, piece, ways)


def _too_small(
    case: Case,
    where: str,
    piece: Piece | WindowPiece,
    ways: tuple[tuple[int, int], ...],
) -> Iterator[Violation]:
    """Yield a violation if a piece is smaller than a blank, whichever way it lies."""
    if any(piece.length >= long and piece.width >= wide for long, wide in ways):
        return
    long_enough = [wide for long, wide in ways if piece.length >= long]
    if long_enough:
        text = f"is {case.size(piece.width)} wide, must be {case.size(min(long_enough))}"
        yield Violation("width", where, text)
    else:
        least = min(long for long, _ in ways)
        text = f"is {case.size(piece.length)} long, must be {case.size(least)}"
        yield Violation("length", where, text)


def _panel(case: Case, panel: PanelPlan, lengths: dict[str, int]) -> Iterator[Violation]:
    where = f"panel {panel.part!r}, copy {panel.copy}"
    for stave in panel.staves:
        yield from _stave(case, where, stave, alone=len(panel.staves) == 1)
    added = sum(stave.net_width for stave in panel.staves)
    if added != panel.net_width or added < panel.need:
        text = f"net widths add up to {case.size(added)}"
        text += f", recorded {case.size(panel.net_width)}, needed {case.size(panel.need)}"
        yield Violation("net width", where, text)
    ways = blank_ways(case, case.parts[panel.part], case.project.shop.panel_allowance)
    wide_enough = [long for long, wide in ways if panel.need >= wide]
    if not wide_enough:
        least = min(wide for _, wide in ways)
        text = f"asks for {case.size(panel.need)}, the part for {case.size(least)}"
        yield Violation("net width", where, text)
        return
    least = max(panel.length, min(wide_enough))
    for stave in panel.staves:
        length = lengths.get(stave.piece, least)
        if length < least or panel.length < min(wide_enough):
            text = f"stave {stave.piece!r} is {case.size(length)} long"
            yield Violation("length", where, f"{text}, must be {case.size(least)}")


def _stave(
    case: Case, where: str, stave: PanelStave, *, alone: bool
) -> Iterator[Violation]:
    shop = case.project.shop
    joint = shop.joint_allowance
    if stave.net_width != stave.width - joint:
        text = f"stave {stave.piece!r} is {case.size(stave.width)} wide and "
        text += f"{case.size(stave.net_width)} net, jointing takes {case.size(joint)}"
        yield Violation("net width", where, text)
    low = 0 if alone else shop.down(shop.narrowest_stave + joint)
    high = shop.up((shop.widest_solid if alone else shop.widest_stave) + joint)
    if not low <= stave.width <= high:
        text = f"stave {stave.piece!r} is {case.size(stave.width)} wide, must be "
        text += f"{case.size(low)} to {case.size(high)}"
        yield Violation("stave width", where, text)


def _sheet_pieces(case: Case) -> Iterator[Violation]:
    for cut in case.plan.sheets:
        sheet = case.sheet_of(cut.board)
        for piece in cut.pieces:
            part = case.parts.get(piece.part)
            if sheet and part:
                ways = _sheet_ways(part, sheet)
                yield from _too_small(case, piece_place(cut, piece), piece, ways)


def _sheet_ways(part: Part, sheet: Sheet) -> tuple[tuple[int, int], ...]:
    """Return the sizes a part of sheet goods may have; without grain it may be turned."""
    ways = finished_ways(part)
    if not sheet.has_grain:
        ways = (*ways, *((across, along) for along, across in ways))
    return tuple((along + _bevel(part), across) for along, across in ways)
