"""What another choice of yards would cost: the plan's own against every other.

Any other choice of yards leaves out a yard that the plan buys from, or adds one that it
does not. So one short search per yard covers them all: without its boards, or with its
trip paid already, so that nothing speaks against going there; the trip is added again.
A yard where nothing is worth buying even then makes no other choice.
A search that comes upon a cheaper plan than the one it starts from makes it the plan.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from decimal import Decimal
from fractions import Fraction

from nesting.every_way import every_way
from nesting.plan import COMPLETE, Plan
from nesting.problem import cannot_make, problem_for
from nesting.project import Project
from nesting.solve import OnProgress, Progress, SolveParams, solve
from nesting.suiting import alikeness
from nesting.thickness import ways_in
from nesting.totals import totals_for
from nesting.verify import verify
from stock.errors import VerificationError

SHARE, MOST_SHARE = 0.15, 0.6  # of the time or steps of the plan: one search, and all
LEAST_SECONDS = 1.0
ROUNDS = 3  # of comparing, each from a cheaper plan


@dataclass(frozen=True, kw_only=True, slots=True)
class Alternative:
    """Plans that leave one yard of the plan out, or buy at one that it does not visit.

    Attributes
    ----------
    yard, is_without
        The yard, and whether it is left out; else it is added.
    yards
        Where the cheapest plan found buys; empty for the rack alone, or if there is none.
    cost
        What that plan costs, trips in it; None if no plan was found.
    bound
        No plan of this kind costs less.
    cannot
        Whether it is proven that no plan of this kind makes everything.
    """

    yard: str
    is_without: bool
    yards: tuple[str, ...] = ()
    cost: Decimal | None = None
    bound: Decimal
    cannot: bool = False


@dataclass(frozen=True, slots=True)
class Comparison:
    """The yards of a plan, what it costs, and what other choices of yards would cost."""

    yards: tuple[str, ...]
    cost: Decimal
    others: tuple[Alternative, ...]

    @property
    def second(self) -> Alternative | None:
        """The cheapest other choice found, of several the best proven; None if none was."""
        found = [
            (one.cost, -one.bound, at)
            for at, one in enumerate(self.others)
            if one.cost is not None
        ]
        return self.others[min(found)[2]] if found else None

    @property
    def least(self) -> Decimal | None:
        """What no plan with another choice of yards goes below; None if there is none."""
        return min((one.bound for one in self.others if not one.cannot), default=None)

    @property
    def is_best(self) -> bool:
        """Whether it is proven that no other choice of yards is cheaper."""
        return self.least is None or self.least >= self.cost


def compare(
    project: Project,
    plan: Plan,
    params: SolveParams,
    on_progress: OnProgress = lambda _: None,
    should_stop: Callable[[], bool] = lambda: False,
) -> tuple[Plan, Comparison | None]:
    """Return the plan, or a cheaper one met, and what other choices of yards would cost.

    `params` are those of the plan; the searches here take a share of its time on top. The
    comparison is None if there is nothing to compare (the plan is short, buys nothing or
    counts board feet, or only one yard has something on offer), or if it was stopped.

    Raises
    ------
    VerificationError
        If a plan found here does not pass the verifier: a bug.
    """
    offering = {one.yard for one in every_way(project, ways_in(project)).problem.bins}
    yards = tuple(yard.name for yard in project.yards if yard.name in offering)
    is_plain = plan.status == COMPLETE and not project.tariff.by_feet
    if not is_plain or len(yards) < 2 or not yards_of(project, plan):
        return plan, None
    share = _share(params, len(yards))
    search = _Search(project, plan, share, on_progress, should_stop)
    for _ in range(ROUNDS):
        chosen = search.best
        kinds = [search.kind(yard, yards_of(project, chosen)) for yard in yards]
        if None in kinds:
            break
        if search.best is chosen:
            others = tuple(search.filled(kind) for kind in kinds if kind)
            used = yards_of(project, chosen)
            return chosen, Comparison(used, chosen.totals.cost, others)
    return search.best, None


def yards_of(project: Project, plan: Plan) -> tuple[str, ...]:
    """Return the yards that a plan buys from, in the project's order."""
    bought = {one.where for one in (*plan.boards, *plan.sheets) if one.bought}
    return tuple(yard.name for yard in project.yards if yard.name in bought)


