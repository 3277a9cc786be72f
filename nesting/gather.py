"""A plan from few boards: the cheapest set that holds a little more than the demand.

Cuts of known values tell which sets of boards may hold so many times the demand, and the
cheapest is cut in whole numbers. A set that holds just the demand in fractions seldom
holds it in whole pieces, so a few more or less generous sets are tried. What comes out may
lack something; it is then a start for the search.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace

from nesting.assemble import Model, cuttings_of
from nesting.columns import Rows
from nesting.cuttings import Choice, Cutting, Give, choice_of, cutting_of, everything
from nesting.patterns import Floats, Strip
from nesting.problem import Problem
from nesting.reach import Reach
from nesting.sets import Lot, SetModel, cuts_for
from nesting.settle import Settled, settle

MOST_BOARDS = 10
MOST_WINDOWS = 60
LOSS = 1.5
MOST_CONTENTS = 300


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
    tried: list[frozenset[int]] = field(default_factory=list)

    def gather(self, times: float, seconds: float) -> Choice | None:
        """Return a choice from the cheapest set that holds `times` the demand.

        None if there is no new set, if it is too large, or if there was no time.
        """
        bins = self._set(times)
        if bins is None or len(bins) > MOST_BOARDS:
            return None
        self.tried.append(bins)
        reach = Reach(
            self.problem, [self.problem.bins[index] for index in sorted(bins)], self.rows
        )
        if len(reach.windows) > MOST_WINDOWS:
            return None
        reach.solve(self.prices, self.stop)
        lists = []
        for number in range(len(reach.windows)):
            if self.stop():
                return None
            lists.append(reach.contents(number, LOSS, MOST_CONTENTS))
        pick = Model(reach, lists, self.prices).solve(seconds)
        if pick is None:
            return None
        left = everything(self.problem)
        return _whole(self.problem, cuttings_of(self.problem, pick, left))

    def _set(self, times: float) -> frozenset[int] | None:
        """Return the cheapest set that no known value rules out and that is not tried.

        Offcuts count nothing here: what a set holds beyond the demand is spent in the
        waste that whole pieces leave.
        """
        model = SetModel(self.problem, self.problem.bins)
        model.most_credit = 0
        for duals, worths in self.history:
            for cut in cuts_for(self.lots, self.rows.demand, duals, worths):
                model.add(cut, times)
        for bins in self.tried:
            model.bar(bins)
        found = model.solve(1.0)
        return None if found is None else found.bins


def _whole(problem: Problem, cuttings: Sequence[Cutting]) -> Choice:
    """Return cuttings as a choice, with widths that make every panel whole if any do."""
    rough = _choice(problem, cuttings)
    if rough.is_complete:
        return rough
    settled = settle(problem, rough, 1.0, 1, all_or_none=True)
    again = _choice(problem, [_as_settled(problem, one, settled) for one in cuttings])
    return min(rough, again, key=lambda choice: choice.cost)


def _choice(problem: Problem, cuttings: Sequence[Cutting]) -> Choice:
    left = everything(problem)
    for cutting in cuttings:
        for cut in cutting.cuts:
            left.use(problem, problem.bins[cutting.bin], cut)
    return choice_of(problem, cuttings, left)


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
