"""Boards of a plan on the rack: which they are, and why they can't be cut any more."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import combinations

from nesting.plan import CutBoard, Offcut, Piece, Plan
from nesting.project import Project
from nesting.racked import board_in_unit
from stock.boards import RACK, Board, Mark
from stock.errors import Fault, InputError
from stock.measures import Unit, format_measure
from stock.rack_boards import RackBoard, stamp, with_marks_inside
from stock.rack_entries import State


@dataclass(frozen=True, slots=True)
class Match:
    """A board of a plan and what it is on the rack; number None if it comes just now."""

    number: int | None
    one: RackBoard
    cut: CutBoard


def matches_of(
    state: State, plan: Plan, project: Project | None = None, day: str = ""
) -> tuple[Match, ...]:
    """Return the boards of a plan that lie on the rack, and those that come just now.

    Those are the boards that its `project` bought, as they come onto the rack on a `day`.

    Raises
    ------
    InputError
        If a board has changed since it was planned, is another project's or is gone, or
        if the rack has none of them.
    """
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


def place_faults(match: Match, plan: Plan) -> Iterator[Fault]:
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
