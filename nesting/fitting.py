"""Whether a board can give a blank at all, and in words what it lacks if it can't.

Only the size of the board and what it shows are judged here; whether its clear wood is
in the right place is for the cutting plan to find out.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction

from nesting.blanks import Blank
from nesting.offers import UNLIMITED, listed_boards, typical_board, usual_thickness
from nesting.parts import Part
from nesting.plan import Shortage
from nesting.project import Project, Sheet
from stock.boards import Board, Thickness, area_feet, dressed_thickness
from stock.measures import Unit, format_measure
from stock.shop import Shop


@dataclass(frozen=True, slots=True)
class _Place:
    """A rectangle of a board, in grid steps, and what the maker calls it."""

    start: int
    end: int
    low: int
    high: int
    name: str = "it"

    def within(self, other: _Place) -> _Place:
        """Return the overlap with another place; turned inside out if there is none."""
        return _Place(
            max(self.start, other.start),
            min(self.end, other.end),
            max(self.low, other.low),
            min(self.high, other.high),
            other.name,
        )


@dataclass(frozen=True, slots=True)
class _Lack:
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
        short, have, need = _sizes(unit, self.need - self.have, self.have, self.need)
        verb = "dresses to" if self.kind == "thickness" else "offers"
        place = f"{self.place} {verb} {have}, {need} is needed"
        return f"{short} {unit.value} of {self.kind}: {place}"


def serves(part: Part, blank: Blank, board: Board, shop: Shop) -> bool:
    """Whether a board can give at least one piece of this blank."""
    return not any(True for _ in _lacks(part, blank, board, shop))


def lacking(part: Part, blank: Blank, board: Board, shop: Shop) -> tuple[str, ...]:
    """Return in words what a board lacks for one piece of this blank; empty if it serves.

    For a panel one stave must fit, or all of it where one piece of wood may do.
    """
    return tuple(lack.words(shop.unit) for lack in _lacks(part, blank, board, shop))


def misfits(project: Project, blanks: Iterable[Blank]) -> tuple[Shortage, ...]:
    """Return a shortage for every copy of every part that no wood of the project serves.

    Boards are asked first; in a project without boards its price lists. Parts that come
    from offcuts only are never missed.
    """
    offers = listed_boards(project)
    found: list[Shortage] = []
    for blank in blanks:
        why = _why_not(project, blank, offers)
        if why:
            found += [
                Shortage(part=blank.part, copy=n + 1, why=why) for n in range(blank.copies)
            ]
    return tuple(found)


def net_feet(
    project: Project, blanks: Iterable[Blank]
) -> Mapping[tuple[str, Thickness], Fraction]:
    """Return the board feet in the blanks by species and rough thickness, nothing wasted.

    Each blank counts in the thinnest wood of the project that serves it, else in the
    thinnest usual quarter that dresses thick enough. Panels count by their net width.
    Sheet goods and parts from offcuts are left out.
    """
    offers = _offers_by_species(project)
    feet: dict[tuple[str, Thickness], Fraction] = {}
    for blank in blanks:
        part = project.part(blank.part)
        if blank.is_sheet or part.source == "offcut":
            continue
        wood = _first_serving(part, blank, offers.get(part.species, ()), project.shop)
        area = min(length * width for length, width in blank.sizes) * blank.units
        key = (part.species, wood.thickness)
        feet[key] = feet.get(key, Fraction(0)) + area_feet(wood, area, project.unit)
    return feet


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


def _lacks(part: Part, blank: Blank, board: Board, shop: Shop) -> Iterator[_Lack]:
    """Yield what a board lacks; its sizes at the best place and the best way to lie."""
    if board.species != part.species:
        yield _Lack("species", board.species, part.species)
    dressed = dressed_thickness(board, shop)
    if dressed < blank.thickness:
        yield _Lack("thickness", dressed, blank.thickness)
    places = [_Place(end_loss(shop), board.length - end_loss(shop), 0, UNLIMITED)]
    for kind, wanted, shown in _properties(part, board):
        if not wanted or not set(wanted).isdisjoint(shown):
            continue
        zones = _zones(board, kind, wanted)
        if zones:
            places = [place.within(zone) for place in places for zone in zones]
        else:
            yield _Lack(kind, " and ".join(shown) or "not known", "/".join(wanted))
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


def _zones(board: Board, kind: str, wanted: tuple[str, ...]) -> list[_Place]:
    """Return the zones of a board that add one of the wanted properties."""
    return [
        _Place(mark.start, mark.end, mark.low, mark.high, f"its {mark.tag} zone")
        for mark in board.marks
        if mark.kind == kind and mark.tag in wanted
    ]


def _size_lacks(board: Board, place: _Place, size: tuple[int, int]) -> tuple[_Lack, ...]:
    """Return what a place on a board lacks of a rough size; the wide end serves best."""
    length, width = size
    room = max(0, place.end - place.start)
    stretch = min(length, room)
    left = place.start if board.width >= board.width2 else place.end - stretch
    clear = max(0, min(place.high, board.width_between(left, left + stretch)) - place.low)
    lacks = []
    if room < length:
        lacks.append(_Lack("length", room, length, place.name))
    if clear < width:
        lacks.append(_Lack("width", clear, width, place.name))
    return tuple(lacks)


def _why_not(project: Project, blank: Blank, offers: tuple[Board, ...]) -> str | None:
    """Return why the project's wood can't give a blank; None if it can."""
    part = project.part(blank.part)
    if blank.is_sheet:
        sheet = next(one for one in project.sheets if one.name == part.species)
        return _sheet_lack(blank, sheet, project.unit)
    if part.source == "offcut":
        return None
    return _board_lack(part, blank, offers, project.shop)


def _board_lack(
    part: Part, blank: Blank, offers: tuple[Board, ...], shop: Shop
) -> str | None:
    """Return why no board serves a part, naming the best one; None if one does."""
    alike = [board for board in offers if board.species == part.species]
    asked = f"needs {_asked(blank, shop.unit)} of {part.species}"
    if not alike:
        return f"{asked}, and no {part.species} is listed: add boards or prices of it"
    ranked = []
    for board in alike:
        lacks = tuple(_lacks(part, blank, board, shop))
        if not lacks:
            return None
        ranked.append((len(lacks), sum(lack.share for lack in lacks), board.name, lacks))
    *_, name, lacks = min(ranked, key=lambda entry: entry[:2])
    missing = " and ".join(lack.words(shop.unit) for lack in lacks)
    hint = _advice(part, blank, lacks, shop)
    return f"{asked}; the best board, {name!r}, lacks {missing}; what would do: {hint}"


def _asked(blank: Blank, unit: Unit) -> str:
    """Return the rough size of a blank in words."""
    length, width, thick = _sizes(unit, *blank.sizes[0], blank.thickness)
    what = "staves for a panel" if blank.is_panel else "a blank"
    if blank.layers > 1:
        what = f"{blank.layers} layers, each {what}"
    return (
        f"{what} {length} x {width} {unit.value}, {thick} {unit.value} thick when dressed,"
    )


def _advice(part: Part, blank: Blank, lacks: tuple[_Lack, ...], shop: Shop) -> str:
    """Return what would be right instead."""
    hints: list[str] = []
    for lack in lacks:
        if lack.kind == "thickness":
            stock = f"{usual_thickness(blank.thickness, shop).label} stock"
            hints.append(
                stock if part.build == "laminate" else f"{stock} or build 'laminate'"
            )
        elif lack.kind == "width":
            hints.append(
                "a wider board" if blank.is_panel else "a wider board or build 'panel'"
            )
        elif lack.kind == "length":
            (whole,) = _sizes(shop.unit, int(lack.need) + 2 * end_loss(shop))
            hints.append(f"a board {whole} {shop.unit.value} long")
        else:
            hints.append(f"a board with {lack.kind} {lack.need!r}")
    return ", and ".join(hints)


def _sheet_lack(blank: Blank, sheet: Sheet, unit: Unit) -> str | None:
    """Return why no sheet holds a part; None if one does."""
    if not sheet.qty:
        return f"needs a sheet of {sheet.name}, and its qty is 0: say how many there are"
    if any(long <= sheet.length and wide <= sheet.width for long, wide in blank.sizes):
        return None
    need = " x ".join(_sizes(unit, *blank.sizes[0]))
    have = " x ".join(_sizes(unit, sheet.length, sheet.width))
    return (
        f"needs {need} {unit.value} of {sheet.name}, whose sheets are {have}; "
        "what would do: a larger sheet"
    )


def _offers_by_species(project: Project) -> dict[str, list[tuple[int, Board]]]:
    """Return each species' wood, thinnest first, with what it dresses to."""
    offers = [*project.boards, *(typical_board(line) for line in project.prices)]
    found: dict[str, list[tuple[int, Board]]] = {}
    for board in sorted(offers, key=lambda board: board.thickness.nominal):
        dressed = dressed_thickness(board, project.shop)
        found.setdefault(board.species, []).append((dressed, board))
    return found


def _first_serving(
    part: Part, blank: Blank, offers: Iterable[tuple[int, Board]], shop: Shop
) -> Board:
    """Return the first wood on offer that serves, else an imagined board that would."""
    for dressed, board in offers:
        if dressed >= blank.thickness and serves(part, blank, board, shop):
            return board
    length, width = blank.sizes[0]
    return Board(
        name="",
        species=part.species,
        thickness=usual_thickness(blank.thickness, shop),
        length=length,
        width=width,
        width2=width,
    )


def _sizes(unit: Unit, *sizes: int) -> tuple[str, ...]:
    """Return sizes in words, exact to the grid: a lack of 1/64 in must not print as 0."""
    return tuple(format_measure(size, unit, 64) for size in sizes)
