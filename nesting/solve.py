"""The recipe: from a project to a verified plan with a proven bound."""

from __future__ import annotations

import math
import random
import time
from collections.abc import Callable, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass, replace
from decimal import Decimal
from functools import partial
from itertools import cycle
from typing import Any

import numpy as np

from nesting.agreeing import with_widths_agreed
from nesting.agreeing_widths import Patience
from nesting.alike import dive
from nesting.arranged import with_panels_arranged
from nesting.assemble import Model, Pick
from nesting.build import build_once, cheapness, raised
from nesting.bulk import relax_large
from nesting.columns import Column, Relaxation, kernels_for, known_column, relax, rows_for
from nesting.compiled import IS_COMPILED
from nesting.cuttings import SCALE, Choice
from nesting.exclude import Terms, rule_out
from nesting.gather import Gatherer
from nesting.improve import Places, Search, improve, lack_prices
from nesting.large import LargeSearch, Watch, is_large
from nesting.layout import Namer, cut_board, panels_for
from nesting.limits import Limit
from nesting.offcut_parts import with_offcut_parts
from nesting.outright import choice_for, is_plain, is_uniform, most_allowed, outright
from nesting.patterns import Floats, Kernel, Values
from nesting.plan import COMPLETE, SHORT, Plan, Totals
from nesting.problem import Problem, problem_for
from nesting.project import Project
from nesting.select import Selection, select, sets_below
from nesting.sets import lots_for
from nesting.sets_alike import sets_of
from nesting.settle import Settled, as_given, settle, used_bins
from nesting.sheet_plan import (
    after_lumber,
    cut_sheets,
    goods_of,
    has_sheet_parts,
    joined,
    lumber_of,
)
from nesting.shortage import shortages, to_buy
from nesting.suiting import Suiting, first_share
from nesting.swift import search_for
from nesting.thickness import ways_in
from nesting.totals import totals_for
from nesting.verify import verify
from nesting.way_search import WaySearch
from stock.errors import Fault, InputError, VerificationError

# How many times the demand a set of boards should hold in fractions to hold it in whole
# pieces: 3 to 6 % more, by trials on random projects. The first set is a generous one.
FIRST_TIMES = 1.065
TIMES = (1.03, 1.06, 1.035, 1.05, 1.08, 1.045)
SPEAK_FROM = 0.02  # gap from which on the sets of boards in it are counted
WARM = 1.0  # seconds that the loops take to be ready once they are compiled
SHEET_SHARE = 0.2  # of the time, for sheet goods beside lumber
SET_SHARE = 0.13  # of the time limit, for one set
OUTRIGHT_UNTIL, DIVES_UNTIL = 0.3, 0.82  # shares of the time, both only if it is plain
RULE_SHARE = 0.3  # of the time limit, for ruling out sets of boards
SETS_UNTIL, SEARCH_UNTIL = 0.74, 0.80  # shares of the time
DRAW_UNTIL, DRAW_SHARE = 0.92, 0.05  # for panels from fewer boards; settling takes the rest
BRIEF = 0.2  # of the time for settling widths, in a search beside the main one
MOST_KEPT = 3  # plans of a shorter run that a longer one starts from
APART = 2.0  # times a panel's share of the premium, what each board of a panel counts


@dataclass(frozen=True, slots=True)
class SolveParams:
    """How long and how hard to look.

    Attributes
    ----------
    seconds
        Time limit, wall clock.
    seed
        Same project, seed and version, same plan (as far as the time limit allows).
    gap
        Stop once the plan is proven within this share of the bound.
    steps
        Steps of the search to stop after, instead of a time: the same plan from the same
        project and seed on any machine. 0 for none.
    """

    seconds: float = 20.0
    seed: int = 1
    gap: float = 0.005
    steps: int = 0


@dataclass(frozen=True, slots=True)
class Progress:
    """Where a running search stands."""

    seconds: float
    phase: str
    cost: Decimal | None
    bound: Decimal | None
    gap: float | None


OnProgress = Callable[[Progress], None]


