"""What a search works with: how each board is cut, and what is still wanted.

Money is counted in units of 1/SCALE cent, so that offcut credits stay whole numbers.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from nesting.patterns import Band, Strip
from nesting.problem import Bin, Item, Problem, fixed_costs

SCALE = 100

Unit = tuple[int, str, int]


@dataclass(frozen=True, slots=True)
class Give:
    """A stave given to a panel: item, unit (-1: surplus), and the net width it adds."""

    item: int
    unit: int
    net: int


@dataclass(frozen=True, slots=True)
class Cut:
    """A section cut from a bin: its bands and what they make.

    Attributes
    ----------
    x, length
        Where it lies along the bin; the sections of a plain bin may be moved along it.
    bands
        Its bands, from the lower edge up; a plain bin's section is one band.
    pieces
        Solid items made, one entry per piece.
    gives
        Staves made, with the panel that each goes to, in the order of bands, strips and
        pieces.
    credit
        Credit, in cents, of the strips it leaves beside the last one.
    """

    x: int
    length: int
    bands: tuple[Band, ...]
    pieces: tuple[int, ...]
    gives: tuple[Give, ...]
    credit: float


@dataclass(frozen=True, slots=True)
class Cutting:
    """How one bin is cut; `cost` is net of offcut credit, in units of 1/SCALE cent."""

    bin: int
    cuts: tuple[Cut, ...]
    cost: int

    @property
    def bands(self) -> tuple[Band, ...]:
        """All bands, from the butt end on."""
        return tuple(band for cut in self.cuts for band in cut.bands)


def cutting_of(problem: Problem, index: int, cuts: Iterable[Cut]) -> Cutting:
    """Return the sections of a bin as a cutting; those of a plain bin close up."""
    one = problem.bins[index]
    cuts = tuple(cuts)
    if one.is_plain:
        cuts = _closed_up(problem, cuts)
    end = max((cut.x + cut.length + problem.kerf for cut in cuts), default=0)
    credit = sum(cut.credit for cut in cuts) + end_credit(problem, one, end)
    return Cutting(index, cuts, one.cost * SCALE - int(credit * SCALE))


def _closed_up(problem: Problem, cuts: tuple[Cut, ...]) -> tuple[Cut, ...]:
    """Move the sections of a plain bin together, a kerf apart."""
    moved = []
    x = 0
    for cut in cuts:
        if cut.x == x:
            moved.append(cut)
        else:
            bands = tuple(replace(band, x=x) for band in cut.bands)
            moved.append(replace(cut, x=x, bands=bands))
        x += cut.length + problem.kerf
    return tuple(moved)


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

    @property
    def spread(self) -> int:
        """From how many boards each panel's staves come, added up over all panels."""
        return spread_of(self.cuttings)

    def rated(self, apart: float) -> float:
        """Return its cost in cents, with `apart` for each board of each panel."""
        return self.cost / SCALE + (apart * self.spread if apart else 0.0)


def spread_of(cuttings: Iterable[Cutting]) -> int:
    """Return from how many boards each panel's staves come, added up over all panels."""
    return sum(
        len(
            {
                (give.item, give.unit)
                for cut in one.cuts
                for give in cut.gives
                if give.unit >= 0
            }
        )
        for one in cuttings
    )


