"""What a place on a board lacks for a blank: thickness, length, width, what it shows."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from nesting.blanks import Blank
from nesting.offers import UNLIMITED
from nesting.parts import Part
from stock.boards import Board, dressed_thickness
from stock.measures import Unit, format_measure
from stock.shop import Shop


@dataclass(frozen=True, slots=True)
class Place:
    """A rectangle of a board, in grid steps, and what the maker calls it."""

    start: int
    end: int
    low: int
    high: int
    name: str = "it"

    def within(self, other: Place) -> Place:
        """Return the overlap with another place; turned inside out if there is none."""
        return Place(
            max(self.start, other.start),
            min(self.end, other.end),
            max(self.low, other.low),
            min(self.high, other.high),
            other.name,
        )


@dataclass(frozen=True, slots=True)
class Lack:
    """One thing a board lacks; sizes in grid steps, words for what can't be measured."""

    kind: str
    have: int | str
    need: int | str
    place: str = "it"

    @property
    def share(self) -> float:
        """How much is lacking, as a share of what is needed; 1 for words."""
        if isinstance(self.have, int) and isinstance(self.need, int):
            return (self.need - self.have) / max(1, self.need)
        return 1.0

    def words(self, unit: Unit) -> str:
        """Return the lack as the maker reads it."""
        if not isinstance(self.have, int) or not isinstance(self.need, int):
            return f"the {self.kind}: it is {self.have}, {self.need} is needed"
        short, have, need = sizes_in(unit, self.need - self.have, self.have, self.need)
        verb = "dresses to" if self.kind == "thickness" else "offers"
        place = f"{self.place} {verb} {have}, {need} is needed"
        return f"{short} {unit.value} of {self.kind}: {place}"


def usable_length(board: Board, shop: Shop) -> int:
    """Return the length of a board between its end trims, in grid steps."""
    return max(0, board.length - 2 * end_loss(shop))


def end_loss(shop: Shop) -> int:
    """Return what a board loses at each end: a trim is at least one saw cut wide."""
    return max(shop.end_trim, shop.kerf) if shop.end_trim else 0


def piece_sizes(blank: Blank, shop: Shop) -> tuple[tuple[int, int], ...]:
    """Return the least rough sizes one board must hold to serve this blank at all."""
    if not blank.is_panel:
        return blank.sizes
    length, net = blank.sizes[0]
    single = shop.up(net + shop.joint_allowance)
    may_be_single = single <= blank.single_high
    return ((length, min(blank.stave_low, single) if may_be_single else blank.stave_low),)


def lacks_of(part: Part, blank: Blank, board: Board, shop: Shop) -> Iterator[Lack]:
    """Yield what a board lacks; its sizes at the best place and the best way to lie."""
    if board.species != part.species:
        yield Lack("species", board.species, part.species)
    dressed = dressed_thickness(board, shop)
    if dressed < blank.thickness:
        yield Lack("thickness", dressed, blank.thickness)
    places = [Place(end_loss(shop), board.length - end_loss(shop), 0, UNLIMITED)]
    for kind, wanted, shown in _properties(part, board):
        if not wanted or not set(wanted).isdisjoint(shown):
            continue
        zones = _zones(board, kind, wanted)
        if zones:
            places = [place.within(zone) for place in places for zone in zones]
        else:
            yield Lack(kind, " and ".join(shown) or "not known", "/".join(wanted))
    ways = (
        _size_lacks(board, place, size)
        for place in places
        for size in piece_sizes(blank, shop)
    )
    yield from min(ways, key=lambda lacks: sum(lack.share for lack in lacks))


def _properties(
    part: Part, board: Board
) -> tuple[tuple[str, tuple[str, ...], tuple[str, ...]], ...]:
    """Return each property: its kind, what will do, what the board is all over."""
    return (
        ("sawing", part.sawing, (board.sawing,) if board.sawing else ()),
        ("figure", (part.figure,) if part.figure else (), board.figure),
    )


def _zones(board: Board, kind: str, wanted: tuple[str, ...]) -> list[Place]:
    """Return the zones of a board that add one of the wanted properties."""
    return [
        Place(mark.start, mark.end, mark.low, mark.high, f"its {mark.tag} zone")
        for mark in board.marks
        if mark.kind == kind and mark.tag in wanted
    ]


def _size_lacks(board: Board, place: Place, size: tuple[int, int]) -> tuple[Lack, ...]:
    """Return what a place on a board lacks of a rough size; the wide end serves best."""
    length, width = size
    room = max(0, place.end - place.start)
    stretch = min(length, room)
    left = place.start if board.width >= board.width2 else place.end - stretch
    clear = max(0, min(place.high, board.width_between(left, left + stretch)) - place.low)
    lacks = []
    if room < length:
        lacks.append(Lack("length", room, length, place.name))
    if clear < width:
        lacks.append(Lack("width", clear, width, place.name))
    return tuple(lacks)


def sizes_in(unit: Unit, *sizes: int) -> tuple[str, ...]:
    """Return sizes in words, exact to the grid: a lack of 1/64 in must not print as 0."""
    return tuple(format_measure(size, unit, 64) for size in sizes)
