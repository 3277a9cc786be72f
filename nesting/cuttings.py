"""What a search works with: how each board is cut, and what is still wanted.

Money is counted in units of 1/SCALE cent, so that offcut credits stay whole numbers.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from nesting.patterns import Section, Strip
from nesting.problem import Bin, Item, Problem, fixed_costs
from nesting.special import Band, Pattern

SCALE = 100

Units = tuple[tuple[int, str], ...]


@dataclass(frozen=True, slots=True)
class Give:
    """A stave given to a panel: item, unit, and the net width it adds."""

    item: int
    unit: int
    net: int


@dataclass(frozen=True, slots=True)
class Cutting:
    """How one bin is cut.

    Attributes
    ----------
    sections
        Sections of a plain bin, in order along it.
    pattern
        Bands of a special bin.
    pieces
        Solid pieces per item that are wanted.
    gives
        Staves given to panels.
    cost
        Cost less expected offcut credit, in units of 1/SCALE cent.
    """

    bin: int
    sections: tuple[Section, ...]
    pattern: Pattern
    pieces: Mapping[int, int]
    gives: tuple[Give, ...]
    cost: int


@dataclass(frozen=True, slots=True)
class Choice:
    """A whole choice of cuttings, and what it leaves short.

    Attributes
    ----------
    short
        Units of each item that are not made.
    cost
        Objective with fixed costs and a penalty for every unit short.
    """

    cuttings: tuple[Cutting, ...]
    short: Mapping[int, int]
    cost: int

    @property
    def is_complete(self) -> bool:
        """Whether everything is made."""
        return not any(self.short.values())


@dataclass(slots=True)
class Left:
    """What is still wanted while a plan is built; changed in place, cheap to copy.

    Attributes
    ----------
    pieces
        Solid pieces per item.
    panels
        Per panel item, one (net width still wanted, scope) per unit. The scope is what
        all staves of the unit must share once one of them is cut; empty before, and for
        panels without a match.
    """

    pieces: dict[int, int]
    panels: dict[int, Units]

    def copy(self) -> Left:
        """Return an independent copy."""
        return Left(dict(self.pieces), dict(self.panels))

    @property
    def is_done(self) -> bool:
        """Whether nothing is wanted any more."""
        return not any(self.pieces.values()) and not any(
            net for units in self.panels.values() for net, _ in units
        )

    def open_items(self) -> set[int]:
        """Return the items of which something is wanted."""
        found = {i for i, count in self.pieces.items() if count}
        found.update(i for i, units in self.panels.items() if any(net for net, _ in units))
        return found

    def give(self, item: Item, unit: int, net: int, scope: str) -> None:
        """Take a stave's net width off a unit; lock it (and its other layers) to a scope."""
        units = list(self.panels[item.index])
        units[unit] = (max(0, units[unit][0] - net), units[unit][1])
        if item.match != "none":
            first = unit - unit % item.layers
            for other in range(first, first + item.layers):
                units[other] = (units[other][0], scope)
        self.panels[item.index] = tuple(units)


def everything(problem: Problem) -> Left:
    """Return the whole demand."""
    return Left(
        {item.index: item.units for item in problem.items if not item.is_panel},
        {item.index: ((item.need, ""),) * item.units for item in problem.items if item.is_panel},
    )


def left_after(problem: Problem, cuttings: Iterable[Cutting]) -> Left:
    """Return what is wanted beyond what these cuttings make."""
    left = everything(problem)
    for cutting in cuttings:
        one = problem.bins[cutting.bin]
        for i, count in cutting.pieces.items():
            left.pieces[i] = max(0, left.pieces[i] - count)
        for give in cutting.gives:
            item = problem.items[give.item]
            left.give(item, give.unit, give.net, scope_of(item, one))
    return left


def scope_of(item: Item, one: Bin) -> str:
    """Return what all staves of a unit of `item` share if one comes from this bin."""
    if item.match == "board":
        return f"board {one.name}"
    return one.log if item.match == "flitch" else ""


def unit_for(item: Item, units: Units, scope: str) -> int:
    """Return the unit that the next stave goes to, or -1 if none may take it.

    Panels already begun are finished first.
    """
    best, least = -1, 0
    for unit, (net, held) in enumerate(units):
        if not net or (item.match != "none" and held not in ("", scope)):
            continue
        rank = net if held == scope or item.match == "none" else net + item.need
        if best < 0 or rank < least:
            best, least = unit, rank
    return best


def limits(problem: Problem, strip: Strip) -> tuple[int, int]:
    """Return the least and greatest width of a strip, from what is cut from it."""
    low, high = 0, None
    for i, size, whole in strip.pieces:
        item = problem.items[i]
        if whole:
            low, high = max(low, item.single), item.single
        elif item.is_panel:
            low = max(low, item.low)
            high = item.high if high is None else min(high, item.high)
        else:
            low = max(low, item.sizes[size][1])
    return low, low if high is None else max(low, high)


def choice_of(problem: Problem, cuttings: Iterable[Cutting], left: Left) -> Choice:
    """Return cuttings as a choice, its shortage counted and charged."""
    cuttings = tuple(cuttings)
    cost = sum(cutting.cost for cutting in cuttings)
    cost += int(fixed_costs(problem, (problem.bins[c.bin] for c in cuttings)) * SCALE)
    short: dict[int, int] = {}
    for item in problem.items:
        if item.is_panel:
            short[item.index] = sum(1 for net, _ in left.panels[item.index] if net)
        else:
            short[item.index] = left.pieces[item.index]
        cost += problem.penalties[item.index] * SCALE * short[item.index]
    return Choice(cuttings, short, cost)


def end_credit(problem: Problem, one: Bin, bands: Iterable[Band]) -> float:
    """Return the credit, in cents, of the clear end of a bin beyond its last section."""
    start = max((band.x + band.length + problem.kerf for band in bands), default=0)
    length = one.length - start
    if one.credit <= 0 or length < problem.keep_length:
        return 0.0
    width = min(one.width_at(start), one.width2)
    if width < problem.keep_width:
        return 0.0
    if any(m.touches(start, 0, length, width) and m.forbids("hidden") for m in one.marks):
        return 0.0
    return one.credit * length * width