def _share(params: SolveParams, runs: int) -> SolveParams:
    """Return how long and how hard one of so many searches looks."""
    share = min(SHARE, MOST_SHARE / runs)
    return replace(
        params,
        seconds=max(LEAST_SECONDS, share * params.seconds),
        steps=max(1, int(share * params.steps)) if params.steps else 0,
    )


class _Search:
    """Short searches beside a finished plan, and all whole plans they came upon."""

    def __init__(
        self,
        project: Project,
        plan: Plan,
        params: SolveParams,
        report: OnProgress,
        stop: Callable[[], bool],
    ) -> None:
        self.project = project
        self.params = params
        self.report = report
        self.stop = stop
        self.plans = [plan]
        self.kinds: dict[tuple[str, bool], Alternative] = {}
        self.seconds = plan.totals.seconds

    @property
    def best(self) -> Plan:
        """The cheapest plan known, the first of several."""
        return min(self.plans, key=lambda plan: plan.totals.cost)

    def kind(self, yard: str, used: tuple[str, ...]) -> Alternative | None:
        """Return what is proven of plans that differ in one yard; None if stopped."""
        key = (yard, yard in used)
        if key not in self.kinds:
            if self.stop():
                return None
            found = self._without(yard) if yard in used else self._with_trip_paid(yard)
            if self.stop():
                return None
            self.kinds[key] = found
        return self.kinds[key]

    def filled(self, kind: Alternative) -> Alternative:
        """Return a kind of plans with the cheapest of them that is known."""
        known = [
            (plan.totals.cost, at, yards)
            for at, plan in enumerate(self.plans)
            for yards in [yards_of(self.project, plan)]
            if (kind.yard in yards) != kind.is_without
        ]
        if not known:
            return kind
        cost, _, yards = min(known)
        return replace(kind, cost=cost, yards=yards)

    def _without(self, yard: str) -> Alternative:
        """Look for plans that buy nothing at a yard."""
        least = self.best.totals.bound
        rest = replace(self.project, closed=self.project.closed | {yard})
        ways = ways_in(rest)
        cannot = (
            every_way(rest, ways).cannot_make() if ways else cannot_make(problem_for(rest))
        )
        if not cannot:
            least = max(least, self._bound(rest, f"comparing: without {yard}"))
        return Alternative(yard=yard, is_without=True, bound=least, cannot=cannot)

    def _with_trip_paid(self, yard: str) -> Alternative:
        """Look for plans that buy at a yard which the plan leaves out."""
        least = self.best.totals.bound
        trip = self.project.tariff.trip(yard)
        if trip:  # where it costs nothing, the search for the plan has looked
            yards = (
                replace(one, trip_cost=Fraction(0)) if one.name == yard else one
                for one in self.project.yards
            )
            paid = replace(self.project, yards=tuple(yards))
            proven = self._bound(paid, f"comparing: with {yard}")
            least = max(least, proven + Decimal(trip) / 100) if proven else least
        return Alternative(yard=yard, is_without=False, bound=least)

    def _bound(self, project: Project, phase: str) -> Decimal:
        """Search a changed project; return its proven bound, 0 if no plan is whole.

        A plan that makes fewer parts from offcuts, or sets less alike, is cheaper for that,
        and not counted.
        """

        def report(progress: Progress) -> None:
            totals, seconds = self.best.totals, self.seconds + progress.seconds
            told = Progress(seconds, phase, totals.cost, totals.bound, totals.gap)
            self.report(told)

        found = solve(project, self.params, report, self.stop)
        self.seconds += found.totals.seconds
        if found.status != COMPLETE:
            return Decimal(0)
        first = self.plans[0]
        is_alike = alikeness(found) >= alikeness(first)
        if is_alike and len(found.not_made) <= len(first.not_made):
            self.plans.append(self._own(found))
        return found.totals.bound

    def _own(self, found: Plan) -> Plan:
        """Return a plan of a changed project as one of this project, sums anew."""
        first = self.plans[0]
        proven = (first.totals.bound, first.totals.bound_name)
        totals = totals_for(self.project, found.boards, found.sheets, proven, self.seconds)
        plan = replace(found, totals=totals, rules=first.rules)
        violations = verify(self.project, plan)
        if violations:
            raise VerificationError(violations)
        return plan
