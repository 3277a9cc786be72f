"""Which parts of a plan move with the seasons, by how much, and what room that takes.

Looked at are panels, and solid parts from 4 in or 100 mm on across the grain (our choice:
narrower ones move by less than joints forgive). What a panel moves by is the sum of what
its staves do, each by its own sawing. Where a reading of the boards is known, the part is
taken to be fitted at that moisture, else at the driest of the year, which asks for the
most room to swell.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace

from nesting.blanks import grain_ways
from nesting.parts import Part
from nesting.plan import CutBoard, Piece, Plan
from nesting.project import Project
from stock.boards import Board
from stock.measures import Unit, format_measure, steps_per_unit
from stock.moisture import moisture_at, scale_of
from stock.movement import Rate, change, held_moisture, mean_coefficient, rate_for
from stock.shop import Shop
from stock.species import Species, species_named

UNKNOWN = "not known"
RIGID = "rigid"
FINEST = {Unit.INCH: 32, Unit.MM: 2}  # slots and gaps go up to 1/32 in, 0.5 mm
_WIDE = {Unit.INCH: 4, Unit.MM: 100}
_WORTH_SAYING = {Unit.INCH: 0.125, Unit.MM: 3.0}


@dataclass(frozen=True, slots=True)
class Seasons:
    """Driest and dampest air of the year and what wood comes to in it, all in percent."""

    dry_air: float
    damp_air: float
    driest: float
    dampest: float


@dataclass(frozen=True, kw_only=True, slots=True)
class Mover:
    """Copies of a part that move alike; sizes in the project's unit.

    Attributes
    ----------
    width
        Finished width across the grain, joinery in.
    sawing
        What the boards show, in words.
    species
        None if its figures are not known.
    coefficient
        Of all staves together, per percent of moisture; None where no figure is known.
    is_printed, is_verified
        Whether all coefficients are the handbook's own, and were seen in print.
    reading
        Moisture of its boards now (percent), of the driest copy; None if any is not known.
    """

    part: Part
    copies: int
    width: float
    sawing: str
    species: Species | None
    coefficient: float | None
    is_printed: bool = True
    is_verified: bool = True
    reading: float | None = None

    def settled(self, moisture: float) -> float:
        """Return a moisture content as far as it moves this wood (percent)."""
        return held_moisture(self.species, moisture) if self.species else moisture

    def moved(self, before: float, after: float) -> float:
        """Return what the width changes by between two moisture contents (percent)."""
        before, after = self.settled(before), self.settled(after)
        return change(self.width, self.coefficient or 0.0, before, after)

    def over(self, seasons: Seasons) -> float:
        """Return what the width changes by from the driest to the dampest of the year."""
        return self.moved(seasons.driest, seasons.dampest)


@dataclass(frozen=True, slots=True)
class _Stave:
    """One piece of a copy, grid steps: `width` counts, `rough` is its length and width."""

    width: int
    rough: tuple[int, int]
    sawing: str
    board: Board | None


def seasons_for(shop: Shop) -> Seasons:
    """Return the year that a shop's settings tell, at the usual temperature indoors."""
    scale = scale_of(shop.unit)
    dry, damp = float(shop.humidity_low), float(shop.humidity_high)
    return Seasons(
        dry,
        damp,
        moisture_at(dry, scale.usual, scale),
        moisture_at(damp, scale.usual, scale),
    )


def movers_of(project: Project, plan: Plan) -> tuple[Mover, ...]:
    """Return the parts that move, in the order of the parts; those alike together."""
    parts = {part.name: part for part in project.parts}
    order = {name: at for at, name in enumerate(parts)}
    found: dict[tuple[str, str], Mover] = {}
    for (name, _), layers in _copies(project, plan).items():
        mover = _worst(project, parts[name], layers) if name in parts else None
        if mover:
            alike = found.get((name, mover.sawing))
            found[name, mover.sawing] = _together(alike, mover) if alike else mover
    return tuple(sorted(found.values(), key=lambda mover: order[mover.part.name]))


def movers_worth_saying(project: Project, plan: Plan) -> tuple[Mover, ...]:
    """Return those that move by more than 1/8 in or 3 mm over the year."""
    seasons, least = seasons_for(project.shop), _WORTH_SAYING[project.unit]
    return tuple(one for one in movers_of(project, plan) if one.over(seasons) > least)


def share_free(held: str | None) -> float:
    """Return how much of the movement shows at one edge, as a share.

    Held at the middle a part goes half each way; held at one edge all of it goes to the
    other. A part that is held rigid, or of which nothing is said, counts as by the middle.
    """
    return 1.0 if held == "edge" else 0.5


def room(size: float, unit: Unit) -> float:
    """Return a slot's or gap's size, up to the next 1/32 in or 0.5 mm; 0 at least."""
    finest = FINEST[unit]
    return max(0, math.ceil(round(size * finest, 6))) / finest


