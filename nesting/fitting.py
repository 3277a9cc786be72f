"""Whether a board can give a blank at all, and in words what it lacks if it can't.

Only the size of the board and what it shows are judged here; whether its clear wood is
in the right place is for the cutting plan to find out.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from fractions import Fraction

from nesting.blanks import Blank
from nesting.lacks import Lack, end_loss, lacks_of, sizes_in
from nesting.offers import listed_boards, typical_board, usual_thickness
from nesting.parts import Part
from nesting.plan import Shortage
from nesting.project import Project, Sheet
from nesting.thickness import other_blanks
from stock.boards import Board, Thickness, area_feet, dressed_thickness
from stock.measures import Unit, inch_in
from stock.shop import Shop


def serves(part: Part, blank: Blank, board: Board, shop: Shop) -> bool:
    """Whether a board can give at least one piece of this blank."""
    return not any(True for _ in lacks_of(part, blank, board, shop))


def lacking(part: Part, blank: Blank, board: Board, shop: Shop) -> tuple[str, ...]:
    """Return in words what a board lacks for one piece of this blank; empty if it serves.

    For a panel one stave must fit, or all of it where one piece of wood may do.
    """
    return tuple(lack.words(shop.unit) for lack in lacks_of(part, blank, board, shop))


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

    Each blank counts in the thinnest wood of the project that serves it, surfaced wood by
    the thickness it was sawn as and after rough wood of that thickness; else in the
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


def _why_not(project: Project, blank: Blank, offers: tuple[Board, ...]) -> str | None:
    """Return why the project's wood can't give a blank; None if it can."""
    part = project.part(blank.part)
    if blank.is_sheet:
        sheet = next(one for one in project.sheets if one.name == part.species)
        return _sheet_lack(blank, sheet, project.unit)
    if part.source == "offcut":
        return None
    if any(serves(part, blank, board, project.shop) for board in offers):
        return None
    others = other_blanks(project, part)
    if any(serves(part, one, board, project.shop) for one in others for board in offers):
        return None
    return _board_lack(part, blank, offers, project.shop, others)


def _board_lack(
    part: Part,
    blank: Blank,
    offers: tuple[Board, ...],
    shop: Shop,
    others: tuple[Blank, ...],
) -> str:
    """Return why no board serves a part, naming the best one.

    `others` are its blanks in other ways, which no board serves either.
    """
    alike = [board for board in offers if board.species == part.species]
    asked = f"needs {_asked(blank, shop.unit)} of {part.species}"
    if not alike:
        return f"{asked}, and no {part.species} is listed: add boards or prices of it"
    ranked = []
    for board in alike:
        lacks = tuple(lacks_of(part, blank, board, shop))
        ranked.append((len(lacks), sum(lack.share for lack in lacks), board.name, lacks))
    *_, name, lacks = min(ranked, key=lambda entry: entry[:2])
    missing = " and ".join(lack.words(shop.unit) for lack in lacks)
    hint = _advice(part, blank, lacks, shop)
    lacking = f"{asked}; the best board, {name!r}, lacks {missing}"
    return f"{lacking}{_considered(part, others, lacks)}; what would do: {hint}"


def _considered(part: Part, others: tuple[Blank, ...], lacks: tuple[Lack, ...]) -> str:
    """Return which ways to a thickness that is lacking were looked at, and which not."""
    if all(lack.kind != "thickness" for lack in lacks):
        return ""
    ways = [
        f"{one.leaves} leaves" if one.leaves > 1 else f"{one.layers} layers"
        for one in others
    ]
    words = f"; planed down{''.join(f', {way}' for way in ways)}: none of it does"
    if part.build in ("solid", "panel"):
        words += f", and build {part.build!r} admits no layers"
    return words


def _asked(blank: Blank, unit: Unit) -> str:
    """Return the rough size of a blank in words."""
    length, width, thick = sizes_in(unit, *blank.sizes[0], blank.thickness)
    what = "staves for a panel" if blank.is_panel else "a blank"
    if blank.layers > 1:
        what = f"{blank.layers} layers, each {what}"
    return (
        f"{what} {length} x {width} {unit.value}, {thick} {unit.value} thick when dressed,"
    )


def _advice(part: Part, blank: Blank, lacks: tuple[Lack, ...], shop: Shop) -> str:
    """Return what would be right instead."""
    hints: list[str] = []
    for lack in lacks:
        if lack.kind == "thickness":
            stock = f"{usual_thickness(blank.thickness, shop).label} stock"
            hints.append(
                stock
                if part.build in ("auto", "laminate")
                else f"{stock} or build 'laminate'"
            )
        elif lack.kind == "width":
            hints.append(
                "a wider board" if blank.is_panel else "a wider board or build 'panel'"
            )
        elif lack.kind == "length":
            (whole,) = sizes_in(shop.unit, int(lack.need) + 2 * end_loss(shop))
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
    need = " x ".join(sizes_in(unit, *blank.sizes[0]))
    have = " x ".join(sizes_in(unit, sheet.length, sheet.width))
    return (
        f"needs {need} {unit.value} of {sheet.name}, whose sheets are {have}; "
        "what would do: a larger sheet"
    )


def _offers_by_species(project: Project) -> dict[str, list[tuple[int, Board]]]:
    """Return each species' wood with what it dresses to, in the order it is thought of.

    Thinnest first, as it was sawn, and rough before surfaced: a few surfaced boards are
    no reason to count on them for everything that they are thick enough for.
    """
    found: dict[str, list[tuple[int, Board]]] = {}
    for board in (*project.boards, *(typical_board(line) for line in project.prices)):
        dressed = dressed_thickness(board, project.shop)
        found.setdefault(board.species, []).append((dressed, board))
    return {species: _in_order(offers, project.shop) for species, offers in found.items()}


def _in_order(offers: list[tuple[int, Board]], shop: Shop) -> list[tuple[int, Board]]:
    """Return the wood of one species in the order of `_offers_by_species`."""
    rough = [(gives, one) for gives, one in offers if one.surfaced == "rough"]

    def key(offer: tuple[int, Board]) -> tuple[Fraction, bool, Fraction]:
        dressed, board = offer
        sawn = _sawn(dressed, board, rough, shop)
        return sawn, board.surfaced != "rough", board.thickness.nominal

    return sorted(offers, key=key)


def _sawn(
    dressed: int, board: Board, rough: Iterable[tuple[int, Board]], shop: Shop
) -> Fraction:
    """Return the thickness a board was sawn as: a usual quarter, or near it as listed.

    Rough wood by the millimetre (27 for 4/4) is near a quarter, not on it.
    """
    if board.surfaced == "rough":
        return board.thickness.nominal
    usual = usual_thickness(dressed, shop).nominal
    next_quarter = usual + inch_in(shop.unit) / 4
    alike = (one.thickness.nominal for gives, one in rough if gives >= dressed)
    return min((size for size in alike if size < next_quarter), default=usual)


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