def solve(
    project: Project,
    params: SolveParams = SolveParams(),
    on_progress: OnProgress | None = None,
    should_stop: Callable[[], bool] | None = None,
) -> Plan:
    """Return the best plan found in time, verified, with a proven bound on its cost.

    Raises
    ------
    InputError
        If there is nothing to plan with: no wood at all, or wood without a price.
    VerificationError
        If the plan does not pass the verifier: a bug.
    """
    _check_offers(project)
    should_stop = should_stop or (lambda: False)
    report = on_progress or (lambda _: None)
    if has_sheet_parts(project):
        plan = _with_sheets(project, params, report, should_stop)
    else:
        plan = _of_lumber(project, params, report, should_stop)
    plan = with_offcut_parts(project, plan)
    plan = with_panels_arranged(
        project, plan, source="offcut", seed=params.seed, is_steady=params.steps > 0,
        should_stop=should_stop,
    )  # fmt: skip
    seconds, work = (3600.0, 1.0) if params.steps else (0.05 * params.seconds, 0.0)
    plan = with_widths_agreed(project, plan, Patience(seconds, work, params.seed))
    violations = verify(project, plan)
    if violations:
        raise VerificationError(violations)
    return plan


def _of_lumber(
    project: Project, params: SolveParams, report: OnProgress, stop: Callable[[], bool]
) -> Plan:
    """Return the plan of a project's boards, suited to the eye."""
    first = first_share(params) if sets_of(project) else params
    chosen, plan = _first_plan(project, first, report, stop)
    return Suiting(
        chosen, plan, params,
        lambda wish, some: _Run(wish, some, lambda _: None, stop, BRIEF).plan(),
        stop, rules=plan.rules if chosen.ways else RULES,
        can_search=not is_large(problem_for(chosen)),
    ).suited()  # fmt: skip


def _with_sheets(
    project: Project, params: SolveParams, report: OnProgress, stop: Callable[[], bool]
) -> Plan:
    """Return the plan of a project with sheet goods: these first, as they take little."""
    goods = goods_of(project, cents_per_cut(project))
    has_lumber = any(
        one.source == "stock" for one in project.parts if one not in goods.parts
    )
    share = SHEET_SHARE if has_lumber else 1.0
    report(Progress(0.0, "cutting sheets", None, None, None))
    limit = Limit(share * params.seconds, params.steps)
    cutting = partial(cut_sheets, seed=params.seed, gap=params.gap, stop=stop)
    cut = cutting(project, goods, limit)
    took = limit.elapsed
    rest = max(params.seconds - took, (1 - share) * params.seconds)
    plan = _of_lumber(lumber_of(project, cut), replace(params, seconds=rest), report, stop)
    best = joined(project, plan, cut, took)
    again = after_lumber(project, goods, plan)
    if again is not None:
        other = cutting(project, again, Limit(max(1.0, limit.seconds / 2), params.steps))
        if len(other.short) <= len(cut.short):
            proven = replace(other, bound=cut.bound if other.short == cut.short else 0.0)
            best = min(
                best, joined(project, plan, proven, took),
                key=lambda one: (len(one.short), one.totals.cost),
            )  # fmt: skip
    return best


def _first_plan(
    project: Project,
    params: SolveParams,
    report: OnProgress,
    should_stop: Callable[[], bool],
) -> tuple[Project, Plan]:
    """Return a plan with its bound, and the project in the ways that it chose."""
    ways = ways_in(project)
    if not ways:
        return project, _Run(project, params, report, should_stop).plan()
    runs: dict[str, _Run] = {}
    begun = time.monotonic()

    def tell(progress: Progress) -> None:  # what is proven of some ways is not of all
        seconds, cost = time.monotonic() - begun, progress.cost
        bound = Decimal(math.floor(choosing.floor)) / 100 if choosing.floor > 0 else None
        gap = float((cost - bound) / bound) if bound and cost is not None else None
        report(Progress(seconds, progress.phase, cost, bound, gap))

    def search(wish: Project, share: SolveParams, is_try: bool) -> Plan:  # noqa: FBT001
        key, patience = repr(sorted(wish.ways.items())), BRIEF if is_try else 1.0
        runs[key] = _Run(wish, share, tell, should_stop, patience, before=runs.get(key))
        return runs[key].plan()

    choosing = WaySearch(
        project, ways, params, search, should_stop,
        lambda problem, units: fewest_cuts(problem, units) * cents_per_cut(project),
    )  # fmt: skip
    return choosing.best()