def size_words(size: float, unit: Unit) -> str:
    """Return a change of size in words, to 1/32 in or 0.1 mm."""
    size = abs(size)
    if unit is Unit.MM:
        return f"{size:.1f} mm"
    ticks = max(1, round(size * 32)) if size > 0 else 0
    return f"{format_measure(ticks * 2, unit, 32)} in"


def season_words(seasons: Seasons) -> str:
    """Return the year's humidity in words."""
    return f"between {seasons.dry_air:g} and {seasons.damp_air:g} % humidity"


def _copies(project: Project, plan: Plan) -> dict[tuple[str, int], list[list[_Stave]]]:
    """Return by part and copy its panels or layers, each as the staves it is made of."""
    boards = {board.name: board for board in project.boards}
    homes = {piece.name: (cut, piece) for cut in plan.boards for piece in cut.pieces}
    found: dict[tuple[str, int], list[list[_Stave]]] = {}
    for panel in plan.panels:
        staves = [
            _stave(homes.get(one.piece), boards, one.net_width) for one in panel.staves
        ]
        found.setdefault((panel.part, panel.copy), []).append(staves)
    for home in homes.values():
        piece = home[1]
        if piece.role != "stave":
            stave = _stave(home, boards, piece.width)
            for copy in piece.copies:
                found.setdefault((piece.part, copy), []).append([stave])
    return dict(sorted(found.items()))


def _stave(
    home: tuple[CutBoard, Piece] | None, boards: dict[str, Board], width: int
) -> _Stave:
    """Return one stave with its board and what that shows where the stave lies."""
    board = boards.get(home[0].board) if home else None
    if home is None or board is None:
        return _Stave(width, (0, 0), UNKNOWN, None)
    piece = home[1]
    place = (piece.x, piece.y, piece.length, piece.width)
    for mark in board.marks:
        if mark.kind == "sawing" and mark.tag and mark.holds(*place):
            return _Stave(width, place[2:], mark.tag, board)
    return _Stave(width, place[2:], board.sawing or UNKNOWN, board)


def _worst(project: Project, part: Part, layers: list[list[_Stave]]) -> Mover | None:
    """Return one copy by the layer that moves most; None if it is too narrow to mind."""
    unit = project.unit
    is_panel = any(len(layer) > 1 for layer in layers)
    rough = None if is_panel else layers[0][0].rough
    width = _across(part, rough) / steps_per_unit(unit)
    if not is_panel and width < _WIDE[unit]:
        return None
    species = species_named(part.species)
    movers = [_mover(part, width, species, layer) for layer in layers]
    worst = max(movers, key=lambda one: one.coefficient or 0.0)
    readings = [one.reading for one in movers]
    known = [one for one in readings if one is not None]
    return replace(worst, reading=min(known) if len(known) == len(readings) else None)


def _mover(
    part: Part, width: float, species: Species | None, staves: list[_Stave]
) -> Mover:
    """Return one layer of a copy."""
    rates = [
        (one.width, rate)
        for one in staves
        if species and (rate := rate_for(species, one.sawing))
    ]
    return Mover(
        part=part,
        copies=1,
        width=width,
        sawing=_sawing_words(staves),
        species=species,
        coefficient=_mean(rates) if rates else None,
        is_printed=all(rate.is_printed for _, rate in rates),
        is_verified=all(rate.is_verified for _, rate in rates),
        reading=_reading(staves),
    )


def _together(one: Mover, other: Mover) -> Mover:
    """Return copies with the same sawing as one: what asks for more room counts."""
    livelier = max(one, other, key=lambda mover: mover.coefficient or 0.0)
    known = None not in (one.reading, other.reading)
    readings = [mover.reading for mover in (one, other) if mover.reading is not None]
    return replace(
        livelier,
        copies=one.copies + other.copies,
        reading=min(readings) if known else None,
    )


def _mean(rates: Iterable[tuple[int, Rate]]) -> float:
    return mean_coefficient((width, rate.coefficient) for width, rate in rates)


def _reading(staves: list[_Stave]) -> float | None:
    """Return the moisture of staves side by side, each by its width, to 0.1 %."""
    readings = [
        (one.width, float(one.board.moisture))
        for one in staves
        if one.board and one.board.moisture is not None
    ]
    if len(readings) < len(staves):
        return None
    whole = sum(one.width for one in staves)
    return round(sum(width * one for width, one in readings) / whole, 1)


def _sawing_words(staves: list[_Stave]) -> str:
    """Return what staves show: one word, or how many show what."""
    kinds = sorted({one.sawing for one in staves})
    if len(kinds) == 1:
        return kinds[0]
    return ", ".join(f"{sum(s.sawing == kind for s in staves)} {kind}" for kind in kinds)


def _across(part: Part, rough: tuple[int, int] | None) -> int:
    """Return the finished size across the grain.

    A part that may lie either way lies as its rough piece has room for it, the staves of
    a panel (without one) along its longer side, as its blank is made.
    """
    ways = grain_ways(part)
    fits = [way for way in ways if rough and way[0] <= rough[0] and way[1] <= rough[1]]
    return max(fits or ways, key=lambda way: way[0])[1]
