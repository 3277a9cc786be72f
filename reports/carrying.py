"""Carrying the wood home: what comes from each yard, what it weighs, which load takes it.

Weights are those of the species' mean at 12 % moisture, thickness as named; a vehicle's own
manual and local law on overhang and tying down come before any of it.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from fractions import Fraction

from nesting.carrying import Carried, Stretch, carried_for
from nesting.loads import Loads, loads_for
from nesting.plan import CutBoard, Plan
from nesting.project import Project
from reports.plaintext import named
from stock.measures import Unit, format_measure
from stock.species import KG_PER_LB, species_named, weight
from stock.yards import Yard

TOO_LONG = "too long: carry it otherwise, or take another board"
TOO_HEAVY = "heavier than the vehicle takes: carry it otherwise"
NOT_KNOWN = "weight not known: weigh it, it is in no load"

# Limits of vehicles and of the law differ: we only say where to look (common practice).
ON_THE_ROAD = (
    "The vehicle's manual says what it and its roof may carry, people and tools counted;"
    " local law says how far wood may stick out and how that is marked. Tie wood down so"
    " that it can't slide forward or lift, and lift heavy pieces with two people."
)


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


def advice_for(project: Project, plan: Plan) -> Iterator[tuple[str, str]]:
    """Yield what to mind about carrying, as topic and words; nothing without a limit."""
    hauls = hauls_for(project, plan)
    longest = project.shop.longest_carried
    limit = "" if longest is None else _size(longest, project.unit)
    long = [one for haul in hauls for one in haul.boards if one.is_too_long]
    if long:
        names = named(_long_words(one, project.unit) for one in long)
        yield (
            "Too long to carry",
            f"{names}: longer than the {limit} that can be carried, and no crosscut of the"
            " plan helps. Carry it otherwise, or take another board.",
        )
    cut = [cut_words(one, project.unit) for haul in hauls for one in haul.cut]
    if cut:
        yield (
            "Crosscut at the yard",
            f"{named(cut)}: longer than the {limit} that can be carried. Ask the yard to"
            " crosscut there, from the butt end: the plan cuts there anyway. See Buy.",
        )
    for haul in hauls:
        yield from _weights(project, haul)


def trips_words(haul: Haul, unit: Unit) -> str:
    """Say how many loads a yard's wood takes and what further trips cost."""
    if haul.loads is None or haul.most is None or haul.count < 2:
        return ""
    total = sum(item.grams or 0 for item in haul.items if item.load)
    words = (
        f"about {weight_words(total, unit)} go in {haul.count} loads of at most"
        f" {weight_words(haul.most, unit)}"
    )
    if haul.loads.least < haul.count:
        words += f" (maybe in fewer, but not in fewer than {haul.loads.least})"
    else:
        words += " (fewer don't do)"
    if haul.yard.trip_cost:
        words += (
            f". Each trip beyond the first costs its {float(haul.yard.trip_cost):,.2f}"
            f" again, {float(haul.yard.trip_cost * (haul.count - 1)):,.2f} in all, which is"
            " not in the cost"
        )
    return words


def weight_words(grams: int, unit: Unit) -> str:
    """Return a weight as words."""
    return f"{in_unit(grams, unit):,.0f} {weight_unit(unit)}"


def cut_words(one: Carried, unit: Unit) -> str:
    """Return a board and where it is crosscut at the yard, from its butt end."""
    places = ", ".join(format_measure(cut.at, unit, 64) for cut in one.cuts)
    return f"{one.board.board} at {places} {unit.value}"


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


def _weights(project: Project, haul: Haul) -> Iterator[tuple[str, str]]:
    """Yield what to mind about the weights of one yard's wood."""
    unit = project.unit
    heavy = [item for item in haul.items if item.remark == TOO_HEAVY]
    if heavy and haul.most is not None:
        words = [f"{one.board} ({weight_words(one.grams or 0, unit)})" for one in heavy]
        yield (
            "Too heavy to carry",
            f"{named(words)}: above the {weight_words(haul.most, unit)} of a load. Carry"
            " it otherwise, or take another board.",
        )
    unknown = [item.board for item in haul.items if item.remark == NOT_KNOWN]
    if unknown:
        yield (
            "Load not known",
            f"{named(unknown)}: no density is known, so no load counts them. Weigh them"
            f" at {haul.yard.name}.",
        )
    trips = trips_words(haul, unit)
    if trips:
        yield "More than one load", f"{haul.yard.name}: {trips}."


def _long_words(one: Carried, unit: Unit) -> str:
    """Return a board and the length of it that has to stay whole."""
    return f"{one.board.board} ({_size(one.section, unit)})"


def _size(steps: int, unit: Unit) -> str:
    """Return a length with its unit."""
    return f"{format_measure(steps, unit, 64)} {unit.value}"


def _grams_per(unit: Unit) -> Fraction:
    """Return grams in the unit that weights are told in."""
    return Fraction(1000) if unit is Unit.MM else Fraction(str(KG_PER_LB)) * 1000