def _check_offers(project: Project) -> None:
    """Refuse a project that has nothing to cut, or boards that nobody priced."""
    if not project.boards and not project.sheets:
        rule = "a plan needs boards: list those on the rack or on offer at a yard"
        raise InputError([Fault("Boards", None, None, rule)])
    tariff = project.tariff
    if tariff.by_feet:
        return
    raise_for = [
        Fault(
            "Boards", None, "price",
            f"give board {board.name!r} a price, or {board.where!r} one in Prices for "
            f"{board.species} {board.thickness.label}",
        )
        for board in project.boards
        if not board.is_owned and tariff.rate(board) is None
    ]  # fmt: skip
    if raise_for:
        raise InputError(raise_for)


class _Run:
    """One run of the recipe: the clock, what is known, what is reported.

    `patience` is the share of its usual time that settling widths gets; `before` is a
    shorter run of the same project, whose plans and patterns this one starts from.
    """

    def __init__(
        self,
        project: Project,
        params: SolveParams,
        report: OnProgress,
        stop: Callable[[], bool],
        patience: float = 1.0,
        before: _Run | None = None,
    ) -> None:
        self.project = project
        self.patience = patience
        self.is_large = False
        self.params = params
        self.report = report
        self.asked_to_stop = stop
        self.limit = Limit(params.seconds, params.steps)
        self.bound = 0.0
        self.bound_name = "column generation"
        self.cost: float | None = None
        self.found: list[Choice] = []
        self.columns: list[Column] = []
        if before is not None:
            self.found = sorted(before.found, key=lambda choice: choice.cost)[:MOST_KEPT]
            self.columns = before.columns
        self.chosen: Choice | None = None
        self.apart = 0.0
        self.history: tuple[tuple[Floats, Floats], ...] = ()
        self.excluded: tuple[frozenset[int], ...] = ()

    def plan(self) -> Plan:
        """Return the plan: relax, build, improve, gather, settle, lay out."""
        problem = problem_for(self.project)
        if not problem.items or not problem.bins:
            return self._lay_out(problem, Settled({}, {}, {}), 0.0)
        kernels = kernels_for(problem)
        rng = random.Random(self.params.seed)  # noqa: S311 - not for secrets
        self.is_large = is_large(problem)
        if self.is_large:
            return self._plan_large(problem, kernels, rng)
        lure = cheapness(problem)
        self._keep(build_once(problem, area_values(problem), rng, lure), "building")
        rows = rows_for(problem)
        known = [
            known_column(problem, rows, c) for choice in self.found for c in choice.cuttings
        ]
        known += self.columns
        relaxed = relax(problem, kernels, rows, start=known, stop=lambda: self._late(0.3))
        self.columns = [*self.columns, *relaxed.columns]
        if relaxed.feasible:
            self._prove(relaxed.bound, "column generation")
        if relaxed.history:
            worths = relaxed.history[-1][1]
            lure = [float(worths[one.index]) / max(1, one.cost) for one in problem.bins]
        self._outright(problem, kernels, relaxed)
        self._build(problem, relaxed.values, rng, lure)
        search = self._search_from(problem, relaxed.values, rng, lure)
        places = Places(search)
        self._improve(search, self.limit.share + 0.1)
        are_sets_searched = False
        if relaxed.feasible and not self._late(SETS_UNTIL) and not self._close_enough():
            self._dive(problem, kernels, relaxed)
            if not self._late(SETS_UNTIL) and not self._close_enough():
                are_sets_searched = self._gather(problem, kernels, relaxed, places)
        if are_sets_searched:
            places.resume()
            self._improve(search, SEARCH_UNTIL)
        self._draw_together(problem, search)
        settled = self._settle(problem)
        return self._lay_out(problem, settled, self._proven(problem, kernels, settled))

    def _plan_large(
        self, problem: Problem, kernels: tuple[Kernel, ...], rng: random.Random
    ) -> Plan:
        """Return the plan of a project of hundreds of boards."""
        watch = Watch(
            keep=self._keep,
            prove=lambda bound: self._prove(bound, "column generation"),
            late=self._late,
            is_close=self._close_enough,
            spend=self._spend,
            is_steady=self.limit.is_steady,
        )
        LargeSearch(problem, kernels, rng, watch).run()
        settled = as_given(problem, min(self.found, key=lambda choice: choice.cost))
        bound = self.bound
        if _lacking(problem, settled):
            rows = rows_for(problem, _units(problem, settled))
            bound = relax_large(problem, kernels, rows, lambda: self._late(1.0)).bound
        return self._lay_out(problem, settled, bound)

    def _spend(self, steps: int) -> None:
        """Note how many steps of the search are made."""
        self.limit.done = steps

    def _outright(
        self, problem: Problem, kernels: tuple[Kernel, ...], relaxed: Relaxation
    ) -> None:
        """Look for the best plan outright, if the problem is of a kind for that."""
        if self.limit.is_steady or not relaxed.feasible or self._close_enough():
            return
        most = most_allowed(problem, min(self.found, key=lambda choice: choice.cost))
        seconds = OUTRIGHT_UNTIL * self.params.seconds - self.limit.elapsed
        plans = outright(problem, kernels, relaxed, most=most, seconds=seconds)
        if plans is not None:
            self._prove(plans.bound, "whole boards")
            if plans.sections is not None:
                self._keep(choice_for(problem, plans.sections), "gathering")

    def _dive(
        self, problem: Problem, kernels: tuple[Kernel, ...], relaxed: Relaxation
    ) -> None:
        """Fix good boards and cut the rest outright, if the problem is plain."""
        is_fit = is_plain(problem, kernels) and is_uniform(problem)
        if self.limit.is_steady or not is_fit:
            return
        most = most_allowed(problem, min(self.found, key=lambda choice: choice.cost))
        end = self.limit.start + DIVES_UNTIL * self.params.seconds
        sections = dive(
            problem, relaxed, most=most, end=end, stop=self.asked_to_stop,
            seed=self.params.seed,
        )  # fmt: skip
        if sections is not None:
            self._keep(choice_for(problem, sections), "gathering")

    def _build(
        self, problem: Problem, values: Values, rng: random.Random, lure: Sequence[float]
    ) -> None:
        """Build a few plans, each with the values of what the last one lacked raised."""
        urged = values
        for _ in range(6):
            if self._late(0.5) or self._close_enough():
                break
            built = build_once(problem, urged, rng, lure)
            self._keep(built, "building")
            urged = raised(urged, built)

    def _search_from(
        self, problem: Problem, values: Values, rng: random.Random, lure: Sequence[float]
    ) -> Search:
        """Return a search from the best plan; the time it takes to compile is left out."""
        self._tell("compiling" if IS_COMPILED else "improving")
        begun = self.limit.elapsed
        best = min(self.found, key=lambda choice: choice.cost)
        search = search_for(problem, values, rng, lure, best, steady=self.limit.is_steady)
        self.limit.pause(max(0.0, self.limit.elapsed - begun - WARM))
        return search

    def _improve(
        self, search: Search, until: float, until_done: Future[Any] | None = None
    ) -> None:
        """Search on until a share of the time is gone, or something else is done."""
        begun, end = self.limit.share, until
        if until_done is not None:
            end = min(end, begun + SET_SHARE)

        def stop() -> bool:
            done = until_done is not None and until_done.done()
            return done or self._late(until) or self._close_enough()

        self._search_on(search, end, stop, lambda choice: self._keep(choice, "improving"))

    def _search_on(
        self,
        search: Search,
        end: float,
        stop: Callable[[], bool],
        keep: Callable[[Choice], None],
    ) -> None:
        """Search until `stop`, cooling to a share of the time; hand better plans over."""
        begun = self.limit.share

        def stopped() -> bool:
            self.limit.done = search.done
            return stop()

        improve(
            search,
            stop=stopped,
            progress=lambda: min(1.0, (self.limit.share - begun) / max(1e-3, end - begun)),
            on_better=keep,
        )

    def _draw_together(self, problem: Problem, search: Search) -> None:
        """Search for panels from fewer boards, at no more cost than the shop allows."""
        panels = sum(item.units for item in problem.items if item.is_panel)
        premium = float(self.project.shop.panel_premium) / 100
        best = min(self.found, key=lambda choice: choice.cost)
        apart = APART * premium * best.cost / SCALE / max(1, panels)
        self.apart = max(0.0, apart)
        if not panels or apart <= 0 or not best.is_complete:
            self._improve(search, DRAW_UNTIL)
            return
        begun = self.limit.share
        drawn = [best]

        def keep(choice: Choice) -> None:
            drawn.append(choice)
            self._keep(choice, "drawing together")

        def stop() -> bool:
            is_enough = self._close_enough() and self._late(begun + DRAW_SHARE)
            return self._late(DRAW_UNTIL) or is_enough

        search.best = best
        search.draw_together(apart)
        self._search_on(search, DRAW_UNTIL, stop, keep)
        most = self._most_for_panels(premium)
        self.chosen = next((one for one in reversed(drawn) if one.cost <= most), None)

    def _most_for_panels(self, premium: float) -> float:
        """Return what a plan with panels from fewer boards may cost, as choices count."""
        cheapest = min(one.cost for one in self.found)
        close = SCALE * self.bound * (1 + self.params.gap)
        most = cheapest * (1 + premium)
        return min(most, close) if cheapest <= close else most

    def _gather(
        self,
        problem: Problem,
        kernels: tuple[Kernel, ...],
        relaxed: Relaxation,
        places: Places,
    ) -> bool:
        """Prove what whole boards cost at least; then search on from few boards.

        Return whether it searched within sets of boards.
        """
        chosen = select(
            problem,
            kernels,
            relaxed,
            stop=lambda: self._late(0.5),
            seconds=self.limit.time(0.05, 0.2),
            nodes=self.limit.nodes,
        )
        self._prove(chosen.bound, "whole boards")
        self.history = chosen.history
        gatherer = Gatherer(
            problem,
            relaxed.rows,
            lots_for(problem, kernels, relaxed.rows),
            chosen.history,
            lack_prices(problem, relaxed.rows, relaxed.values),
            stop=lambda: self._late(SETS_UNTIL) or self._close_enough(),
            limit=self.limit,
        )
        self._rule_out(chosen, gatherer, places)
        bins = gatherer.next_set(FIRST_TIMES)
        if bins is None:
            return False
        model = None if self.limit.is_steady else gatherer.prepare(bins)
        if model is not None:
            self._cut_sets(gatherer, bins, model, places)
        elif not IS_COMPILED:
            self._search_sets(gatherer, bins, places)
        return model is not None or not IS_COMPILED

    def _rule_out(self, chosen: Selection, gatherer: Gatherer, places: Places) -> None:
        """Rule out sets of boards one by one while the search goes on beside it.

        Then take up what was found to make everything on the way.
        """
        if self.limit.is_steady:
            return
        picks: list[tuple[Pick, frozenset[int]]] = []
        until = min(SETS_UNTIL, self.limit.share + RULE_SHARE)
        terms = Terms(
            seconds=RULE_SHARE * self.params.seconds,
            cost=lambda: math.inf if self.cost is None else self.cost,
            stop=lambda: self._late(until) or self._close_enough(),
        )
        search = places.search
        with ThreadPoolExecutor(1) as other:
            ruling = other.submit(
                rule_out, gatherer.problem, gatherer.rows, gatherer.lots, chosen, terms,
                lambda pick, bins: picks.append((pick, bins)),
            )  # fmt: skip
            search.is_alone = True
            self._improve(search, until, until_done=ruling)
            search.is_alone = False
            ruled = ruling.result()
        self.excluded = ruled.excluded
        self._prove(ruled.bound, "sets of boards")
        for pick, bins in picks:
            self._take_up(places, gatherer.choice(pick), bins)
            self._improve(search, self.limit.share + 0.03)
            places.leave()

    def _cut_sets(
        self, gatherer: Gatherer, first: frozenset[int], model: Model, places: Places
    ) -> None:
        """Cut set after set in whole sections, and search within each."""
        bins = first
        with ThreadPoolExecutor(1) as other:  # SCIP does not hold the interpreter up
            for times in cycle(TIMES):
                picking = other.submit(model.solve, self.limit.time(SET_SHARE))
                places.search.is_alone = True
                self._improve(places.search, SETS_UNTIL, until_done=picking)
                places.search.is_alone = False
                model.interrupt()
                pick = picking.result()
                places.leave()
                if pick is not None and not self._late(SETS_UNTIL):
                    self._take_up(places, gatherer.choice(pick), bins)
                if self._late(0.8) or self._close_enough():
                    break
                following = gatherer.next_set(times)
                after = None if following is None else gatherer.prepare(following)
                if following is None or after is None:
                    break
                bins, model = following, after
        places.leave()

    def _search_sets(
        self, gatherer: Gatherer, first: frozenset[int], places: Places
    ) -> None:
        """Search within set after set: a more generous one after each that fell short."""
        bins: frozenset[int] | None = first
        times = FIRST_TIMES
        while bins is not None and not self._late(SETS_UNTIL) and not self._close_enough():
            search = places.search
            before = search.best.cost
            places.enter(bins, search.best.cuttings)
            self._improve(search, min(0.88, self.limit.share + SET_SHARE))
            if search.best.cost < before:
                times -= 0.01
            elif search.is_whole:
                times -= 0.004
            else:
                times += 0.007
            places.leave()
            bins = gatherer.next_set(times)

    def _take_up(self, places: Places, gathered: Choice, bins: frozenset[int]) -> None:
        """Go on within a set from its choice, or from the best plan if that lacks less."""
        if gathered.is_complete:
            self._keep(gathered, "gathering")
        places.enter(bins, places.search.best.cuttings, gathered.cuttings)

    def _prove(self, bound: float, name: str) -> None:
        """Remember a proven bound, in cents, if it is the best so far."""
        if bound > self.bound:
            self.bound, self.bound_name = bound, name
            self._tell("proving")

    def _settle(self, problem: Problem) -> Settled:
        """Return the best choice that comes out with whole panels."""
        best: tuple[tuple[int, int], Settled] | None = None
        tried = sorted(self.found, key=lambda choice: choice.cost)[:6]
        if self.chosen is not None:
            tried.insert(0, self.chosen)
        limit = self.patience * self.limit.time(0.05, 1.0)
        work = self.patience * self.limit.work
        for choice in tried:
            settled = settle(
                problem, choice, limit, self.params.seed, work=work, apart=self.apart
            )
            lacking = _lacking(problem, settled)
            if best is None or (lacking, choice.cost) < best[0]:
                best = ((lacking, choice.cost), settled)
            if lacking <= _short_of(choice):
                break
        if best is None:
            raise AssertionError("no plan was built")
        return best[1]

    def _proven(
        self, problem: Problem, kernels: tuple[Kernel, ...], settled: Settled
    ) -> float:
        """Return the bound in cents for making what the settled plan makes."""
        units = _units(problem, settled)
        if all(
            count >= item.units for count, item in zip(units, problem.items, strict=True)
        ):
            return self.bound
        relaxed = relax(
            problem, kernels, rows_for(problem, units), stop=lambda: True, rounds=40
        )
        self.bound_name = "column generation"
        return relaxed.bound if relaxed.feasible else 0.0

    def _lay_out(self, problem: Problem, settled: Settled, bound: float) -> Plan:
        namer, tariff = Namer(problem), self.project.tariff
        cut = [
            cut_board(self.project, tariff, problem, settled, one, namer)
            for one in used_bins(problem, settled)
        ]
        lumber = {board.name for board in self.project.boards}
        boards = tuple(one for one in cut if one.board in lumber)
        sheets = tuple(one for one in cut if one.board not in lumber)
        short = tuple(shortages(self.project, problem, settled))
        units = _units(problem, settled)
        cut_cost = fewest_cuts(problem, units) * cents_per_cut(self.project)
        least = bound + cut_cost
        proven = Decimal(max(0, math.floor(least - 0.01))) / 100
        totals = totals_for(
            self.project, boards, sheets, (proven, self.bound_name), self.limit.wall
        )
        return Plan(
            project=self.project.name,
            unit=self.project.unit.value,
            status=SHORT if short else COMPLETE,
            boards=boards,
            panels=panels_for(problem, boards),
            short=short,
            sheets=sheets,
            totals=totals,
            rules=RULES if short else (*RULES, *self._sets_left(problem, totals, cut_cost)),
            notes=to_buy(self.project, short),
        )

    def _sets_left(
        self, problem: Problem, totals: Totals, cut_cost: float
    ) -> tuple[str, ...]:
        """Say in words what lies between a bound of whole boards and the plan's cost."""
        is_whole = totals.gap is not None and totals.gap >= SPEAK_FROM
        later = any(part.source == "offcut" for part in self.project.parts)
        several = bool(self.project.ways)  # sets of boards are told for all ways only
        if not self.history or self.limit.is_steady or later or several or not is_whole:
            return ()
        rows, kernels = rows_for(problem), kernels_for(problem)
        sets = sets_below(
            problem, lots_for(problem, kernels, rows), rows.demand, self.history,
            100 * float(totals.cost) - cut_cost, self.limit.time(0.005, 0.05),
            self.excluded,
        )  # fmt: skip
        if sets is None:
            return ()
        some = "one set" if sets == 1 else f"one of {sets} sets"
        return (
            f"no purchase below {totals.bound} can make everything; any plan that costs "
            f"less than this one takes its boards from {some} not ruled out",
        )

    def _keep(self, choice: Choice, phase: str) -> None:
        self.found.append(choice)
        self._tell(phase)

    def _tell(self, phase: str) -> None:
        """Report where the search stands; no cost is known until a plan is whole."""
        best = min(self.found, key=lambda one: one.cost, default=None)
        if best is None:
            return
        self.cost = best.cost / SCALE if best.is_complete else None
        cost = None if self.cost is None else Decimal(round(self.cost)) / 100
        bound = Decimal(math.floor(self.bound)) / 100 if self.bound > 0 else None
        gap = float((cost - bound) / bound) if bound and cost is not None else None
        self.report(Progress(self.limit.wall, phase, cost, bound, gap))

    def _late(self, share: float) -> bool:
        return self.asked_to_stop() or self.limit.share > share

    def _close_enough(self) -> bool:
        return (
            self.cost is not None
            and self.bound > 0
            and self.cost <= self.bound * (1 + self.params.gap)
        )


