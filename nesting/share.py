"""Handing the staves of many boards to panels, so that hardly any width is left over.

Panel after panel gets the staves whose widths add up most nearly to what it needs: a subset
sum over the staves that are left. Then widths are traded within sections, by a linear
program in which each strip has its limits, each section its width, and each panel what it
needs. Where every strip holds one stave this is a network, so widths come out as whole saw
steps; the few others are rounded down and mended from what their sections have to spare.
"""

from __future__ import annotations

import random
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from ortools.linear_solver import pywraplp

from nesting.cuttings import Cut, Cutting, Give, Left, cutting_of, everything, limits
from nesting.patterns import Band, Section, Strip
from nesting.problem import Bin, Item, Problem

CLOSE = 24  # grid steps that trading widths is trusted to mend
MISSES = 3  # times that no staves come that close, until units are begun instead
SHY = 2  # what a step short of a panel's width counts, over one beyond
AMONG = 16  # staves looked at for one panel

Patterns = Mapping[int, Sequence[Section]]


def shared(
    problem: Problem, patterns: Patterns, rng: random.Random
) -> tuple[list[Cutting], Left]:
    """Return patterns (by bin, all of them plain) as cuttings, and what is still wanted.

    What patterns make beyond the demand is surplus: it belongs to no panel.
    """
    nets = _nets(problem, patterns)
    units = {i: units_of(problem.items[i], some, rng) for i, some in nets.items()}
    patterns = _Trade(problem, patterns, {i: iter(u) for i, u in units.items()}).traded()
    nets = _nets(problem, patterns)
    following = {
        i: iter(loosened(problem.items[i], nets[i], some)) for i, some in units.items()
    }
    left = everything(problem)
    cuttings = []
    for index, sections in patterns.items():
        one = problem.bins[index]
        cuts = _cuts(problem, one, sections, following)
        for cut in cuts:
            left.use(problem, one, cut)
        cuttings.append(cutting_of(problem, index, cuts))
    return cuttings, left


Key = tuple[int, int, int]  # bin, section, strip


@dataclass(slots=True)
class _Panel:
    """A panel's staves: how often each strip that may be made wider holds one of them.

    `net` is what the others add, less the joints of these.
    """

    net: int = 0
    strips: dict[Key, int] = field(default_factory=dict)


