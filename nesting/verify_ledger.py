"""What the boards and sheets of a plan cost, computed again from the project.

From boards, yards, price lists and shop settings alone; money is exact until it is
rounded to cents.
"""

from __future__ import annotations

import math
from fractions import Fraction

from nesting.goods import Sheet
from nesting.plan import CutBoard
from nesting.project import Project
from nesting.verify_rules import Case
from stock.boards import RACK, Board, area_feet, board_feet
from stock.measures import BOARD_FEET_PER_M3, Unit
from stock.yards import Yard

_SURFACED_EDGES = {"S3S": 1, "S4S": 2}


class Ledger:
    """What the boards and sheets of a plan cost, in cents.

    Under the aim `board feet`, or where no board and no price list names a price (in a
    project without boards: no sheet and no price list), the
    cost of a board is its board feet and yards and sawing cost nothing; what is paid
    stays money.
    """

    def __init__(self, case: Case) -> None:
        project = case.project
        self.project = project
        self.shop = project.shop
        self.yards = {yard.name: yard for yard in project.yards}
        priced = any(board.price for board in project.boards)
        if not project.boards:
            priced = any(sheet.price for sheet in project.sheets)
        self.by_feet = self.shop.aim == "board feet" or not (priced or project.prices)
        plan = case.plan
        self.boards = [
            (cut, case.boards[cut.board]) for cut in plan.boards if cut.board in case.boards
        ]
        sheets = [(cut, case.sheet_of(cut.board)) for cut in plan.sheets]
        self.sheets = [(cut, sheet) for cut, sheet in sheets if sheet is not None]
        self.used: list[tuple[CutBoard, Board | Sheet]] = [*self.boards, *self.sheets]
        self.visited = sorted({stuff.where for _, stuff in self.used} - {RACK})

    def yard(self, name: str) -> Yard:
        """Return a yard; one that the project does not list asks nothing of its own."""
        return self.yards.get(name, Yard(name=name))

    def feet(self, board: Board) -> Fraction:
        """Return the board feet of a board, exact."""
        return board_feet(board, self.project.unit)

    def before_tax(self, stuff: Board | Sheet) -> Fraction:
        """Return price and charges of what is bought; 0 if owned."""
        if stuff.where == RACK:
            return Fraction(0)
        if isinstance(stuff, Sheet):
            return stuff.price
        yard = self.yard(stuff.where)
        asked = asked_per_foot(self.project, stuff)
        asked += yard.straight_edge_charge * _SURFACED_EDGES.get(stuff.surfaced, 0)
        if stuff.surfaced != "rough":
            asked += yard.surfacing_charge
        return self.feet(stuff) * asked

    def pay(self, stuff: Board | Sheet) -> int:
        """Return what leaves the purse for it; 0 if owned."""
        if stuff.where == RACK:
            return 0
        return _cents(self.before_tax(stuff) * (1 + self.yard(stuff.where).tax / 100))

    def worth(self, board: Board) -> Fraction:
        """Return what a board foot counts, before charges and tax."""
        if self.by_feet:
            return Fraction(1)
        asked = asked_per_foot(self.project, board)
        return asked * self.shop.rack_value / 100 if board.is_owned else asked

    def cost(self, stuff: Board | Sheet) -> int:
        """Return what the objective charges for it."""
        if isinstance(stuff, Sheet):
            owned = stuff.price * self.shop.rack_value / 100
            return _cents(owned) if stuff.where == RACK else self.pay(stuff)
        if self.by_feet or stuff.is_owned:
            return _cents(self.feet(stuff) * self.worth(stuff))
        return self.pay(stuff)

    def credit(self, board: Board, area: int) -> int:
        """Return what a kept offcut of `area` square steps is worth, rounded down."""
        feet = area_feet(board, area, self.project.unit)
        return math.floor(feet * self.worth(board) * self.shop.offcut_value)

    def trips(self) -> int:
        """Return what going to the yards costs."""
        return sum(_cents(self.yard(yard).trip_cost) for yard in self.visited)

    def top_ups(self) -> int:
        """Return what yards bill beyond their goods to reach their smallest orders."""
        total = 0
        for name in self.visited:
            yard = self.yard(name)
            goods = [self.before_tax(one) for _, one in self.used if one.where == name]
            missing = max(Fraction(0), yard.smallest_order - sum(goods))
            total += _cents(missing * (1 + yard.tax / 100))
        return total

    def sawing(self) -> int:
        """Return what the cuts cost in time, those that resaw in it, rounded up."""
        if self.by_feet:
            return 0
        cuts = sum(
            len(cut.cuts) + sum(piece.leaves - 1 for piece in cut.pieces)
            for cut, _ in self.used
        )
        return math.ceil(cuts * self.shop.cut_time * self.shop.shop_rate / 3600 * 100)

    def credits(self) -> int:
        """Return what all kept offcuts are worth."""
        return sum(
            self.credit(board, offcut.length * offcut.width)
            for cut, board in self.boards
            for offcut in cut.offcuts
            if offcut.keep
        )

    def sums(self) -> dict[str, int]:
        """Return the parts of the cost by their names in the totals."""
        bought: dict[bool, int] = {True: 0, False: 0}
        for _, stuff in self.used:
            bought[stuff.where != RACK] += self.cost(stuff)
        return {
            "boards": bought[True],
            "trips": 0 if self.by_feet else self.trips(),
            "top_ups": 0 if self.by_feet else self.top_ups(),
            "owned_wood": bought[False],
            "sawing": self.sawing(),
            "credit": self.credits(),
        }


def asked_per_foot(project: Project, board: Board) -> Fraction:
    """Return the price of a board foot: its own, its yard's list, or the mean of all.

    Of the lines that fit, those that name a grade go first, then those that name a
    sawing. An owned board counts the mean of its species and thickness, on all offers
    and lists.
    """
    share = BOARD_FEET_PER_M3 if project.unit is Unit.MM else Fraction(1)
    if board.price is not None:
        return board.price / share
    if board.is_owned:
        asked = _asked_elsewhere(project, board)
        return sum(asked, Fraction(0)) / len(asked) / share if asked else Fraction(0)
    lines = [
        line
        for line in project.prices
        if (line.yard, line.species, line.thickness)
        == (board.where, board.species, board.thickness)
        and line.grade in (None, board.grade)
        and line.sawing in (None, board.sawing)
    ]
    lines.sort(key=lambda line: (line.grade is None, line.sawing is None))
    return lines[0].price / share if lines else Fraction(0)


def _asked_elsewhere(project: Project, board: Board) -> list[Fraction]:
    """Return every price that is asked for wood of this species and thickness."""
    kind = (board.species, board.thickness)
    offers = [one for one in project.boards if not one.is_owned and one.price is not None]
    return [
        *(
            one.price or Fraction(0)
            for one in offers
            if (one.species, one.thickness) == kind
        ),
        *(line.price for line in project.prices if (line.species, line.thickness) == kind),
    ]


def _cents(money: Fraction) -> int:
    """Round money to whole cents, halves up."""
    return math.floor(money * 100 + Fraction(1, 2))
