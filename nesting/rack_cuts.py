"""What a plan does to the rack: boards reserved, boards used up, offcuts that come back.

Everything is decided on the boards as the rack keeps them, in their own units; a plan in
the other unit is rounded so that no offcut is larger than what was cut.
"""

from __future__ import annotations

import math
from dataclasses import replace
from fractions import Fraction

from nesting.plan import Offcut, Plan
from nesting.project import Project
from nesting.rack_matches import Match, matches_of, place_faults
from nesting.racked import grid_ratio
from stock.boards import area_feet
from stock.errors import InputError
from stock.measures import Unit, format_measure
from stock.rack_boards import RackBoard, with_marks_inside
from stock.rack_entries import State, Step

Box = tuple[int, int, int, int]  # x, y, length, width


def reservation(state: State, plan: Plan) -> tuple[Step, ...]:
    """Return what reserves a plan's boards of the rack for its project, and no others.

    Raises
    ------
    InputError
        If one of them is gone, has changed or is another project's, or if the rack has
        none of them.
    """
    numbers = {match.number for match in matches_of(state, plan)}
    steps = []
    for number, one in state.boards.items():
        held = plan.project if number in numbers else _without(one, plan.project)
        if held != one.held:
            steps.append(Step(puts=((number, replace(one, held=held)),)))
    return tuple(steps)


def released(state: State, project: str) -> tuple[Step, ...]:
    """Return what gives back all that is reserved for a project."""
    return tuple(
        Step(puts=((number, replace(one, held=None)),))
        for number, one in state.boards.items()
        if one.held == project
    )


def cutting(
    state: State, plan: Plan, project: Project | None, day: str
) -> tuple[Step, ...]:
    """Return what happens to the rack when a plan's boards are cut.

    Its boards are used up, their kept offcuts come back; what else was reserved for its
    project is free again. With the `project`, boards that it bought and that never lay on
    the rack come in and are cut at once, on that `day`.

    Raises
    ------
    InputError
        As `reservation` does, or if the plan's pieces and offcuts do not lie on a board.
    """
    matches = matches_of(state, plan, project, day)
    faults = [fault for match in matches for fault in place_faults(match, plan)]
    if faults:
        raise InputError(faults)
    cut = {match.number for match in matches}
    taken = {one.name.casefold() for n, one in state.boards.items() if n not in cut}
    steps = [_cut(match, plan, taken) for match in matches]
    others = {n: one for n, one in state.boards.items() if n not in cut}
    return (*steps, *released(replace(state, boards=others), plan.project))


def not_on_rack(state: State, plan: Plan, *, bought: bool) -> tuple[str, ...]:
    """Return the boards of a plan, bought ones or the others, that the rack has not."""
    return tuple(
        cut.board
        for cut in plan.boards
        if cut.bought == bought and state.number(cut.board) is None
    )


def offcut_board(one: RackBoard, box: Box, name: str, project: str) -> RackBoard:
    """Return the board that an offcut of a board is.

    It keeps wood, figure, log, tone, moisture and the day its wood came in; marks are
    moved to its own butt end and lower edge, and cut to its size. Grade, photo, note and
    place were those of the whole board. `box` is where it lay there.
    """
    x, y, length, width = box
    along, across = (format_measure(at, one.unit, 64) for at in (x, y))
    moved = (
        replace(
            mark,
            start=max(0, mark.start - x), end=mark.end - x,
            low=max(0, mark.low - y), high=mark.high - y,
        )
        for mark in one.board.marks
        if mark.touches(x, y, length, width)
    )  # fmt: skip
    board = replace(
        one.board, name=name, length=length, width=width, width2=width,
        grade=None, photo=None, note="", place=None, marks=tuple(moved),
    )  # fmt: skip
    return replace(
        one,
        board=with_marks_inside(board),
        source=f"offcut of {one.name}, {along} {one.unit.value} along and {across} across,"
        f" cut for {project}",
        held=None,
    )


def _without(one: RackBoard, project: str) -> str | None:
    """Return who holds a board once a project lets go of it."""
    return None if one.held == project else one.held


def _cut(match: Match, plan: Plan, taken: set[str]) -> Step:
    """Return the step that uses up a board; names of its offcuts are added to `taken`."""
    one, unit = match.one, Unit(plan.unit)
    ratio = grid_ratio(unit, one.unit)
    offcuts = []
    for offcut in match.cut.offcuts:
        box = _box_on(offcut, ratio)
        if offcut.keep and min(box[2:]) > 0:
            name = _free_name(offcut.name or one.name, one.name, taken)
            offcuts.append((None, offcut_board(one, box, name, plan.project)))
    area = sum((piece.length * piece.width for piece in match.cut.pieces), 0)
    used = area_feet(one.board, area * ratio**2, one.unit)
    if match.number is None:
        return Step(puts=tuple(offcuts), used=used, came=one.feet)
    return Step(puts=((match.number, None), *offcuts), used=used)


def _box_on(offcut: Offcut, ratio: Fraction) -> Box:
    """Return where an offcut lies on its board's own grid, no larger than it is."""
    starts = math.ceil(offcut.x * ratio), math.ceil(offcut.y * ratio)
    ends = (
        math.floor((offcut.x + offcut.length) * ratio),
        math.floor((offcut.y + offcut.width) * ratio),
    )
    return (*starts, ends[0] - starts[0], ends[1] - starts[1])


def _free_name(name: str, board: str, taken: set[str]) -> str:
    """Return the name of an offcut, another one if it is taken."""
    number = 1
    while name.casefold() in taken:
        name = f"{board} offcut {number}"
        number += 1
    taken.add(name.casefold())
    return name
