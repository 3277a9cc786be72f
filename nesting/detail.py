"""The model that gives strips their widths and staves their panels (CP-SAT)."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import pairwise

from ortools.sat.python import cp_model

from nesting.cuttings import beside_credit, limits, scope_of
from nesting.patterns import Band, Strip
from nesting.problem import Item, Problem
from nesting.solvers import solver_for

# The objective counts hundredths of a cent; a step of width is one, so that widths are
# cut no wider than a panel needs; a whole panel outweighs all that.
CENT = 100
WHOLE = 10**9

Key = tuple[int, int, int]


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


class Detail:
    """The model of strips, widths and panels; one method per rule.

    `apart` is what each board counts that gives staves to a panel, in cents.
    """

    def __init__(
        self,
        problem: Problem,
        bands: Mapping[int, tuple[Band, ...]],
        staves: list[Slot],
        *,
        all_or_none: bool,
        apart: float = 0.0,
    ) -> None:
        self.problem = problem
        self.apart = max(1, round(CENT * apart))
        self.bands = bands
        self.staves = staves
        self.model = cp_model.CpModel()
        self.terms: list[cp_model.LinearExprT] = []
        self.width: dict[Key, cp_model.IntVar] = {}
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
                low, high = limits(self.problem, strip_of(self.bands, slot))
                if self.bands[slot.bin][slot.band].starts:
                    low = high = max(low, strip_of(self.bands, slot).width)
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
                taken = sum(step * self.width[index, b, s] for s in flexible)
                self.model.add(taken <= room)
                self._keep_beside(index, band, room - taken)

    def _keep_beside(self, index: int, band: Band, room: cp_model.LinearExprT) -> None:
        """Credit the strip that stays beside a band, while it is wide enough to keep."""
        problem = self.problem
        if beside_credit(problem, index, band, [s.width for s in band.strips]) <= 0:
            return
        rest = self.model.new_int_var(0, band.height, "")
        kept = self.model.new_bool_var("")
        self.model.add(rest <= room - problem.kerf).only_enforce_if(kept)
        self.model.add(rest >= problem.keep_width).only_enforce_if(kept)
        self.model.add(rest == 0).only_enforce_if(kept.negated())
        worth = problem.bins[index].credit * band.length * CENT
        self.terms.append(-round(worth) * rest)

    def _panels(self, item: Item, slots: list[Slot]) -> None:
        """Each unit gets staves that reach its net width, or is not made."""
        makes = []
        for unit in range(item.units):
            make = self.model.new_bool_var("")
            makes.append(make)
            self.whole[item.index, unit] = make
            self.terms.append(-WHOLE * make)
            given = []
            for slot in slots:
                give = self.model.new_bool_var("")
                self.give[slot, unit] = give
                given.append(self._net(item, slot, give))
            self.model.add(sum(given) >= item.need * make)
            self._few_boards(slots, unit)
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

    def _few_boards(self, slots: list[Slot], unit: int) -> None:
        """Every board that adds to a panel counts a little."""
        for index in sorted({slot.bin for slot in slots}):
            used = self.model.new_bool_var("")
            for slot in slots:
                if slot.bin == index:
                    self.model.add_implication(self.give[slot, unit], used)
            self.terms.append(self.apart * used)

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

    def hint(self, given: Mapping[Slot, int], widths: Mapping[Key, int]) -> None:
        """Start from the widths and panels that the staves were cut for."""
        for key, width in self.width.items():
            self.model.add_hint(width, widths[key] // self.problem.step)
        for (slot, unit), give in self.give.items():
            self.model.add_hint(give, given.get(slot) == unit)
        made = set(panels_of(given))
        for panel, make in self.whole.items():
            self.model.add_hint(make, panel in made)

    def solve(
        self, seconds: float, seed: int, work: float
    ) -> tuple[dict[Key, int], dict[Slot, int]]:
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
        return widths, trimmed(self.problem, widths, units)


def trimmed(
    problem: Problem, widths: Mapping[Key, int], units: dict[Slot, int]
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


def strip_of(bands: Mapping[int, tuple[Band, ...]], slot: Slot) -> Strip:
    """Return the strip that a piece is in."""
    return bands[slot.bin][slot.band].strips[slot.strip]


def panels_of(units: Mapping[Slot, int]) -> Iterator[tuple[int, int]]:
    """Yield the panel (item and unit) of every stave."""
    for slot, unit in units.items():
        yield slot.item, unit
