"""What a plan does to the rack: boards reserved, boards used up, offcuts that come back.

Everything is decided on the boards as the rack keeps them, in their own units; a plan in
the other unit is rounded so that no offcut is larger than what was cut.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import combinations

from nesting.plan import CutBoard, Offcut, Piece, Plan
from nesting.project import Project
from nesting.racked import board_in_unit, grid_ratio
from stock.boards import RACK, Board, Mark, area_feet
from stock.errors import Fault, InputError
from stock.measures import Unit, format_measure
from stock.rack import State, Step
from stock.rack_boards import RackBoard, stamp, with_marks_inside

Box = tuple[int, int, int, int]  # x, y, length, width


@dataclass(frozen=True, slots=True)
class Match:
    """A board of a plan and what it is on the rack; number None if it comes just now."""

    number: int | None
    one: RackBoard
    cut: CutBoard


def reservation(state: State, plan: Plan) -> tuple[Step, ...]:
    """Return what reserves a plan's boards of the rack for its project, and no others.

    Raises
    ------
    InputError
        If one of them is gone, has changed or is another project's, or if the rack has
        none of them.
    """
    numbers = {match.number for match in _matches(state, plan)}
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
    matches = _matches(state, plan, project, day)
    faults = [fault for match in matches for fault in _place_faults(match, plan)]
    if faults:
        raise InputError(faults)
    cut = {match.number for match in matches}
    taken = {one.name.casefold() for n, one in state.boards.items() if n not in cut}
    steps = [_cut(match, plan, taken) for match in matches]
    others = {n: one for n, one in state.boards.items() if n not in cut}
    return (*steps, *released(replace(state, boards=others), plan.project))


def not_on_rack(state: State, plan: Plan) -> tuple[str, ...]:
    """Return the boards of a plan that the rack does not have."""
    names = (cut.board for cut in plan.boards)
    return tuple(name for name in names if state.number(name) is None)


def offcut_board(one: RackBoard, box: Box, name: str, project: str) -> RackBoard:
    """Return the board that an offcut of a board is.

    It keeps wood, figure, log, tone, moisture and the day its wood came in; marks are
    moved to its own butt end and lower edge, and cut to its size. Grade, photo, note and
    place were those of the whole board. `box` is where it lay there.
    """
    x, y, length, width = box
    at = format_measure(x, one.unit, 64)
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
        source=f"offcut of {one.name} at {at} {one.unit.value}, cut for {project}",
        held=None,
    )


def _without(one: RackBoard, project: str) -> str | None:
    """Return who holds a board once a project lets go of it."""
    return None if one.held == project else one.held


def _matches(
    state: State, plan: Plan, project: Project | None = None, day: str = ""
) -> tuple[Match, ...]:
    """Return the boards of a plan that lie on the rack, and those that come just now."""
    found, faults = [], []
    for name, uses in Counter(cut.board for cut in plan.boards).items():
        if uses > 1:
            rule = f"the plan cuts this board {uses} times"
            faults.append(Fault(f"board {name!r}", None, None, rule))
    for cut in plan.boards:
        number = state.number(cut.board)
        if number is not None:
            found.append(Match(number, state.boards[number], cut))
            faults += _changes(found[-1], plan)
        elif cut.stamp:
            faults.append(_fault(cut, "this board is no longer on the rack"))
        elif cut.bought and project is not None:
            match = _bought(cut, project, day)
            if match is None:
                faults.append(_fault(cut, "the project has no such board of this size"))
            else:
                found.append(match)
    if not (found or faults):
        rule = "none of the plan's boards lies on the rack"
        faults.append(Fault(plan.project, None, None, rule))
    if faults:
        raise InputError(faults)
    return tuple(found)


def _changes(match: Match, plan: Plan) -> Iterator[Fault]:
    """Yield why a board can't be cut by a plan."""
    one, cut, unit = match.one, match.cut, Unit(plan.unit)
    if one.held not in (None, plan.project):
        yield _fault(cut, f"this board is reserved for {one.held}")
    board = board_in_unit(one, unit)
    if not _is_of(board, cut):
        sizes = (board.length, board.width, board.width2)
        planned = (cut.length, cut.width, cut.width2)
        now, was = (_words(size, unit) for size in (sizes, planned))
        yield _fault(cut, f"this board is {now} now and was planned as {was}: plan again")
    elif cut.stamp and cut.stamp != stamp(one):
        rule = "marks, figure or kind of this board changed since the plan: plan again"
        yield _fault(cut, rule)


def _bought(cut: CutBoard, project: Project, day: str) -> Match | None:
    """Return a bought board as it comes onto the rack, None if the project has it not."""
    boards = {board.name: board for board in project.boards}
    board = boards.get(cut.board)
    if board is None or not _is_of(board, cut):
        return None
    source = f"bought at {board.where}"
    price = board.price if board.price is not None else project.tariff.asked(board)
    own = with_marks_inside(replace(board, where=RACK, price=price))
    one = RackBoard(board=own, unit=project.unit, since=day, source=source)
    return Match(None, one, cut)


def _is_of(board: Board, cut: CutBoard) -> bool:
    """Whether a board has the sizes planned; a far width like the first isn't stated."""
    same = (board.length, board.width) == (cut.length, cut.width)
    return same and cut.width2 in (board.width2, cut.width)


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


def _place_faults(match: Match, plan: Plan) -> Iterator[Fault]:
    """Yield what says that pieces and kept offcuts can't all come out of a board."""
    board, cut = board_in_unit(match.one, Unit(plan.unit)), match.cut
    kept = [offcut for offcut in cut.offcuts if offcut.keep]
    shapes: list[Piece | Offcut] = [*cut.pieces, *kept]
    for shape in shapes:
        if not _lies_on(shape, board):
            yield _fault(cut, f"the plan's {shape.name!r} does not lie on the board")
    for shape, other in combinations(shapes, 2):
        if _overlap(shape, other):
            rule = f"the plan's {shape.name!r} and {other.name!r} share wood"
            yield _fault(cut, rule)


def _lies_on(shape: Piece | Offcut, board: Board) -> bool:
    ends = (shape.x, shape.x + shape.length)
    slope = Fraction(board.width2 - board.width, board.length)
    return (
        min(shape.x, shape.y) >= 0
        and ends[1] <= board.length
        and shape.y + shape.width <= min(board.width + slope * x for x in ends)
    )


def _overlap(one: Piece | Offcut, other: Piece | Offcut) -> bool:
    mark = Mark(
        kind="knot", start=one.x, end=one.x + one.length, low=one.y, high=one.y + one.width
    )
    return mark.touches(other.x, other.y, other.length, other.width)


def _words(sizes: Iterable[int], unit: Unit) -> str:
    length, *widths = (format_measure(size, unit, 64) for size in sizes)
    return f"{length} x {' to '.join(dict.fromkeys(widths))} {unit.value}"


def _fault(cut: CutBoard, rule: str) -> Fault:
    return Fault(f"board {cut.board!r}", None, None, rule)
