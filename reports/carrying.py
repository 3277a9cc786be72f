"""Carrying the wood home: what comes from each yard, what it weighs, which load takes it.

Weights are those of the species' mean at 12 % moisture, thickness as named.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from fractions import Fraction

from nesting.carrying import Carried, Stretch, carried_for
from nesting.loads import Loads, loads_for
from nesting.plan import CutBoard, Plan
from nesting.project import Project
from stock.measures import Unit
from stock.species import KG_PER_LB, species_named, weight
from stock.yards import Yard

TOO_LONG = "too long: carry it otherwise, or take another board"
TOO_HEAVY = "heavier than the vehicle takes: carry it otherwise"
NOT_KNOWN = "weight not known: weigh it, it is in no load"


@dataclass(frozen=True, kw_only=True, slots=True)
class Item:
    """One length of board or sheet to carry.

    Attributes
    ----------
    grams
        Its weight rounded up; None for a wood without a known density.
    load
        Counted from 1; None if no load is asked for, or none takes it.
    remark
        Why no load takes it, else nothing.
    """

    board: str
    stretch: Stretch
    grams: int | None
    load: int | None = None
    remark: str = ""


@dataclass(frozen=True, kw_only=True, slots=True)
class Haul:
    """All that is carried home from one yard.

    Attributes
    ----------
    most
        Grams that one load takes; None if the project sets no limit.
    loads
        Which item goes where, as far as items may go into loads; None without a limit.
    """

    yard: Yard
    boards: tuple[Carried, ...]
    items: tuple[Item, ...]
    most: int | None
    loads: Loads | None

    @property
    def count(self) -> int:
        """How many loads there are; 0 without a limit."""
        return len(self.loads.loads) if self.loads else 0

    @property
    def further_trips(self) -> Fraction:
        """What the trips beyond the first cost, which the plan's cost leaves out."""
        return self.yard.trip_cost * max(0, self.count - 1)

    @property
    def cut(self) -> tuple[Carried, ...]:
        """The boards that the yard is asked to crosscut."""
        return tuple(one for one in self.boards if one.cuts)

    def load_of(self, number: int) -> tuple[Item, ...]:
        """Return what goes into one load, counted from 1."""
        return tuple(item for item in self.items if item.load == number)


def hauls_for(project: Project, plan: Plan) -> tuple[Haul, ...]:
    """Return what is carried from each yard; nothing if the shop sets no limit."""
    shop = project.shop
    if shop.longest_carried is None and shop.heaviest_carried is None:
        return ()
    yards = {yard.name: yard for yard in project.yards}
    bought = [cut for cut in (*plan.boards, *plan.sheets) if cut.bought]
    return tuple(
        _haul(project, yards.get(name, Yard(name=name)), bought)
        for name in dict.fromkeys(cut.where for cut in bought)
    )


def most_grams(project: Project) -> int | None:
    """Return what a load takes, rounded down: the setting is in lb, in a metric one kg."""
    most = project.shop.heaviest_carried
    if most is None:
        return None
    return math.floor(most * _grams_per(project.unit))


def in_unit(grams: int, unit: Unit) -> float:
    """Return a weight in pounds, in a metric project in kilograms."""
    return grams / float(_grams_per(unit))


def weight_unit(unit: Unit) -> str:
    """Return the unit that weights are told in."""
    return "kg" if unit is Unit.MM else "lb"


def grams_of(project: Project, cut: CutBoard, stretch: Stretch) -> int | None:
    """Return the weight of a stretch of a board, rounded up, or None if not known."""
    board = next((one for one in project.boards if one.name == cut.board), None)
    species = species_named(board.species) if board else None
    if board is None or species is None:
        return None
    piece = replace(
        board,
        length=stretch.length,
        width=board.width_at(stretch.start),
        width2=board.width_at(stretch.end),
    )
    return math.ceil(1000 * weight(piece, species, project.unit))


def _haul(project: Project, yard: Yard, bought: list[CutBoard]) -> Haul:
    """Return what is carried from one yard."""
    shop = project.shop
    boards = tuple(
        carried_for(cut, shop.kerf, shop.longest_carried)
        for cut in bought
        if cut.where == yard.name
    )
    most = most_grams(project)
    items = [_item(project, one, stretch, most) for one in boards for stretch in one.taken]
    if most is None:
        return Haul(yard=yard, boards=boards, items=tuple(items), most=None, loads=None)
    packed = [at for at, item in enumerate(items) if not item.remark]
    loads = loads_for([items[at].grams or 0 for at in packed], most)
    for number, load in enumerate(loads.loads, 1):
        for place in load:
            items[packed[place]] = replace(items[packed[place]], load=number)
    return Haul(yard=yard, boards=boards, items=tuple(items), most=most, loads=loads)


def _item(project: Project, one: Carried, stretch: Stretch, most: int | None) -> Item:
    """Return one length to carry, and why no load takes it if so."""
    grams = grams_of(project, one.board, stretch)
    remark = ""
    if one.is_too_long:
        remark = TOO_LONG
    elif most is not None and grams is None:
        remark = NOT_KNOWN
    elif most is not None and grams is not None and grams > most:
        remark = TOO_HEAVY
    return Item(board=one.board.board, stretch=stretch, grams=grams, remark=remark)


def _grams_per(unit: Unit) -> Fraction:
    """Return grams in the unit that weights are told in."""
    return Fraction(1000) if unit is Unit.MM else Fraction(str(KG_PER_LB)) * 1000