@dataclass(slots=True)
class Left:
    """What is still wanted while a plan is built; changed in place, cheap to copy.

    Attributes
    ----------
    pieces
        Solid pieces per item.
    panels
        Per panel item, one (net width still wanted, scope, staves) per unit; 0 or less is
        done. The scope is what all staves of the unit must share once one is cut; empty
        before, and for panels without a match.
    """

    pieces: dict[int, int]
    panels: dict[int, tuple[Unit, ...]]

    def copy(self) -> Left:
        """Return an independent copy."""
        return Left(dict(self.pieces), dict(self.panels))

    @property
    def is_done(self) -> bool:
        """Whether nothing is wanted any more."""
        return not any(self.pieces.values()) and not any(
            unit[0] > 0 for units in self.panels.values() for unit in units
        )

    def open_items(self) -> set[int]:
        """Return the items of which something is wanted."""
        found = {i for i, count in self.pieces.items() if count}
        found.update(i for i, units in self.panels.items() if any(u[0] > 0 for u in units))
        return found

    def give(self, item: Item, unit: int, net: int, scope: str) -> None:
        """Take a stave's net width off a unit; lock it and its layers to a scope."""
        units = list(self.panels[item.index])
        width, held, count = units[unit]
        units[unit] = (width - net, held, count + 1)
        if item.match != "none":
            first = unit - unit % item.layers
            for other in range(first, first + item.layers):
                units[other] = (units[other][0], scope, units[other][2])
        self.panels[item.index] = tuple(units)

    def take_back(self, item: Item, unit: int, net: int) -> None:
        """Undo `give`; a unit whose last stave goes is free to be matched anew."""
        units = list(self.panels[item.index])
        width, held, count = units[unit]
        units[unit] = (width + net, held, count - 1)
        if item.match != "none":
            first = unit - unit % item.layers
            layers = range(first, first + item.layers)
            if not any(units[other][2] for other in layers):
                for other in layers:
                    units[other] = (units[other][0], "", 0)
        self.panels[item.index] = tuple(units)

    def use(self, problem: Problem, one: Bin, cut: Cut) -> None:
        """Take what a section makes off what is wanted."""
        for i in cut.pieces:
            self.pieces[i] -= 1
        for give in cut.gives:
            if give.unit >= 0:
                item = problem.items[give.item]
                self.give(item, give.unit, give.net, scope_of(item, one))

    def use_all(self, problem: Problem, cuttings: Iterable[Cutting]) -> Left:
        """Take what cuttings make off what is wanted; return it."""
        for cutting in cuttings:
            for cut in cutting.cuts:
                self.use(problem, problem.bins[cutting.bin], cut)
        return self

    def undo(self, problem: Problem, cut: Cut) -> None:
        """Want again what a section made."""
        for i in cut.pieces:
            self.pieces[i] += 1
        for give in cut.gives:
            if give.unit < 0:
                continue
            self.take_back(problem.items[give.item], give.unit, give.net)


def everything(problem: Problem) -> Left:
    """Return the whole demand."""
    return Left(
        {item.index: item.units for item in problem.items if not item.is_panel},
        {
            item.index: ((item.need, "", 0),) * item.units
            for item in problem.items
            if item.is_panel
        },
    )


def scope_of(item: Item, one: Bin) -> str:
    """Return what all staves of a unit of `item` share if one comes from this bin."""
    if item.match == "board":
        return f"board {one.name}"
    return one.log if item.match == "flitch" else ""


def unit_for(item: Item, units: tuple[Unit, ...], scope: str) -> int:
    """Return the unit that the next stave goes to, or -1 if none may take it.

    Panels already begun are finished first.
    """
    best, least = -1, 0
    for unit, (net, held, _) in enumerate(units):
        if net <= 0 or (item.match != "none" and held not in ("", scope)):
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
            short[item.index] = sum(1 for unit in left.panels[item.index] if unit[0] > 0)
        else:
            short[item.index] = left.pieces[item.index]
        cost += problem.penalties[item.index] * SCALE * short[item.index]
    return Choice(cuttings, short, cost)


def beside_credit(problem: Problem, index: int, band: Band, widths: Sequence[int]) -> float:
    """Return the credit, in cents, of what strips of these widths leave beside a band."""
    one, kerf = problem.bins[index], problem.kerf
    return strip_credit(problem, one, band, sum(widths) + kerf * (len(widths) - 1))


def strip_credit(problem: Problem, one: Bin, band: Band, used: int) -> float:
    """Return the credit, in cents, of the strip that a band leaves beside its last one.

    `used` is the width of its strips and of the kerfs between them.
    """
    low = used + problem.kerf
    wide = band.height - low
    if wide < problem.keep_width or band.length < problem.keep_length:
        return 0.0
    box = (band.x, band.y + low, band.length, wide)
    if any(m.forbids("hidden") and m.touches(*box) for m in one.marks):
        return 0.0
    return one.credit * wide * band.length


def end_credit(problem: Problem, one: Bin, start: int) -> float:
    """Return the credit, in cents, of the clear end of a bin from `start` on."""
    length = one.length - start
    if one.credit <= 0 or length < problem.keep_length:
        return 0.0
    width = min(one.width_at(start), one.width2)
    if width < problem.keep_width:
        return 0.0
    if any(m.touches(start, 0, length, width) and m.forbids("hidden") for m in one.marks):
        return 0.0
    return one.credit * length * width
