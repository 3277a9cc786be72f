"""What was really taken at the yards, and the project as it then stands."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from fractions import Fraction

from nesting.plan import Plan
from nesting.project import Project
from stock.boards import RACK, Board
from stock.errors import Fault
from stock.yards import Tariff, Yard


@dataclass(frozen=True, slots=True)
class Note:
    """What a row about a found board says beside sizes: its `place`, and its `marks`.

    Both as words: whose place it takes, else its species; and marks as they were jotted.
    """

    place: str
    marks: str


@dataclass(frozen=True, kw_only=True, slots=True)
class Taken:
    """What lies in the cart, by a tally sheet that was filled in at the yards.

    Attributes
    ----------
    boards
        As measured there, each with the yard that it comes from.
    sheets
        How many sheets were taken of each kind of sheet goods, by its name.
    corrected, found
        Names of the boards that are not as they were listed, and of those that were
        written in.
    notes
        Per board that was written in, what its row says beside its sizes.
    prices
        Of one sheet, by kind, where it is not as listed.
    yards, terms
        Yards whose terms are not as listed, and in words what is otherwise.
    warnings
        What looked odd on the tally sheet.
    """

    boards: tuple[Board, ...] = ()
    sheets: Mapping[str, int] = field(default_factory=dict)
    corrected: tuple[str, ...] = ()
    found: tuple[str, ...] = ()
    notes: Mapping[str, Note] = field(default_factory=dict)
    prices: Mapping[str, Fraction] = field(default_factory=dict)
    yards: tuple[Yard, ...] = ()
    terms: tuple[str, ...] = ()
    warnings: tuple[Fault, ...] = ()


def with_taken(project: Project, taken: Taken) -> Project:
    """Return the project whose wood is its rack and what was taken, and nothing else.

    Price lists stay, and yards and their terms but for those changed on the sheet. Owned
    wood goes on counting what it counted among all boards on offer: it is worth no less
    because others were left at the yard.
    """
    tariff = project.tariff
    rack = (_still_worth(board, tariff) for board in project.boards if board.is_owned)
    sheets = (
        sheet
        if sheet.where == RACK
        else replace(
            sheet,
            qty=taken.sheets.get(sheet.name, 0),
            price=taken.prices.get(sheet.name, sheet.price),
        )
        for sheet in project.sheets
    )
    changed = {yard.name: yard for yard in taken.yards}
    return replace(
        project,
        boards=(*rack, *taken.boards),
        sheets=tuple(sheets),
        yards=tuple(changed.get(yard.name, yard) for yard in project.yards),
        warnings=(*project.warnings, *taken.warnings),
    )


def put_back(taken: Taken, plan: Plan) -> tuple[tuple[str, ...], Mapping[str, int]]:
    """Return what was taken and the plan doesn't cut: boards by name, sheets by kind."""
    cut = {board.board for board in plan.boards}
    used = Counter(sheet.board.rpartition(" ")[0] for sheet in plan.sheets)
    boards = tuple(board.name for board in taken.boards if board.name not in cut)
    return boards, {
        kind: count - used[kind]
        for kind, count in taken.sheets.items()
        if count > used[kind]
    }


def _still_worth(board: Board, tariff: Tariff) -> Board:
    """Return an owned board with its worth as its own price, where it had none."""
    asked = tariff.asked(board)
    if board.price is not None or asked is None:
        return board
    return replace(board, price=asked)
