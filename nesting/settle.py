"""From a choice of sections to real staves: widths for strips, staves for panels.

The choice counts net width by the running inch; here each panel must come out whole. One
CP-SAT model gives every strip that holds staves a width within its section and hands
staves to panels, so that each panel reaches its net width from as few boards as possible.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from nesting.cuttings import Choice, beside_credit
from nesting.detail import Detail, Key, Slot, panels_of, strip_of
from nesting.patterns import Band
from nesting.problem import Bin, Item, Problem


@dataclass(frozen=True, slots=True)
class Settled:
    """A choice with every width fixed and every piece given to a copy.

    Attributes
    ----------
    bands
        Per bin: its bands in order.
    widths
        Rough width of each strip, by (bin, band, strip).
    units
        Which unit (from 0) of its item each piece belongs to; surplus pieces are missing.
    """

    bands: Mapping[int, tuple[Band, ...]]
    widths: Mapping[Key, int]
    units: Mapping[Slot, int]

    def made(self) -> dict[int, set[int]]:
        """Return which units of each item are made."""
        found: dict[int, set[int]] = defaultdict(set)
        for slot, unit in self.units.items():
            found[slot.item].add(unit)
        return found


def settle(
    problem: Problem,
    choice: Choice,
    seconds: float,
    seed: int,
    *,
    all_or_none: bool = False,
    work: float = 0.0,
    apart: float = 0.0,
) -> Settled:
    """Give every strip its width and every piece its copy.

    Panels that can't be made whole in time are left out; `Settled.made` tells. With
    `all_or_none` any widths that make every panel whole will do, which is faster. `work`
    limits CP-SAT's deterministic time; 0 does not. `apart` is what each board counts that
    gives staves to a panel, in cents.
    """
    bands = {cutting.bin: cutting.bands for cutting in choice.cuttings}
    slots = tuple(_slots(bands))
    widths = {
        (slot.bin, slot.band, slot.strip): strip_of(bands, slot).width for slot in slots
    }
    units = _solid_units(problem, slots)
    staves = [slot for slot in slots if problem.items[slot.item].is_panel]
    if staves:
        given = _as_given(problem, choice, staves)
        detail = Detail(problem, bands, staves, all_or_none=all_or_none, apart=apart)
        detail.hint(given, widths)
        found, panels = detail.solve(seconds, seed, work)
        before = _rating(problem, bands, widths, given, apart)
        if _rating(problem, bands, {**widths, **found}, panels, apart) <= before:
            widths.update(found)
            units.update(panels)
        else:
            units.update(given)
    return Settled(bands, widths, _whole_copies(problem, units))


def as_given(problem: Problem, choice: Choice) -> Settled:
    """Settle a choice as it was cut: each strip as wide, each stave in its own panel."""
    bands = {cutting.bin: cutting.bands for cutting in choice.cuttings}
    slots = tuple(_slots(bands))
    widths = {
        (slot.bin, slot.band, slot.strip): strip_of(bands, slot).width for slot in slots
    }
    staves = [slot for slot in slots if problem.items[slot.item].is_panel]
    units = _solid_units(problem, slots) | _as_given(problem, choice, staves)
    return Settled(bands, widths, _whole_copies(problem, units))


def _rating(
    problem: Problem,
    bands: Mapping[int, tuple[Band, ...]],
    widths: Mapping[Key, int],
    units: Mapping[Slot, int],
    apart: float,
) -> tuple[int, float]:
    """Return what is to be small: panels not made, then boards of panels less credit."""
    credit = 0.0
    for index, some in bands.items():
        for b, band in enumerate(some):
            wide = [
                widths.get((index, b, s), strip.width)
                for s, strip in enumerate(band.strips)
            ]
            credit += beside_credit(problem, index, band, wide)
    pairs = len({(slot.item, unit, slot.bin) for slot, unit in units.items()})
    return -len(set(panels_of(units))), apart * pairs - credit


def _as_given(problem: Problem, choice: Choice, staves: list[Slot]) -> dict[Slot, int]:
    """Return the units that staves were cut for, as far as those came out whole."""
    gives = [
        give for cutting in choice.cuttings for cut in cutting.cuts for give in cut.gives
    ]
    units: dict[Slot, int] = {}
    nets: dict[tuple[int, int], int] = defaultdict(int)
    for slot, give in zip(staves, gives, strict=True):
        if give.unit >= 0:
            units[slot] = give.unit
            nets[give.item, give.unit] += give.net
    return {
        slot: unit
        for slot, unit in units.items()
        if nets[slot.item, unit] >= problem.items[slot.item].need
    }


def _whole_copies(problem: Problem, units: dict[Slot, int]) -> dict[Slot, int]:
    """Leave out the layers of laminates of which a layer is missing."""
    made: dict[tuple[int, int], set[int]] = defaultdict(set)
    for slot, unit in units.items():
        layers = problem.items[slot.item].layers
        made[slot.item, unit // layers].add(unit)
    return {
        slot: unit
        for slot, unit in units.items()
        if len(made[slot.item, unit // problem.items[slot.item].layers])
        == problem.items[slot.item].layers
    }


def _slots(bands: Mapping[int, tuple[Band, ...]]) -> Iterator[Slot]:
    for index, some in bands.items():
        for b, band in enumerate(some):
            for s, strip in enumerate(band.strips):
                for place, (item, size, whole) in enumerate(strip.pieces):
                    yield Slot(index, b, s, place, item, size, whole)


def _solid_units(problem: Problem, slots: Iterable[Slot]) -> dict[Slot, int]:
    """Count solid pieces off; what is beyond the demand is surplus."""
    by_item: dict[int, list[Slot]] = defaultdict(list)
    for slot in slots:
        if not problem.items[slot.item].is_panel:
            by_item[slot.item].append(slot)
    return {
        slot: unit
        for index, own in by_item.items()
        for unit, slot in enumerate(_layers_together(own, problem.items[index]))
    }


def _layers_together(slots: list[Slot], item: Item) -> list[Slot]:
    """Return as many pieces as are wanted, layers of a copy from one board if they can."""
    by_bin: dict[int, list[Slot]] = defaultdict(list)
    for slot in slots[: item.units]:
        by_bin[slot.bin].append(slot)
    whole, rest = [], []
    for own in by_bin.values():
        cut = len(own) - len(own) % item.layers
        whole += own[:cut]
        rest += own[cut:]
    return [*whole, *rest]


def used_bins(problem: Problem, settled: Settled) -> list[Bin]:
    """Return the bins that still have a piece to give, in order."""
    return [problem.bins[index] for index in sorted({slot.bin for slot in settled.units})]
