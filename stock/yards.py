"""Places that sell wood, what they ask for it, and what a board costs a project."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from fractions import Fraction

from stock.boards import Board, Thickness, area_feet, board_feet
from stock.measures import BOARD_FEET_PER_M3, Unit
from stock.shop import Shop


@dataclass(frozen=True, kw_only=True, slots=True)
class Yard:
    """A place that sells wood; money in the project's currency, exact.

    Attributes
    ----------
    trip_cost
        What going there costs, once per project.
    smallest_order
        The yard bills at least this much (wood and charges, before tax) per order.
    surfacing_charge, straight_edge_charge
        Per board foot, for boards listed as surfaced and as straight-edged.
    tax
        Percent on everything bought there.
    """

    name: str
    trip_cost: Fraction = Fraction(0)
    smallest_order: Fraction = Fraction(0)
    surfacing_charge: Fraction = Fraction(0)
    straight_edge_charge: Fraction = Fraction(0)
    tax: Fraction = Fraction(0)
    note: str = ""


@dataclass(frozen=True, kw_only=True, slots=True)
class Price:
    """One line of a yard's price list; sizes in grid steps, None where not limited.

    Attributes
    ----------
    price
        Per board foot, per cubic metre in a metric project.
    available
        Board feet, in a metric project too: the amounts of charges and stock keep one
        measure, only the price follows the unit.
    """

    yard: str
    species: str
    thickness: Thickness
    grade: str | None = None
    sawing: str | None = None
    price: Fraction
    narrowest: int | None = None
    widest: int | None = None
    shortest: int | None = None
    longest: int | None = None
    surfaced: str = "rough"
    available: Fraction | None = None
    note: str = ""


_EDGES = {"rough": 0, "S2S": 0, "S3S": 1, "S4S": 2}


@dataclass(frozen=True, slots=True)
class Tariff:
    """What each board costs a project; everything in whole cents.

    Under the aim `board feet`, or where nothing has a price, every board foot counts as
    one unit of money and yards cost nothing.
    """

    shop: Shop
    yards: Mapping[str, Yard]
    prices: tuple[Price, ...]
    by_feet: bool
    _references: Mapping[tuple[str, Fraction], Fraction] = field(repr=False)

    def rate(self, board: Board) -> Fraction | None:
        """Return the price of a board foot of this board, before charges and tax.

        The board's own price comes first, then the best-matching line of its yard's
        price list; an owned board without a price of its own has the mean price of its
        species and thickness wherever it is sold. None if nobody names a price.
        """
        if board.price is not None:
            return self._per_foot(board.price)
        if board.is_owned:
            return self._references.get((board.species, board.thickness.nominal))
        lines = [line for line in self.prices if _fits(line, board)]
        if not lines:
            return None
        best = max(
            lines, key=lambda line: (line.grade is not None, line.sawing is not None)
        )
        return self._per_foot(best.price)

    def asked(self, board: Board) -> Fraction | None:
        """Return the rate as price lists state it: per m3 in a metric project."""
        rate = self.rate(board)
        if rate is None or self.shop.unit is Unit.INCH:
            return rate
        return rate * BOARD_FEET_PER_M3

    def before_tax(self, board: Board) -> Fraction:
        """Return wood and charges of a bought board, exact, before tax; 0 if owned."""
        if board.is_owned:
            return Fraction(0)
        yard = self.yards[board.where]
        feet = board_feet(board, self.shop.unit)
        charges = yard.straight_edge_charge * _EDGES[board.surfaced]
        if board.surfaced != "rough":
            charges += yard.surfacing_charge
        return feet * ((self.rate(board) or Fraction(0)) + charges)

    def pay(self, board: Board) -> int:
        """Return what is paid for a board in cents, charges and tax in; 0 if owned."""
        if board.is_owned:
            return 0
        tax = self.yards[board.where].tax
        return cents(self.before_tax(board) * (1 + tax / 100))

    def cost(self, board: Board) -> int:
        """Return what the objective charges for using a board, in cents."""
        if self.by_feet:
            return cents(board_feet(board, self.shop.unit))
        if board.is_owned:
            return cents(board_feet(board, self.shop.unit) * self.worth(board))
        return self.pay(board)

    def worth(self, board: Board) -> Fraction:
        """Return what the objective counts a board foot of this board, before tax."""
        if self.by_feet:
            return Fraction(1)
        rate = self.rate(board) or Fraction(0)
        return rate * Fraction(self.shop.rack_value) / 100 if board.is_owned else rate

    def credit_per_area(self, board: Board) -> Fraction:
        """Return the credit, in cents, of one square grid step of kept offcut."""
        share = Fraction(self.shop.offcut_value) / 100
        return area_feet(board, 1, self.shop.unit) * self.worth(board) * share * 100

    def credit(self, board: Board, area: int) -> int:
        """Return the credit for a kept offcut of `area` square steps, in cents."""
        return math.floor(self.credit_per_area(board) * area)

    def trip(self, yard: str) -> int:
        """Return what the objective charges for visiting a yard, in cents."""
        return 0 if self.by_feet else cents(self.yards[yard].trip_cost)

    def top_up(self, yard: str, boards: Iterable[Board]) -> int:
        """Return what a yard bills beyond its boards to reach its smallest order."""
        place = self.yards[yard]
        missing = place.smallest_order - sum(
            (self.before_tax(board) for board in boards), Fraction(0)
        )
        if self.by_feet or missing <= 0:
            return 0
        return cents(missing * (1 + place.tax / 100))

    def _per_foot(self, price: Fraction) -> Fraction:
        return price / BOARD_FEET_PER_M3 if self.shop.unit is Unit.MM else price


def tariff_for(
    shop: Shop,
    boards: Iterable[Board],
    yards: Iterable[Yard],
    prices: Iterable[Price],
    goods: Iterable[Fraction] = (),
) -> Tariff:
    """Return the tariff of a project; boards on offer and price lists set the market.

    `goods` are prices of sheet goods: in a project without boards they count as prices.
    """
    prices, boards = tuple(prices), tuple(boards)
    per_foot = BOARD_FEET_PER_M3 if shop.unit is Unit.MM else Fraction(1)
    asked: dict[tuple[str, Fraction], list[Fraction]] = {}
    has_price = bool(prices) or (not boards and any(goods))
    for board in boards:
        if board.price is not None:
            has_price = has_price or board.price > 0
            if not board.is_owned:
                key = (board.species, board.thickness.nominal)
                asked.setdefault(key, []).append(board.price / per_foot)
    for line in prices:
        key = (line.species, line.thickness.nominal)
        asked.setdefault(key, []).append(line.price / per_foot)
    references = {key: sum(found, Fraction(0)) / len(found) for key, found in asked.items()}
    return Tariff(
        shop=shop,
        yards={yard.name: yard for yard in yards},
        prices=prices,
        by_feet=shop.aim == "board feet" or not has_price,
        _references=references,
    )


def _fits(line: Price, board: Board) -> bool:
    """Whether a line of a price list prices this board."""
    return (
        line.yard == board.where
        and line.species == board.species
        and line.thickness == board.thickness
        and line.grade in (None, board.grade)
        and line.sawing in (None, board.sawing)
    )


def cents(money: Fraction) -> int:
    """Return exact money in whole cents, halves rounded up."""
    return math.floor(money * 100 + Fraction(1, 2))
