"""Choosing the ways in which parts come out of wood: a few are planned, the best longer.

The program of all ways (`nesting.every_way`) names choices worth planning, and proves what
none goes below. The usual ways, which are all there is without resawing and layers, are
always among them.
"""

from __future__ import annotations

import time
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from decimal import Decimal
from typing import TYPE_CHECKING

from nesting.arranging import PAIRED
from nesting.every_way import Outlook, Shares, every_way, outlook, proven
from nesting.parts import Part, Way
from nesting.plan import Plan
from nesting.problem import Problem
from nesting.project import Project
from nesting.totals import totals_for

if TYPE_CHECKING:
    from nesting.solve import SolveParams

MOST_TRIES = 5  # choices that are planned at all
LOOK_SHARE, SETS_SHARE = 0.25, 0.35  # of the time, when the programs of all ways end
LOOK_SECONDS = 1.0  # for them at least: a plan without a bound says little
LEAST_SECONDS = 0.3  # for a plan
TRY_SHARES = ((0.04, MOST_TRIES), (0.12, 2))  # for one plan, and of how many choices
LAST_SHARE = 0.3  # for the last one, at least

WayChoice = Mapping[str, tuple[tuple[Way, int], ...]]
Search = Callable[[Project, "SolveParams", bool], Plan]
CutCost = Callable[[Problem, Sequence[int]], float]
RULE = (
    "the bound holds for all ways that builds admit: planed down, resawn into leaves, "
    "glued up from layers, copies by themselves or interlocked in nests"
)


class WaySearch:
    """One project with parts whose thickness may come about in several ways.

    Parameters
    ----------
    ways
        The ways of each such part, the usual one first.
    search
        Plans a project within parameters, in the ways it names, and goes on from what it
        found for the same ways before; nothing is verified.
    cut_cost
        What the cuts that free so many units of a problem's items cost at least, in cents.
    """

    def __init__(
        self,
        project: Project,
        ways: Mapping[str, tuple[Way, ...]],
        params: SolveParams,
        search: Search,
        stop: Callable[[], bool],
        cut_cost: CutCost,
    ) -> None:
        self.project, self.ways, self.params = project, ways, params
        self.search, self.stop, self.cut_cost = search, stop, cut_cost
        self.begun, self.spent = time.monotonic(), 0  # steps
        self.floor = 0.0  # in cents, what no choice goes below, as soon as that is known
        self.every = every_way(project, ways)
        self.paired = {
            part.name
            for part in project.parts
            if part.match in PAIRED and any(w.leaves > 1 for w in ways.get(part.name, ()))
        }

    def best(self) -> tuple[Project, Plan]:
        """Return the project in the ways chosen, and its plan with a bound on all ways."""
        known = self._outlook()
        self.floor = known.bound
        tries = self._choices(known)
        found: list[tuple[WayChoice, Plan]] = []
        for share, most in TRY_SHARES:
            for choice in tries[:most] if len(tries) > 1 else ():
                if not found or not self._late(1.0 - LAST_SHARE):
                    plan = self._planned(choice, self._share(share), is_try=True)
                    found.append((choice, plan))
            found.sort(key=self._rank)
            tries = _each_once(choice for choice, _ in found) or tries
        if not found or not self.stop():
            plan = self._planned(tries[0], self._rest(), is_try=False)
            found.append((tries[0], plan))
        choice, plan = min(found, key=self._rank)
        return replace(self.project, ways=choice), self._with_bound(plan, known)

    def _planned(self, choice: WayChoice, params: SolveParams, *, is_try: bool) -> Plan:
        self.spent += params.steps
        return self.search(replace(self.project, ways=choice), params, is_try)

    def _rank(self, made: tuple[WayChoice, Plan]) -> tuple[int, Decimal, int]:
        """Return what is to be small: copies short, cost, panels without a second leaf."""
        plan = made[1]
        lone = 0
        for panel in plan.panels:
            leaves = {(stave.board, stave.leaf) for stave in panel.staves}
            lone += panel.part in self.paired and len(leaves) == 1
        return len(plan.short), plan.totals.cost, lone

    def _outlook(self) -> Outlook:
        if not self.every.problem.bins:
            return Outlook(0.0, "column generation", ())
        is_steady = self.params.steps > 0
        return outlook(
            self.every,
            stop=lambda: self._late(LOOK_SHARE, least=LOOK_SECONDS),
            stop_sets=lambda: self._late(SETS_SHARE, least=LOOK_SECONDS),
            seconds=3600.0 if is_steady else max(0.2, 0.05 * self.params.seconds),
            nodes=100 if is_steady else 0,
        )

    def _late(self, share: float, least: float = 0.0) -> bool:
        """Whether that share of the time is gone, or the maker wants to stop."""
        gone = time.monotonic() - self.begun
        is_steady = self.params.steps > 0
        end = max(least, share * self.params.seconds)
        return self.stop() or (not is_steady and gone > end)

    def _choices(self, known: Outlook) -> list[WayChoice]:
        """Return choices worth planning, each once: the usual ways first."""
        return _each_once(self._wishes(known))[:MOST_TRIES]

    def _wishes(self, known: Outlook) -> Iterator[WayChoice]:
        parts = {part.name: part for part in self.project.parts}
        several = [parts[name] for name in self.ways]
        usual = {part.name: ((self.ways[part.name][0], part.copies),) for part in several}
        yield usual
        for shares in reversed(known.shares):
            for rounded in (mixed, mainly):
                chosen = {part.name: rounded(part, shares) for part in several}
                yield {name: ways or usual[name] for name, ways in chosen.items()}
        resawn = {name: own for name, own in usual.items() if name not in self.paired}
        for name in self.paired:
            way = next(way for way in self.ways[name] if way.leaves > 1)
            resawn[name] = ((way, usual[name][0][1]),)
        yield resawn
        for name, copies in _most_unusual(usual, known.shares):
            yield {**usual, name: copies}

    def _share(self, share: float) -> SolveParams:
        return replace(
            self.params,
            seconds=max(LEAST_SECONDS, share * self.params.seconds),
            steps=max(1, int(share * self.params.steps)) if self.params.steps else 0,
        )

    def _rest(self) -> SolveParams:
        """Return what is left of the time or the steps, a share of them at least."""
        left = 1.0 - (time.monotonic() - self.begun) / self.params.seconds
        if self.params.steps:
            left = 1.0 - self.spent / self.params.steps
        return self._share(max(LAST_SHARE, left))

    def _with_bound(self, plan: Plan, known: Outlook) -> Plan:
        """Return the plan with what is proven of all ways to make what it makes."""
        bound, name, copies = known.bound, known.bound_name, None
        if plan.short:
            missing = Counter(short.part for short in plan.short)
            copies = {
                part.name: part.copies - missing[part.name] for part in self.project.parts
            }
            bound, name = proven(self.every, copies), "column generation"
        units = self.every.fewest_units(copies)
        cents = bound + self.cut_cost(self.every.problem, units)
        totals = totals_for(
            self.project, plan.boards, plan.sheets,
            (Decimal(max(0, int(cents - 0.01))) / 100, name),
            time.monotonic() - self.begun,
        )  # fmt: skip
        return replace(plan, totals=totals, rules=(*plan.rules, RULE))


