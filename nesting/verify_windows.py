"""Whether pieces that come out of windows of parts have room, and wood, there."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from itertools import combinations

from shapely import Polygon, box

from nesting.parts import Part
from nesting.plan import CutBoard, Piece, WindowPiece
from nesting.verify_parts import build_fault
from nesting.verify_rules import Case, Violation
from nesting.verify_sizes import too_small
from nesting.verify_wood import wood_faults

_NOISE = 1e-6  # of a grid step: what floating point may take from a distance


def check_windows(case: Case) -> Iterator[Violation]:
    """Yield pieces from windows that are too small, of other wood, or without room."""
    together: dict[tuple[str, int], list[WindowPiece]] = defaultdict(list)
    for one in case.plan.from_windows:
        together[one.host, one.host_copy].append(one)
        part, host = case.parts.get(one.part), case.parts.get(one.host)
        where = f"piece {one.name!r} from a window"
        if part is None:
            continue  # the rule `parts` says so
        found = _host_piece(case, one)
        if host is None or host.drawn is None or found is None or host.grain == "either":
            text = (
                f"{one.host!r}, copy {one.host_copy}, is no solid part drawn with windows"
            )
            yield Violation("windows", where, text)
            continue
        for text in (*_kind_faults(case, part, host, one), *_room_faults(case, host, one)):
            yield Violation("windows", where, text)
        yield from too_small(case, where, one, part)
        cut, piece = found
        if cut.board in case.boards:
            yield from wood_faults(case, where, case.boards[cut.board], piece, part)
    for pieces in together.values():
        yield from _neighbours(case, pieces)


def _host_piece(case: Case, one: WindowPiece) -> tuple[CutBoard, Piece] | None:
    """Return the piece of wood that becomes the part with the window, with its board."""
    for cut in case.plan.boards:
        for piece in cut.pieces:
            if piece.part == one.host and one.host_copy in piece.copies:
                return (cut, piece) if piece.role == "solid" else None
    return None


def _kind_faults(case: Case, part: Part, host: Part, one: WindowPiece) -> Iterator[str]:
    """Say why a part may not come out of a window of another one."""
    if part.source != "offcut":
        yield f"{part.name!r} is no part from offcuts"
    if case.is_of_sheets(part):
        yield f"{part.name!r} is of sheet goods"
    fault = build_fault(case, part, "solid", 1)
    if fault:
        yield fault
    have, need = case.size(host.thickness), case.size(part.thickness)
    if host.thickness < part.thickness:
        yield f"{host.name!r} is {have} thick, must be {need}"
    is_short = one.length < case.project.shop.shortest_machined
    if is_short and host.thickness > part.thickness:
        yield f"is too short to be planed from {have} to {need}"


def _room_faults(case: Case, host: Part, one: WindowPiece) -> Iterator[str]:
    """Say if a piece does not lie a saw cut inside of some window."""
    body = _body(one)
    windows = [Polygon(ring) for ring in host.drawn.windows] if host.drawn else []
    around = [window for window in windows if window.covers(body)]
    if not around:
        yield f"lies in no window of {host.name!r}"
    elif around[0].exterior.distance(body) < case.project.shop.kerf - _NOISE:
        yield "is less than a saw cut from the edge of its window"


def _neighbours(case: Case, pieces: list[WindowPiece]) -> Iterator[Violation]:
    """Yield pieces from the windows of one copy that are not a saw cut apart."""
    for first, other in combinations(pieces, 2):
        if _body(first).distance(_body(other)) < case.project.shop.kerf - _NOISE:
            text = f"is not a saw cut from {other.name!r}"
            yield Violation("windows", f"piece {first.name!r} from a window", text)


def _body(one: WindowPiece) -> Polygon:
    return box(one.x, one.y, one.x + one.length, one.y + one.width)
