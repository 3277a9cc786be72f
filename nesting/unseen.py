"""How much wood to buy before any board is seen: kinds of wood, and lines of price lists.

Yards list species, thickness, grade and price, not boards. What a project's parts ask for
is grouped into kinds of wood, and each kind meets every line of a price list that sells
it; `nesting.piles` then draws piles of boards from a line and finds how much of each pile
makes everything. What a kind asks for beyond grade (figure, a log) no price list names; it
is taken to be there.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise

from nesting.blanks import Blank, blanks_for
from nesting.fitting import net_feet, serves
from nesting.parts import Part
from nesting.project import Project
from stock.boards import Board, Thickness
from stock.errors import Fault, InputError
from stock.yards import Price


@dataclass(frozen=True, kw_only=True, slots=True)
class Kind:
    """Wood of one species and thickness, and the parts that are made of it.

    Attributes
    ----------
    sawing, figure
        What all these parts ask for; empty and None if it does not matter.
    feet
        Board feet in the parts' blanks, nothing wasted.
    """

    species: str
    thickness: Thickness
    sawing: tuple[str, ...]
    figure: str | None
    parts: tuple[str, ...]
    feet: Fraction

    @property
    def label(self) -> str:
        """The kind in words."""
        demands = ["/".join(self.sawing)] if self.sawing else []
        demands += [self.figure] if self.figure else []
        words = f"{self.species} {self.thickness.label or self.thickness.nominal}"
        return ", ".join([words, *demands])


@dataclass(frozen=True, kw_only=True, slots=True)
class Source:
    """What piles are drawn from: a line of a price list, or several lines mixed.

    Of a mix each line gives the same share of the boards.
    """

    lines: tuple[Price, ...]

    @property
    def yard(self) -> str:
        """The yard that sells it."""
        return self.lines[0].yard

    @property
    def label(self) -> str:
        """Grade and sawing in words."""
        return " and ".join(
            " ".join(filter(None, (line.grade or "no grade named", line.sawing)))
            for line in self.lines
        )


def kinds_of(project: Project) -> tuple[Kind, ...]:
    """Return the kinds of wood that a project's parts are made of, demanding ones first.

    Each part counts in the thinnest wood of the price lists that serves it. Sheet goods
    and parts from offcuts are left out.
    """
    bare = replace(project, boards=())
    groups: dict[tuple[object, ...], list[tuple[Part, Thickness, Fraction]]] = {}
    for blank in blanks_for(project):
        part = project.part(blank.part)
        feet = net_feet(replace(bare, parts=(_plain(part),)), [blank])
        for (_, thickness), amount in feet.items():
            if amount and not blank.is_sheet:
                key = (part.species, thickness, part.sawing, part.figure)
                groups.setdefault(key, []).append((part, thickness, amount))
    kinds = [_kind(found) for found in groups.values()]
    return tuple(sorted(kinds, key=lambda kind: (kind.figure is None, not kind.sawing)))


def _plain(part: Part) -> Part:
    return replace(part, sawing=(), figure=None)


def _kind(found: Sequence[tuple[Part, Thickness, Fraction]]) -> Kind:
    part, thickness, _ = found[0]
    return Kind(
        species=part.species, thickness=thickness, sawing=part.sawing, figure=part.figure,
        parts=tuple(one.name for one, _, _ in found),
        feet=sum((feet for _, _, feet in found), Fraction(0)),
    )  # fmt: skip


def sources_for(project: Project, kind: Kind) -> tuple[Source, ...]:
    """Return what sells a kind: each line of a price list, and neighbours in price mixed.

    Where no line names the sawing that is asked for, those that name none are taken to
    hold it.
    """
    lines = [
        line
        for line in project.prices
        if line.species == kind.species and line.thickness == kind.thickness
    ]
    if kind.sawing:
        named = [line for line in lines if line.sawing in kind.sawing]
        lines = named or [line for line in lines if line.sawing is None]
    single = [Source(lines=(line,)) for line in lines]
    return (*single, *_mixes(lines))


def _mixes(lines: Iterable[Price]) -> list[Source]:
    """Return pairs of grades, next to each other in price, of one yard and one sawing."""
    groups: dict[tuple[str, str | None], list[Price]] = {}
    for line in lines:
        groups.setdefault((line.yard, line.sawing), []).append(line)
    mixes = []
    for some in groups.values():
        ranked = sorted(some, key=lambda line: -line.price)
        for dear, cheap in pairwise(ranked):
            if dear.grade != cheap.grade:
                mixes.append(Source(lines=(dear, cheap)))
    return mixes


def check_prices(project: Project, kinds: Sequence[Kind]) -> None:
    """Refuse a project of which no price list sells any wood.

    Raises
    ------
    InputError
        With a fault for each kind of wood that nobody sells.
    """
    faults = [
        Fault(
            "Prices", None, None,
            f"add a line that sells {kind.label}, for {', '.join(kind.parts)}",
        )
        for kind in kinds
        if not sources_for(project, kind)
    ]  # fmt: skip
    if not kinds:
        faults = [Fault("Parts", None, None, "no part is made of lumber")]
    if faults:
        raise InputError(faults)


def stage(project: Project, kind: Kind, boards: Iterable[Board]) -> Project:
    """Return a project of one kind's parts and these boards, where a board foot costs one.

    Staves need not come from one log, since a pile names no logs; one board still means
    one board. What a part asks for beyond that is taken to be what the boards show.
    """
    names = set(kind.parts)
    parts = tuple(
        replace(_plain(part), match="board" if part.match == "board" else "none")
        for part in project.parts
        if part.name in names
    )
    shop = replace(project.shop, aim="board feet", offcut_value=Fraction(0))
    return replace(
        project, shop=shop, parts=parts, boards=tuple(boards), sheets=(), prices=()
    )


def on_the_rack(project: Project, kinds: Sequence[Kind]) -> tuple[tuple[Board, ...], ...]:
    """Return, per kind, the shop's own boards for it; each goes to the first it serves."""
    blanks = {blank.part: blank for blank in blanks_for(project)}
    found: list[list[Board]] = [[] for _ in kinds]
    for board in project.boards:
        if not board.is_owned:
            continue
        for number, kind in enumerate(kinds):
            if _serves_any(project, kind, board, blanks):
                found[number].append(board)
                break
    return tuple(tuple(boards) for boards in found)


def _serves_any(
    project: Project, kind: Kind, board: Board, blanks: dict[str, Blank]
) -> bool:
    return any(
        serves(project.part(name), blanks[name], board, project.shop) for name in kind.parts
    )