def _each_once(choices: Iterable[WayChoice]) -> list[WayChoice]:
    """Return choices in their order, without those that came before."""
    found: list[WayChoice] = []
    for choice in choices:
        if choice not in found:
            found.append(choice)
    return found


def mixed(part: Part, shares: Shares) -> tuple[tuple[Way, int], ...]:
    """Return copies by way near their shares, those of solid pieces in whole pieces."""
    found = sorted(shares.get(part.name, {}).items(), key=lambda one: (-one[1], one[0]))
    if not found:
        return ()
    left = part.copies
    counts: dict[Way, int] = {}
    for way, share in found[1:]:
        counts[way] = min(left, way.per_piece * round(share / way.per_piece))
        left -= counts[way]
    counts[found[0][0]] = left
    return full_nests(counts)


def mainly(part: Part, shares: Shares) -> tuple[tuple[Way, int], ...]:
    """Return all copies in the way that most of them are made in."""
    found = shares.get(part.name)
    if not found:
        return ()
    best = max(found, key=lambda way: (found[way], -way.per_piece))
    return full_nests({best: part.copies})


def full_nests(counts: Mapping[Way, int]) -> tuple[tuple[Way, int], ...]:
    """Return copies by way, each nest full: what is left over has blanks of its own."""
    found: Counter[Way] = Counter()
    for way, count in counts.items():
        over = count % way.nested
        found[way] += count - over
        found[Way()] += over
    return tuple(sorted((way, count) for way, count in found.items() if count > 0))


def _most_unusual(
    usual: WayChoice, known: tuple[Shares, ...]
) -> Iterator[tuple[str, tuple[tuple[Way, int], ...]]]:
    """Yield parts with the unusual way that most of their copies are made in, by share."""
    found = {
        (name, way): share
        for shares in known
        for name, own in shares.items()
        for way, share in own.items()
        if name in usual and way != usual[name][0][0] and share > 0
    }
    for name, way in sorted(found, key=lambda one: (-found[one], one)):
        yield name, full_nests({way: usual[name][0][1]})
