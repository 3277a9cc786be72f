"""Everything a project file says, read, checked across tables, and frozen."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from nesting.parts import Part
from stock.boards import Board
from stock.errors import Fault
from stock.measures import Unit
from stock.shop import Shop
from stock.yards import Price, Tariff, Yard, tariff_for


@dataclass(frozen=True, kw_only=True, slots=True)
class Sheet:
    """A kind of sheet goods; sizes in grid steps, price each in exact money."""

    name: str
    where: str = "rack"
    length: int
    width: int
    thickness: int
    has_grain: bool
    qty: int
    price: Fraction


@dataclass(frozen=True, kw_only=True, slots=True)
class Supply:
    """Something else the project buys; `qty` None means `auto`, computed from areas."""

    item: str
    qty: Fraction | None
    unit: str
    pack: Fraction
    price: Fraction
    note: str = ""


@dataclass(frozen=True, kw_only=True, slots=True)
class Project:
    """A project: what is to be made, and the wood, places and habits to make it with."""

    name: str
    shop: Shop
    parts: tuple[Part, ...]
    boards: tuple[Board, ...] = ()
    yards: tuple[Yard, ...] = ()
    prices: tuple[Price, ...] = ()
    sheets: tuple[Sheet, ...] = ()
    supplies: tuple[Supply, ...] = ()
    warnings: tuple[Fault, ...] = ()

    @property
    def unit(self) -> Unit:
        """The unit the project is written in."""
        return self.shop.unit

    @property
    def tariff(self) -> Tariff:
        """What boards cost this project."""
        return tariff_for(self.shop, self.boards, self.yards, self.prices)

    def part(self, name: str) -> Part:
        """Return the part called `name`; KeyError if there is none."""
        return {part.name: part for part in self.parts}[name]

    def board(self, name: str) -> Board:
        """Return the board called `name`; KeyError if there is none."""
        return {board.name: board for board in self.boards}[name]