RULES = (
    "three stages of cuts that go right through: crosscut the board into sections, rip the "
    "sections into strips, crosscut the strips into pieces",
    "rough blanks and staves are cut to whole saw steps, a kerf apart",
    "boards are bought and charged whole",
    "a section is as long as the longest row of pieces in it, or the shortest gang, and a "
    "strip as wide as its widest piece",
    "the bound leaves zones, marks on tapered boards and match rules out of account, and "
    "counts the fewest cuts that free all pieces, so it holds with all of them; smallest "
    "orders are in it where sets of whole boards are weighed, and left out elsewhere",
)


def cents_per_cut(project: Project) -> float:
    """Return what one cut costs in sawing time, in cents."""
    if project.tariff.by_feet:
        return 0.0
    return float(project.shop.cut_time * project.shop.shop_rate * 100 / 3600)


def fewest_cuts(problem: Problem, units: Sequence[int]) -> int:
    """Return a number of cuts that no way to make these units of lumber goes below.

    A cut turns one piece of wood into two at most. A board that gives n pieces and loses
    both its ends ends as n + 2 pieces of wood at least, so it takes n + 1 cuts. Boards
    without an end trim, and sheets, are left out.
    """
    boards = [one for one in problem.bins if one.start > problem.kerf]
    served = frozenset[int]().union(*(one.wanted for one in boards))
    other = (one.wanted for one in problem.bins if one.start <= problem.kerf)
    served -= frozenset[int]().union(*other)
    pieces = sum(
        units[item.index] * (item.staves if item.is_panel and not item.single else 1)
        for item in problem.items
        if item.index in served
    )
    return pieces + 1 if pieces else 0


def area_values(problem: Problem) -> Values:
    """Return first values for building: what each piece takes of the dearest board."""
    rate = max(
        (one.cost / (one.length * max(1, one.narrow)) for one in problem.bins), default=1.0
    )
    rate = rate or 1.0
    count = len(problem.items)
    piece, net = np.zeros(count), np.zeros(count)
    for item in problem.items:
        if item.is_panel:
            net[item.index] = rate * item.length * 1.05
        else:
            piece[item.index] = rate * item.area
    return Values(piece, net, np.zeros(count))


def _units(problem: Problem, settled: Settled) -> list[int]:
    """Return how many units of each item are made."""
    made = settled.made()
    return [len(made.get(item.index, ())) for item in problem.items]


def _lacking(problem: Problem, settled: Settled) -> int:
    return sum(item.units for item in problem.items) - sum(_units(problem, settled))


def _short_of(choice: Choice) -> int:
    return sum(choice.short.values())
