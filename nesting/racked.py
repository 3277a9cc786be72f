"""A project together with the shop's rack: what is free there counts as its own wood."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace
from fractions import Fraction

from nesting.plan import Plan
from nesting.project import Project
from stock.boards import Board, Mark, Thickness
from stock.errors import Fault, InputError
from stock.measures import BOARD_FEET_PER_M3, Unit, inch_in, steps_per_unit
from stock.rack_boards import RackBoard, stamp, with_marks_inside


def with_rack(
    project: Project, boards: Iterable[RackBoard], gone: Iterable[RackBoard] = ()
) -> Project:
    """Return a project whose wood is its own and what is free for it on the rack.

    Where both have an owned board of one name, whatever its case, the rack's record
    counts: it is the same board, and the rack keeps it up to date. An own board that the
    rack knows, by name and size, as one of the boards `gone`, is left out.

    Raises
    ------
    InputError
        If the project lists, at a yard, a board whose name lies on the rack.
    """
    unit = project.unit
    lying = {one.name.casefold(): one for one in boards}
    left = {one.name.casefold(): one for one in gone if one.name.casefold() not in lying}
    _refuse_offers(project, lying)
    free = [one for one in lying.values() if one.held in (None, project.name)]
    own = [
        board
        for board in project.boards
        if not board.is_owned
        or not (board.name.casefold() in lying or _is_gone(board, left, unit))
    ]
    species = _spellings(project)
    prices = not project.tariff.by_feet
    racked = [_as_own(one, unit, species, priced=prices) for one in free]
    return replace(
        project,
        boards=(*own, *racked),
        warnings=(*project.warnings, *_warnings(project, lying, left)),
        stamps={one.name: stamp(one) for one in free},
    )


def stamped(plan: Plan, stamps: Mapping[str, str]) -> Plan:
    """Return a plan whose boards of the rack say what they were when it was made."""
    boards = (replace(cut, stamp=stamps.get(cut.board, "")) for cut in plan.boards)
    return replace(plan, boards=tuple(boards))


def board_in_unit(one: RackBoard, unit: Unit) -> Board:
    """Return a board of the rack with its sizes on the grid of a unit, rounded down.

    Marks are rounded so that none gets better than it is; in the board's own unit
    nothing is rounded at all.
    """
    if one.unit is unit:
        return one.board
    board, steps = one.board, grid_ratio(one.unit, unit)
    size = inch_in(unit) / inch_in(one.unit)
    whole = replace(
        board,
        thickness=Thickness(board.thickness.nominal * size, one.thick),
        length=math.floor(board.length * steps),
        width=math.floor(board.width * steps),
        width2=math.floor(board.width2 * steps),
        price=None if board.price is None else price_in(board.price, one.unit, unit),
        marks=tuple(_mark_in(mark, steps) for mark in board.marks),
    )
    return with_marks_inside(whole)


def grid_ratio(unit: Unit, other: Unit) -> Fraction:
    """Return how many grid steps of another unit make one of this unit."""
    return Fraction(
        inch_in(other) * steps_per_unit(other), inch_in(unit) * steps_per_unit(unit)
    )


def price_in(price: Fraction, unit: Unit, other: Unit) -> Fraction:
    """Return a price as another unit states it: per board foot, or per cubic metre."""
    if unit is other:
        return price
    return price * BOARD_FEET_PER_M3 if other is Unit.MM else price / BOARD_FEET_PER_M3


def _mark_in(mark: Mark, steps: Fraction) -> Mark:
    """Return a mark on another grid: a defect grows by the rounding, a zone shrinks."""
    first, last = (math.floor, math.ceil) if mark.is_defect else (math.ceil, math.floor)
    return replace(
        mark,
        start=first(mark.start * steps),
        end=last(mark.end * steps),
        low=first(mark.low * steps),
        high=last(mark.high * steps),
    )


def _as_own(
    one: RackBoard, unit: Unit, species: Mapping[str, str], *, priced: bool
) -> Board:
    """Return a board of the rack as the project's own, its species in its spelling."""
    board = board_in_unit(one, unit)
    name = species.get(board.species.casefold(), board.species)
    return replace(board, species=name, price=board.price if priced else None)


def _spellings(project: Project) -> dict[str, str]:
    """Return how the project spells each species."""
    woods = [part.species for part in project.parts]
    woods += [board.species for board in project.boards]
    return {name.casefold(): name for name in reversed(woods)}


def _refuse_offers(project: Project, lying: Mapping[str, RackBoard]) -> None:
    """Refuse boards that lie at a yard and, by their names, on the rack too."""
    faults = [
        Fault(
            "Boards", None, "board",
            f"a board of this name lies on the rack, and the table lists it at"
            f" {board.where!r}: take its row out if it was bought, else rename one of both",
            board.name,
        )
        for board in project.boards
        if not board.is_owned and board.name.casefold() in lying
    ]  # fmt: skip
    if faults:
        raise InputError(faults)


def _is_gone(board: Board, left: Mapping[str, RackBoard], unit: Unit) -> bool:
    """Whether a board is one that the rack no longer has: same name, same size."""
    one = left.get(board.name.casefold())
    return one is not None and _sizes(board) == _sizes(board_in_unit(one, unit))


def _sizes(board: Board) -> tuple[int, int, int, Fraction]:
    return board.length, board.width, board.width2, board.thickness.nominal


def _warnings(
    project: Project, lying: Mapping[str, RackBoard], left: Mapping[str, RackBoard]
) -> Iterator[Fault]:
    """Yield what becomes of own boards that the rack knows."""
    for board in project.boards:
        one = lying.get(board.name.casefold())
        if not board.is_owned:
            continue
        if one is None:
            if _is_gone(board, left, project.unit):
                rule = "this board is no longer on the rack, so it is left out"
                yield _note(board, rule)
        elif one.held not in (None, project.name):
            rule = f"this board is reserved for {one.held}, so it is left out"
            yield _note(board, rule)
        elif stamp(replace(one, board=board_in_unit(one, project.unit))) != stamp(
            replace(one, board=with_marks_inside(board))
        ):
            rule = "the table Boards says otherwise of this board: the rack's record counts"
            yield _note(board, rule)


def _note(board: Board, rule: str) -> Fault:
    return Fault(f"the rack, board {board.name!r}", None, None, rule)
