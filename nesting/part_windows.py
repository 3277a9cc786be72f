"""Parts from offcuts that come out of windows: the cut-outs of parts drawn with them.

What is sawn out of a window is waste otherwise, milled already to the thickness of its
part. The blank lies a saw cut inside of the window, along the grain as the whole part.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from nesting.parts import Part
from nesting.plan import Piece, Plan, Shortage, WindowPiece
from nesting.problem import Item, Problem
from nesting.project import Project
from stock.boards import Board

Size = tuple[int, int]
Points = NDArray[np.float64]

MOST_CROSSED = 2000  # places where edges of a window, each in line, meet
_NEAR = 0.1  # of a step: how well the middle of free room is found


@dataclass(slots=True)
class _Window:
    """A window of one copy of a part, and what is not taken of it yet."""

    part: Part
    copy: int
    board: Board
    piece: Piece
    free: BaseGeometry


def taken_from_windows(
    project: Project, problem: Problem, plan: Plan, wanted: Iterable[Shortage]
) -> tuple[WindowPiece, ...]:
    """Return pieces for wanted copies of parts from offcuts that a plan's windows hold.

    The largest part goes first, each into the smallest window that holds it. Windows of
    panels and laminates are left alone, as joints run through them.
    """
    copies: dict[str, list[int]] = defaultdict(list)
    for one in wanted:
        copies[one.part].append(one.copy)
    windows = sorted(
        _windows_in(project, plan), key=lambda one: (one.free.area, one.part.name, one.copy)
    )
    if not windows or not copies:
        return ()
    found: list[WindowPiece] = []
    sheets = {name for sheet in project.sheets for name in sheet.names}
    for item in sorted(problem.items, key=lambda item: (-item.area, item.index)):
        part = project.part(item.part)
        if item.is_panel or item.layers > 1 or part.species in sheets:
            continue
        for copy in copies[item.part]:
            piece = _piece_in(windows, problem, part, item, copy)
            if piece is None:
                break
            found.append(piece)
    return tuple(found)


def _windows_in(project: Project, plan: Plan) -> Iterator[_Window]:
    """Yield every window of every copy that is one piece of wood, the grain as drawn."""
    boards = {board.name: board for board in project.boards}
    parts = {part.name: part for part in project.parts}
    for cut in plan.boards:
        for piece in cut.pieces:
            part = parts[piece.part]
            if part.drawn is None or piece.role != "solid" or part.grain == "either":
                continue  # no wood of its own, or nobody says which way its grain runs
            for copy in piece.copies:
                for ring in part.drawn.windows:
                    yield _Window(part, copy, boards[cut.board], piece, Polygon(ring))


def _piece_in(
    windows: list[_Window], problem: Problem, part: Part, item: Item, copy: int
) -> WindowPiece | None:
    """Return a copy's piece in the first window that holds it; it is then taken there."""
    for window in windows:
        for size in item.sizes:
            is_short = size[0] < problem.shortest
            corner = None
            if _will_do(window, part, is_short=is_short):
                corner = corner_in(window.free, size, problem.kerf)
            if corner is None:
                continue
            window.free = window.free.difference(_box(corner, size))
            return WindowPiece(
                name=f"{part.name} {copy}", part=part.name, copy=copy,
                host=window.part.name, host_copy=window.copy,
                x=corner[0], y=corner[1], length=size[0], width=size[1],
            )  # fmt: skip
    return None


def _will_do(window: _Window, part: Part, *, is_short: bool) -> bool:
    """Whether the wood of a window serves a part.

    What is too short for the planer must be as thick as the part already. Where in its
    blank a part lies is not known to the step, so all of the blank has to serve.
    """
    thick = window.part.thickness
    if window.board.species != part.species or thick < part.thickness:
        return False
    if is_short and thick != part.thickness:
        return False
    piece = window.piece
    place = (piece.x, piece.y, piece.length, piece.width)
    marks = window.board.marks
    shown = {(mark.kind, mark.tag) for mark in marks if mark.holds(*place)}
    sawn = not part.sawing or window.board.sawing in part.sawing
    sawn = sawn or any(("sawing", tag) in shown for tag in part.sawing)
    figured = part.figure is None or part.figure in window.board.figure
    figured = figured or ("figure", part.figure) in shown
    is_clear = not any(mark.forbids(part.face) and mark.touches(*place) for mark in marks)
    return sawn and figured and is_clear


def corner_in(free: BaseGeometry, size: Size, kerf: int) -> Size | None:
    """Return where a rectangle lies in free wood, a kerf from all that bounds it.

    Of the places looked at the lowest is taken, of these the leftmost, so that the rest
    stays in one. Around its corners the kerf counts square, which asks for a little more
    than it must. A place is found wherever there is one with a step to spare all around.
    """
    length, width = size[0] + 2 * kerf, size[1] + 2 * kerf
    for body in sorted(_polygons(free), key=lambda one: one.area):
        low_x, low_y, high_x, high_y = body.bounds
        if high_x - low_x < length or high_y - low_y < width:
            continue
        spots = _spots(body, length, width)
        shapely.prepare(body)
        boxes = shapely.box(
            spots[:, 0], spots[:, 1], spots[:, 0] + length, spots[:, 1] + width
        )
        fitting = spots[shapely.covers(body, boxes)]
        if len(fitting):
            x, y = fitting[np.lexsort((fitting[:, 0], fitting[:, 1]))[0]]
            return int(x) + kerf, int(y) + kerf
    return None


def _polygons(free: BaseGeometry) -> Iterable[Polygon]:
    """Return the pieces of some area; a sliver below a step square holds nothing."""
    parts = shapely.get_parts(free)
    return (one for one in parts if isinstance(one, Polygon) and one.area >= 1)


def _spots(body: Polygon, length: int, width: int) -> Points:
    """Return grid points where a rectangle can't move on, and where it has most room.

    The low corner of a rectangle that crosses a stretch of the edge lies in the hull of
    that stretch less the rectangle's corners; what is outside of all hulls is free.
    """
    reach = np.array([(0, 0), (length, 0), (length, width), (0, width)])
    hulls: list[BaseGeometry] = []
    touched: list[Points] = []
    for ring in (body.exterior, *body.interiors):
        points = shapely.get_coordinates(ring)
        shifted = points[:, None, :] - reach[None, :, :]
        pairs = np.concatenate([shifted[:-1], shifted[1:]], axis=1)
        hulls += [shapely.MultiPoint(eight).convex_hull for eight in pairs]
        touched.append(shifted.reshape(-1, 2))
    free = body.difference(shapely.union_all(hulls))
    amid = [
        shapely.get_coordinates(shapely.maximum_inscribed_circle(one, _NEAR))[:1]
        for one in _polygons(free)
    ]
    corners = _crossed(np.concatenate(touched))
    about = np.floor(np.concatenate([shapely.get_coordinates(free), corners, *amid]))
    steps = np.array([(0, 0), (1, 0), (0, 1), (1, 1)])
    return np.unique((about[:, None, :] + steps).reshape(-1, 2), axis=0)


def _crossed(points: Points) -> Points:
    """Return points with each x at each y, if they are few; a snug fit is among them."""
    across, up = np.unique(points[:, 0]), np.unique(points[:, 1])
    if len(across) * len(up) > MOST_CROSSED:
        return points
    crossed: Points = np.stack(np.meshgrid(across, up), axis=-1).reshape(-1, 2)
    return crossed


def _box(corner: Size, size: Size) -> Polygon:
    x, y = corner
    return shapely.box(x, y, x + size[0], y + size[1])
