"""A plan from few boards: the cheapest set that holds a little more than the demand.

Cuts of known values tell which sets of boards may hold so many times the demand, and the
cheapest is cut in whole numbers. A set that holds just the demand in fractions seldom
holds it in whole pieces, so a few more or less generous sets are tried. What comes out may
lack something; it is then a start for the search.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace

from nesting.assemble import Model, Pick, cuttings_of
from nesting.columns import Rows
from nesting.cuttings import (
    Choice,
    Cutting,
    Give,
    Left,
    choice_of,
    cutting_of,
    everything,
    scope_of,
    unit_for,
)
from nesting.limits import Limit
from nesting.patterns import Floats, Strip
from nesting.problem import Problem
from nesting.reach import FULL, Reach
from nesting.sets import Lot, SetModel
from nesting.settle import Settled, settle
from nesting.windows import windows_for

MOST_BOARDS = 14
MOST_WINDOWS = 60
LOSS = 1.5  # what a section may lose at least, in thousandths of the demand
SECTIONS = 3  # about so many a board
MOST_CONTENTS = 150
SMALL = 0.08


@dataclass(slots=True)
class Gatherer:
    """What sets are chosen with, and the sets that were tried.

    Attributes
    ----------
    history
        Vectors of duals with each bin's best value.
    prices
        What lacks count, per row of the demand, in cents.
    """

    problem: Problem
    rows: Rows
    lots: Sequence[Lot]
    history: Sequence[tuple[Floats, Floats]]
    prices: Floats
    stop: Callable[[], bool]
    limit: Limit
    tried: list[frozenset[int]] = field(default_factory=list)
    useless: tuple[int, ...] = field(init=False)

    def __post_init__(self) -> None:
        """Find the bins that marks leave no window for: their bound may not see that."""
        self.useless = tuple(
            one.index for one in self.problem.bins if not windows_for(self.problem, one)
        )

    def prepare(self, bins: frozenset[int]) -> Model | None:
        """Return the program that cuts a set of bins.

        None if the set is too large for that, or if there was no time.
        """
        if len(bins) > MOST_BOARDS:
            return None
        chosen = [self.problem.bins[index] for index in sorted(bins)]
        reach = Reach(self.problem, chosen, large_rows(self.problem, self.rows))
        if len(reach.windows) > MOST_WINDOWS:
            return None
        reach.solve(self.prices, self.stop)
        spare = FULL * max(0.0, reach.times - 1.0) / (SECTIONS * len(chosen))
        loss = max(LOSS, 2.0 * spare)
        lists = []
        for number in range(len(reach.windows)):
            if self.stop():
                return None
            lists.append(reach.contents(number, loss, MOST_CONTENTS))
        return Model(reach, lists, self.prices)

    def choice(self, pick: Pick) -> Choice:
        """Return picked sections as a choice; it may lack something."""
        left = everything(self.problem)
        return _whole(self.problem, cuttings_of(self.problem, pick, left), self.limit)

    def next_set(self, times: float) -> frozenset[int] | None:
        """Return the cheapest set that may hold `times` the demand and is not tried yet.

        Offcuts count nothing here: what a set holds beyond the demand is spent in the
        waste that whole pieces leave.
        """
        model = SetModel(self.problem, self.problem.bins)
        model.most_credit = 0
        model.add_all(self.lots, self.rows.demand, self.history, times)
        for bins in self.tried:
            model.bar(bins)
        for index in self.useless:
            model.take[index].SetUb(0.0)
        found = model.solve(self.limit.time(0.0, 1.0), self.limit.nodes)
        if found is None or not found.bins:
            return None
        self.tried.append(found.bins)
        return found.bins


def large_rows(problem: Problem, rows: Rows) -> Rows:
    """Return the demand without the smallest pieces, `SMALL` of the area in all.

    Small pieces find room in what the others leave; with them there would be too many
    ways to fill a section.
    """
    demand = rows.demand.copy()
    spare = SMALL * sum(item.area * item.units for item in problem.items)
    for item in sorted(problem.items, key=lambda item: item.area):
        spare -= item.area * item.units
        if spare < 0:
            break
        first = rows.first[item.index]
        demand[first : first + 1 + item.is_panel] = 0.0
    for item in problem.items:  # widths are traded in whole steps: that takes some room
        if item.is_panel and demand[rows.first[item.index]]:
            demand[rows.first[item.index]] += 2 * problem.step * item.units
    return replace(rows, demand=demand)


def _whole(problem: Problem, cuttings: Sequence[Cutting], limit: Limit) -> Choice:
    """Return cuttings as a choice, with widths that make as many panels whole as may be.

    Staves that no whole panel uses go to the panels that are not whole.
    """
    rough = _choice(problem, cuttings)
    if rough.is_complete:
        return rough
    settled = settle(problem, rough, limit.time(0.0, 1.5), 1, work=limit.work)
    again = [_as_settled(problem, one, settled) for one in cuttings]
    left = everything(problem).use_all(problem, again)
    given = [_given(problem, one, left) for one in again]
    return min(rough, _choice(problem, given), key=lambda choice: choice.cost)


def _given(problem: Problem, cutting: Cutting, left: Left) -> Cutting:
    """Return a cutting whose surplus staves are given to panels that want them."""
    one = problem.bins[cutting.bin]
    cuts = []
    for cut in cutting.cuts:
        gives = []
        for give in cut.gives:
            item, unit = problem.items[give.item], give.unit
            if unit < 0:
                scope = scope_of(item, one)
                unit = unit_for(item, left.panels[item.index], scope)
                if unit >= 0:
                    left.give(item, unit, give.net, scope)
            gives.append(replace(give, unit=unit))
        cuts.append(replace(cut, gives=tuple(gives)))
    return replace(cutting, cuts=tuple(cuts))


def _choice(problem: Problem, cuttings: Sequence[Cutting]) -> Choice:
    return choice_of(problem, cuttings, everything(problem).use_all(problem, cuttings))


def _as_settled(problem: Problem, cutting: Cutting, settled: Settled) -> Cutting:
    """Return a cutting with the widths and the panels of a settled choice."""
    units = {
        (slot.band, slot.strip, slot.place): unit
        for slot, unit in settled.units.items()
        if slot.bin == cutting.bin
    }
    cuts = []
    number = 0
    for cut in cutting.cuts:
        bands, gives = [], []
        for band in cut.bands:
            strips = []
            for s, strip in enumerate(band.strips):
                width = settled.widths.get((cutting.bin, number, s), strip.width)
                strips.append(Strip(width, strip.pieces))
                for place, (i, _, is_whole) in enumerate(strip.pieces):
                    item = problem.items[i]
                    if item.is_panel:
                        net = item.need if is_whole else width - item.joint
                        gives.append(Give(i, units.get((number, s, place), -1), net))
            bands.append(replace(band, strips=tuple(strips)))
            number += 1
        cuts.append(replace(cut, bands=tuple(bands), gives=tuple(gives)))
    return cutting_of(problem, cutting.bin, cuts)
