"""From a choice of sections to real staves: widths for strips, staves for panels.

The choice counts net width by the running inch; here each panel must come out whole. One
CP-SAT model gives every strip that holds staves a width within its section and hands
staves to panels, so that each panel reaches its net width from as few boards as possible.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from itertools import pairwise

from ortools.sat.python import cp_model

from nesting.cuttings import Choice, limits, scope_of
from nesting.patterns import Band, Strip
from nesting.problem import Bin, Item, Problem
from nesting.solvers import solver_for


@dataclass(frozen=True, slots=True)
class Slot:
    """One piece in a strip: where it is, and what item it is a piece of."""

    bin: int
    band: int
    strip: int
    place: int
    item: int
    size: int
    whole: bool


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
    widths: Mapping[tuple[int, int, int], int]
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
) -> Settled:
    """Give every strip its width and every piece its copy.

    Panels that can't be made whole in time are left out; `Settled.made` tells. With
    `all_or_none` any widths that make every panel whole will do, which is faster. `work`
    limits CP-SAT's deterministic time; 0 does not.
    """
    bands = {cutting.bin: cutting.bands for cutting in choice.cuttings}
    slots = tuple(_slots(bands))
    widths = {
        (slot.bin, slot.band, slot.strip): _strip(bands, slot).width for slot in slots
    }
    units = _solid_units(problem, slots)
    staves = [slot for slot in slots if problem.items[slot.item].is_panel]
    if staves:
        given = _as_given(problem, choice, staves)
        detail = _Detail(problem, bands, staves, all_or_none=all_or_none)
        detail.hint(given, widths)
        found = detail.solve(seconds, seed, work)
        if len(set(_panels(found[1]))) >= len(set(_panels(given))):
            widths.update(found[0])
            units.update(found[1])
        else:
            units.update(given)
    return Settled(bands, widths, _whole_copies(problem, units))


def as_given(problem: Problem, choice: Choice) -> Settled:
    """Settle a choice as it was cut: each strip as wide, each stave in its own panel."""
    bands = {cutting.bin: cutting.bands for cutting in choice.cuttings}
    slots = tuple(_slots(bands))
    widths = {
        (slot.bin, slot.band, slot.strip): _strip(bands, slot).width for slot in slots
    }
    staves = [slot for slot in slots if problem.items[slot.item].is_panel]
    units = _solid_units(problem, slots) | _as_given(problem, choice, staves)
    return Settled(bands, widths, _whole_copies(problem, units))


def _panels(units: Mapping[Slot, int]) -> Iterator[tuple[int, int]]:
    """Yield the panel (item and unit) of every stave."""
    for slot, unit in units.items():
        yield slot.item, unit


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


def _strip(bands: Mapping[int, tuple[Band, ...]], slot: Slot) -> Strip:
    return bands[slot.bin][slot.band].strips[slot.strip]


def _solid_units(problem: Problem, slots: Iterable[Slot]) -> dict[Slot, int]:
    """Count solid pieces off; what is beyond the demand is surplus."""
    units: dict[Slot, int] = {}
    counted: dict[int, int] = defaultdict(int)
    for slot in slots:
        item = problem.items[slot.item]
        if not item.is_panel and counted[slot.item] < item.units:
            units[slot] = counted[slot.item]
            counted[slot.item] += 1
    return units


class _Detail:
    """The model of strips, widths and panels; one method per rule."""

    def __init__(
        self,
        problem: Problem,
        bands: Mapping[int, tuple[Band, ...]],
        staves: list[Slot],
        *,
        all_or_none: bool,
    ) -> None:
        self.problem = problem
        self.bands = bands
        self.staves = staves
        self.model = cp_model.CpModel()
        self.terms: list[cp_model.LinearExprT] = []
        self.width: dict[tuple[int, int, int], cp_model.IntVar] = {}
        self.give: dict[tuple[Slot, int], cp_model.IntVar] = {}
        self.whole: dict[tuple[int, int], cp_model.IntVar] = {}
        self._widths()
        self._strips_fit_their_band()
        by_item: dict[int, list[Slot]] = defaultdict(list)
        for slot in staves:
            by_item[slot.item].append(slot)
        for index, slots in by_item.items():
            self._panels(problem.items[index], slots)
        if all_or_none:
            self.model.add_bool_and(self.whole.values())
        else:
            self.model.minimize(sum(self.terms))

    def _widths(self) -> None:
        """`width[strip]` in saw steps, for every strip that holds staves."""
        step = self.problem.step
        for slot in self.staves:
            key = (slot.bin, slot.band, slot.strip)
            if key not in self.width:
                low, high = limits(self.problem, _strip(self.bands, slot))
                if self.bands[slot.bin][slot.band].starts:
                    low = high = max(low, _strip(self.bands, slot).width)
                self.width[key] = self.model.new_int_var(
                    -(-low // step), max(-(-low // step), high // step), ""
                )
                self.terms.append(self.width[key])

    def _strips_fit_their_band(self) -> None:
        """Let the strips of a band and the kerfs between them fit in its height."""
        step, kerf = self.problem.step, self.problem.kerf
        for index, some in self.bands.items():
            for b, band in enumerate(some):
                flexible = [
                    s for s in range(len(band.strips)) if (index, b, s) in self.width
                ]
                if not flexible:
                    continue
                rigid = sum(
                    strip.width for s, strip in enumerate(band.strips) if s not in flexible
                )
                room = band.height - rigid - kerf * (len(band.strips) - 1)
                self.model.add(
                    sum(step * self.width[index, b, s] for s in flexible) <= room
                )

    def _panels(self, item: Item, slots: list[Slot]) -> None:
        """Each unit gets staves that reach its net width, or is not made."""
        weight = 100 * max(1, item.units)
        makes = []
        for unit in range(item.units):
            make = self.model.new_bool_var("")
            makes.append(make)
            self.whole[item.index, unit] = make
            self.terms.append(-1_000_000 * make)
            given = []
            for slot in slots:
                give = self.model.new_bool_var("")
                self.give[slot, unit] = give
                given.append(self._net(item, slot, give))
            self.model.add(sum(given) >= item.need * make)
            self._few_boards(slots, unit, weight)
        for slot in slots:
            self.model.add_at_most_one(self.give[slot, unit] for unit in range(item.units))
        if item.layers == 1 and item.match == "none":
            for first, second in pairwise(makes):
                self.model.add_implication(second, first)
        self._share_scopes(item, slots)

    def _net(self, item: Item, slot: Slot, give: cp_model.IntVar) -> cp_model.LinearExprT:
        """Net width that a stave adds to a panel it is given to."""
        if slot.whole:
            return item.need * give
        width = self.width[slot.bin, slot.band, slot.strip]
        most = item.high - item.joint
        net = self.model.new_int_var(0, most, "")
        self.model.add(net <= most * give)
        self.model.add(net <= self.problem.step * width - item.joint)
        return net

    def _few_boards(self, slots: list[Slot], unit: int, weight: int) -> None:
        """Every board that adds to a panel counts a little."""
        for index in sorted({slot.bin for slot in slots}):
            used = self.model.new_bool_var("")
            for slot in slots:
                if slot.bin == index:
                    self.model.add_implication(self.give[slot, unit], used)
            self.terms.append(weight * used)

    def _share_scopes(self, item: Item, slots: list[Slot]) -> None:
        """All staves of a matched copy, all its layers, come from one board or log."""
        if item.match == "none":
            return
        scopes = {slot: scope_of(item, self.problem.bins[slot.bin]) for slot in slots}
        for copy in range(item.units // item.layers):
            picks = {
                scope: self.model.new_bool_var("") for scope in sorted(set(scopes.values()))
            }
            self.model.add_at_most_one(picks.values())
            for unit in range(copy * item.layers, (copy + 1) * item.layers):
                for slot in slots:
                    self.model.add_implication(self.give[slot, unit], picks[scopes[slot]])

    def hint(
        self, given: Mapping[Slot, int], widths: Mapping[tuple[int, int, int], int]
    ) -> None:
        """Start from the widths and panels that the staves were cut for."""
        for key, width in self.width.items():
            self.model.add_hint(width, widths[key] // self.problem.step)
        for (slot, unit), give in self.give.items():
            self.model.add_hint(give, given.get(slot) == unit)
        made = set(_panels(given))
        for panel, make in self.whole.items():
            self.model.add_hint(make, panel in made)

    def solve(
        self, seconds: float, seed: int, work: float
    ) -> tuple[dict[tuple[int, int, int], int], dict[Slot, int]]:
        """Return strip widths and the unit of every stave that a whole panel uses."""
        solver = solver_for(seconds, seed, work)
        solver.parameters.relative_gap_limit = 1e-6
        status = solver.solve(self.model)
        if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
            return {}, {}
        widths = {
            key: solver.value(width) * self.problem.step
            for key, width in self.width.items()
        }
        units: dict[Slot, int] = {}
        for (slot, unit), give in self.give.items():
            if solver.boolean_value(give) and solver.boolean_value(
                self.whole[slot.item, unit]
            ):
                units[slot] = unit
        return widths, _trimmed(self.problem, widths, units)


def _trimmed(
    problem: Problem, widths: Mapping[tuple[int, int, int], int], units: dict[Slot, int]
) -> dict[Slot, int]:
    """Take back staves that a panel reaches its width without."""
    nets: dict[tuple[int, int], int] = defaultdict(int)
    net_of = {}
    for slot, unit in units.items():
        item = problem.items[slot.item]
        net_of[slot] = widths[slot.bin, slot.band, slot.strip] - item.joint
        nets[slot.item, unit] += net_of[slot]
    kept = dict(units)
    for slot in sorted(units, key=lambda slot: net_of[slot]):
        key = (slot.item, units[slot])
        if nets[key] - net_of[slot] >= problem.items[slot.item].need:
            nets[key] -= net_of[slot]
            del kept[slot]
    return kept


def used_bins(problem: Problem, settled: Settled) -> list[Bin]:
    """Return the bins that still have a piece to give, in order."""
    return [problem.bins[index] for index in sorted({slot.bin for slot in settled.units})]