class _Trade:
    """The linear program of widths, in saw steps."""

    def __init__(
        self, problem: Problem, patterns: Patterns, units: Mapping[int, Iterator[int]]
    ) -> None:
        self.problem = problem
        self.patterns = patterns
        self.panels: dict[tuple[int, int], _Panel] = defaultdict(_Panel)
        self.solver = pywraplp.Solver.CreateSolver("GLOP")
        self.widths: dict[Key, pywraplp.Variable] = {}
        self.rooms: dict[tuple[int, int], int] = {}
        for index, sections in patterns.items():
            for s, section in enumerate(sections):
                self._section(index, s, section, units)
        objective = self.solver.Objective()
        objective.SetMinimization()
        for (i, unit), panel in self.panels.items():
            self._panel(objective, problem.items[i], unit, panel)

    def _section(
        self, index: int, s: int, section: Section, units: Mapping[int, Iterator[int]]
    ) -> None:
        """Give every strip that holds staves a width; all strips fit their section."""
        step, kerf = self.problem.step, self.problem.kerf
        room = self.problem.bins[index].narrow - kerf * (len(section.strips) - 1)
        flexible = []
        for number, strip in enumerate(section.strips):
            key = (index, s, number)
            low, high = limits(self.problem, strip)
            is_free = any(self.problem.items[i].is_panel for i, _, _ in strip.pieces)
            if is_free and low < high and high >= strip.width >= low:
                flexible.append(
                    self.solver.NumVar(float(-(-low // step)), float(high // step), "")
                )
                self.widths[key] = flexible[-1]
            else:
                room -= strip.width
            self._hand_out(key, strip, units)
        if flexible:
            row = self.solver.Constraint(-self.solver.infinity(), float(room // step))
            for width in flexible:
                row.SetCoefficient(width, 1.0)
            self.rooms[index, s] = room // step

    def _hand_out(self, key: Key, strip: Strip, units: Mapping[int, Iterator[int]]) -> None:
        """Note which panels the staves of a strip go to."""
        for i, _, whole in strip.pieces:
            item = self.problem.items[i]
            if not item.is_panel:
                continue
            panel = self.panels[i, next(units[i])]
            if key in self.widths:
                panel.net -= item.joint
                panel.strips[key] = panel.strips.get(key, 0) + 1
            else:
                panel.net += item.need if whole else strip.width - item.joint

    def _panel(
        self, objective: pywraplp.Objective, item: Item, unit: int, panel: _Panel
    ) -> None:
        """Charge what a panel lacks, the more if it should be whole; never a surplus."""
        if unit < 0 or not panel.strips:
            return
        step, begun = self.problem.step, self._is_begun(item, panel)
        least = float((item.low - item.joint) // step) if begun else 0.0
        lack = self.solver.NumVar(least, self.solver.infinity(), "")
        share = 1.0 if begun else 10.0
        objective.SetCoefficient(lack, share * item.length)
        need = -(-(item.need - panel.net) // step)
        row = self.solver.Constraint(float(need), self.solver.infinity())
        row.SetCoefficient(lack, 1.0)
        for key, times in panel.strips.items():
            row.SetCoefficient(self.widths[key], float(times))

    def _is_begun(self, item: Item, panel: _Panel) -> bool:
        """Whether a panel lacks another stave still."""
        width = panel.net + sum(
            times * self.patterns[b][s].strips[number].width
            for (b, s, number), times in panel.strips.items()
        )
        return item.need - width >= item.low - item.joint

    def traded(self) -> Patterns:
        """Return the patterns with the widths that serve the panels best."""
        if not self.widths or self.solver.Solve() != pywraplp.Solver.OPTIMAL:
            return self.patterns
        whole = {
            key: int(width.solution_value() + 1e-6) for key, width in self.widths.items()
        }
        self._mend(whole)
        return {
            index: tuple(
                Section(
                    section.length,
                    tuple(
                        self._strip(strip, whole.get((index, s, number)))
                        for number, strip in enumerate(section.strips)
                    ),
                )
                for s, section in enumerate(sections)
            )
            for index, sections in self.patterns.items()
        }

    def _strip(self, strip: Strip, width: int | None) -> Strip:
        if width is None:
            return strip
        return Strip(width * self.problem.step, strip.pieces)

    def _mend(self, widths: dict[Key, int]) -> None:
        """Widen strips of panels that rounding left a step or two short."""
        spare = dict(self.rooms)
        for (index, s, _), width in widths.items():
            spare[index, s] -= width
        for (i, unit), panel in self.panels.items():
            if unit < 0:
                continue
            need = -(-(self.problem.items[i].need - panel.net) // self.problem.step)
            lack = need - sum(times * widths[key] for key, times in panel.strips.items())
            for key, times in panel.strips.items():
                if lack <= 0:
                    break
                room = min(spare[key[:2]], int(self.widths[key].ub()) - widths[key])
                more = min(room, -(-lack // times))
                widths[key] += more
                spare[key[:2]] -= more
                lack -= more * times


def _nets(problem: Problem, patterns: Patterns) -> dict[int, list[int]]:
    """Return the net widths of the staves of each item, in the order of the patterns."""
    nets: dict[int, list[int]] = defaultdict(list)
    for sections in patterns.values():
        for i, net in _staves(problem, sections):
            nets[i].append(net)
    return dict(sorted(nets.items()))


def _staves(problem: Problem, sections: Iterable[Section]) -> Iterable[tuple[int, int]]:
    """Yield item and net width of every stave, in the order that `Cut.gives` has."""
    for section in sections:
        for strip in section.strips:
            for i, _, whole in strip.pieces:
                item = problem.items[i]
                if item.is_panel:
                    yield i, item.need if whole else strip.width - item.joint


def _cuts(
    problem: Problem,
    one: Bin,
    sections: Iterable[Section],
    units: Mapping[int, Iterator[int]],
) -> list[Cut]:
    """Lay sections along a bin; each stave takes the next unit of its item."""
    cuts, x = [], 0
    for section in sections:
        band = Band(x, 0, section.length, one.narrow, section.strips)
        gives = tuple(
            Give(i, next(units[i]), net) for i, net in _staves(problem, [section])
        )
        pieces = tuple(
            i
            for strip in section.strips
            for i, _, _ in strip.pieces
            if not problem.items[i].is_panel
        )
        credit = section_credit(problem, one, section)
        cuts.append(Cut(x, section.length, (band,), pieces, gives, credit))
        x += section.length + problem.kerf
    return cuts


def section_credit(problem: Problem, one: Bin, section: Section) -> float:
    """Return the credit, in cents, of what is kept beside and behind a section's strips."""
    kerf, area, used = problem.kerf, 0, 0
    for strip in section.strips:
        used += strip.width + kerf
        row = sum(problem.items[i].sizes[s][0] + kerf for i, s, _ in strip.pieces)
        rest = section.length - row
        if rest >= problem.keep_length and strip.width >= problem.keep_width:
            area += rest * strip.width
    beside = one.narrow - used
    if beside >= problem.keep_width and section.length >= problem.keep_length:
        area += beside * section.length
    return one.credit * area


def units_of(item: Item, nets: Sequence[int], rng: random.Random) -> list[int]:
    """Return the unit of each stave of an item, by their net widths; -1 for surplus.

    Units are made whole while some staves nearly meet their width. The other staves begin
    units, so that each still lacks a stave at least.
    """
    found = [-1] * len(nets)
    waiting = sorted(range(len(nets)), key=lambda k: (-nets[k], k))
    unit, misses = 0, 0
    while unit < item.units and misses < MISSES:
        if sum(nets[k] for k in waiting) < item.need - CLOSE:
            break
        picked = _closest(item, nets, waiting, rng)
        if abs(sum(nets[k] for k in picked) - item.need) > CLOSE:
            misses += 1
            continue
        for k in picked:
            found[k] = unit
        taken = set(picked)
        waiting = [k for k in waiting if k not in taken]
        unit += 1
    lack = dict.fromkeys(range(unit, item.units), item.need)
    for k in waiting:
        found[k] = _next_unit(item, nets[k], lack)
        if found[k] >= 0:
            lack[found[k]] -= nets[k]
    return found


def _next_unit(item: Item, net: int, lack: Mapping[int, int]) -> int:
    """Return the unit that a stave goes to, given what each lacks; -1 if none takes it.

    One that lacks as little as possible, but a stave, after it; or else one that is whole
    with it and has as little too much as possible.
    """
    least = item.low - item.joint
    after = [(width - net, unit) for unit, width in lack.items() if width > 0]
    roomy = [one for one in after if one[0] >= least]
    if roomy:
        return min(roomy)[1]
    return max(after)[1] if after else -1


def loosened(item: Item, nets: Sequence[int], units: Sequence[int]) -> list[int]:
    """Return units so that no panel lacks less than the narrowest stave, if it can be.

    A panel that does gives one of its staves to another that lacks more, or begins one.
    """
    found, least = list(units), item.low - item.joint
    lack = [item.need] * item.units
    for k, unit in enumerate(found):
        if unit >= 0:
            lack[unit] -= nets[k]
    for unit in range(item.units):
        if not 0 < lack[unit] < least:
            continue
        moves = [
            (lack[other] - nets[k], k, other)
            for k, own in enumerate(found)
            if own == unit
            for other in range(item.units)
            if other != unit and lack[other] - nets[k] >= least
        ]
        if moves:
            _, k, other = min(moves)
            found[k] = other
            lack[unit] += nets[k]
            lack[other] -= nets[k]
    return found


State = tuple[int, int]  # net width, staves


def _closest(
    item: Item, nets: Sequence[int], waiting: list[int], rng: random.Random
) -> list[int]:
    """Return staves whose net widths add up to about what a panel needs.

    As many as could be made wide enough together, and of those the nearest.
    """
    among = waiting
    if len(waiting) > AMONG:
        among = sorted(rng.sample(waiting, AMONG), key=lambda k: (-nets[k], k))
        if sum(nets[k] for k in among) < item.need:
            among = waiting
    parents: dict[State, tuple[State, int]] = {}
    states: list[State] = [(0, 0)]
    best, off = (0, 0), SHY * item.need
    for k in among:
        for state in states[:]:
            more = (state[0] + nets[k], state[1] + 1)
            if more in parents or more[0] - item.need > off:
                continue
            parents[more] = (state, k)
            if more[0] < item.need:
                states.append(more)
            miss = max(more[0] - item.need, SHY * (item.need - more[0]))
            if miss < off and (more[0] >= item.need or more[1] >= item.staves):
                best, off = more, miss
        if off == 0:
            break
    picked: list[int] = []
    while best != (0, 0):
        best, k = parents[best]
        picked.append(k)
    return picked or waiting
