"""Plans that cost a little more and suit the eye: sets alike, panels that match.

A short search each, with an extra demand on the wood: a set from one log, else from two
tones that are next to each other; panels whose faces show from one log each. Such a plan
is taken if it costs no more than the shop's premiums allow. The bound of the plan without
extra demands holds for it too.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction
from typing import TYPE_CHECKING

from nesting.arranged import taste_of, with_panels_arranged
from nesting.arranging import PAIRED, Stave
from nesting.arranging_costs import set_terms
from nesting.plan import COMPLETE, NOT_ALIKE, ONE_FLITCH, ONE_STEP, Plan, SetPlan
from nesting.project import Project
from nesting.sets_alike import (
    RANKS,
    Source,
    flitches_for,
    kept_to,
    likeness_in,
    sets_of,
    tones_for,
)
from nesting.totals import totals_for

if TYPE_CHECKING:
    from nesting.solve import SolveParams

FIRST_SHARE = 0.75  # of the time or steps, for the plan without extra demands
SHARE, LEAST_SECONDS = 0.05, 0.3  # for a search with one
LAST_SHARE = 0.15  # for the last one, with all extra demands that were taken on
MOST_TRIES = 3  # searches before that
PER_SET = 2  # sources tried for one set, of each likeness

Search = Callable[[Project, "SolveParams"], Plan]


class Suiting:
    """One plan, and what is done to suit the eye.

    Parameters
    ----------
    search
        Plans a project within parameters; nothing is verified.
    rules
        What the bound of a plan with extra demands holds for, in words.
    can_search
        Whether there is time for more than the arranging of panels.
    """

    def __init__(
        self,
        project: Project,
        plan: Plan,
        params: SolveParams,
        search: Search,
        should_stop: Callable[[], bool],
        *,
        rules: tuple[str, ...],
        can_search: bool,
    ) -> None:
        self.project, self.first = project, plan
        self.params, self.search, self.stop = params, search, should_stop
        self.rules = rules
        self.wish = project  # with the extra demands taken on so far
        self.plan = self.start = self._arranged(plan)
        self.tries = MOST_TRIES if can_search and plan.status == COMPLETE else 0
        self.seconds = plan.totals.seconds
        self.extra: dict[str, Decimal] = {}
        self.why: dict[str, str] = {}
        self.notes: list[str] = []

    def suited(self) -> Plan:
        """Return the plan, or one that costs a little more and suits the eye better."""
        sets = sets_of(self.project)
        for name, parts in sets.items():
            self._make_alike(name, parts)
        self._match_better()
        self._look_longer()
        told = tuple(self._told(name, parts) for name, parts in sets.items())
        notes = (*self.plan.notes, *self.notes, *self._lone_leaves())
        return replace(self.plan, sets=told, notes=notes)

    def _lone_leaves(self) -> Iterator[str]:
        """Yield a note for each book or slip match that has no second leaf."""
        for panel in self.plan.panels:
            match = self.project.part(panel.part).match
            boards = {(stave.board, stave.leaf) for stave in panel.staves}
            if match in PAIRED and len(boards) == 1:
                words = f"all staves come from one board, so there is no leaf to {match}"
                yield f"{panel.part} {panel.copy}: {words}-match it with"

    # --- sets -------------------------------------------------------------------------

    def _make_alike(self, name: str, parts: tuple[str, ...]) -> None:
        """Take a plan with a set from one log, else of two tones, if it is not dear."""
        likeness, _ = likeness_in(self.project, self.plan, parts)
        if likeness == ONE_FLITCH:
            self.wish = kept_to(self.wish, name, self._as_is(parts, likeness))
            return
        sources = flitches_for(self.wish, parts)
        taken, dear = self._tried(name, sources)
        if taken:
            return
        self.why[name] = _why(sources, dear, "one flitch", self.tries)
        if likeness == ONE_STEP:
            self.wish = kept_to(self.wish, name, self._as_is(parts, likeness))
        else:
            sources = tones_for(self.wish, parts)
            taken, dear = self._tried(name, sources)
            if not taken:
                self.why[name] += "; " + _why(sources, dear, "one step of tone", self.tries)

    def _as_is(self, parts: tuple[str, ...], likeness: str) -> Source:
        """Return what keeps a set as alike as the plan has it."""
        own = [
            self.project.board(cut.board) for cut in self.plan.boards
            if any(piece.part in parts for piece in cut.pieces)
        ]  # fmt: skip
        if likeness == ONE_FLITCH:
            log = own[0].log
            boards = {one.name for one in self.project.boards if one.log == log}
            return Source(likeness, log, frozenset(boards))
        low = min(one.tone or 0 for one in own)
        near = (low, max(low + 1, *(one.tone or 0 for one in own)))
        boards = {one.name for one in self.project.boards if one.tone in near}
        return Source(likeness, "", frozenset(boards))

    def _tried(self, name: str, sources: list[Source]) -> tuple[bool, Decimal | None]:
        """Take the cheapest plan of a few sources; else say how much dearer it was."""
        premium = self.project.shop.set_premium
        best: tuple[Decimal, Project, Plan] | None = None
        for source in sources[:PER_SET]:
            wish = kept_to(self.wish, name, source)
            found = self._searched(wish)
            if found is not None and (best is None or found.totals.cost < best[0]):
                best = (found.totals.cost, wish, found)
        if best is None:
            return False, None
        extra = best[0] - self.plan.totals.cost
        if Fraction(extra) > premium * Fraction(self.first.totals.cost) / 100:
            return False, extra
        self.extra[name] = max(Decimal(0), extra)
        self.wish, self.plan = best[1], best[2]
        return True, extra

    def _told(self, name: str, parts: tuple[str, ...]) -> SetPlan:
        """Return what the plan says of a set, as it came out."""
        likeness, source = likeness_in(self.project, self.plan, parts)
        why = "" if likeness == ONE_FLITCH else self.why.get(name, "")
        if likeness == NOT_ALIKE and not why:
            why = "not looked for"
        return SetPlan(
            name=name, likeness=likeness, source=source,
            extra_cost=self.extra.get(name, Decimal(0)), why=why,
            match_cost=self._set_cost(parts),
        )  # fmt: skip

    def _set_cost(self, parts: tuple[str, ...]) -> tuple[tuple[str, int], ...]:
        """Return what the panels of a set count for differing, by term."""
        boards = {board.name: board for board in self.project.boards}
        panels = [
            [
                Stave(
                    name=one.piece, board=one.board, width=one.width, net=one.net_width,
                    log=boards[one.board].log, tone=boards[one.board].tone,
                )
                for one in panel.staves
            ]
            for panel in self.plan.panels if panel.part in parts
        ]  # fmt: skip
        terms = set_terms(panels, taste_of(self.project.shop))
        return tuple((term, cost) for term, cost in terms.items() if cost)

    # --- panels -----------------------------------------------------------------------

    def _match_better(self) -> None:
        """Take a plan whose showing panels come from one log each, if that pays.

        The whole premium may be spent to rid all panels of what they count, a share of
        it for a share of that.
        """
        mixed = self._mixed()
        before = match_cost(self.plan)
        if not mixed or not before:
            return
        parts = tuple(
            replace(part, match="flitch") if part.name in mixed else part
            for part in self.wish.parts
        )
        wish = replace(self.wish, parts=parts)
        found = self._searched(wish)
        if found is None:
            return
        extra = found.totals.cost - self.plan.totals.cost
        gain = Fraction(before - match_cost(found), before)
        premium = self.project.shop.figure_premium / 100
        if gain > 0 and Fraction(extra) <= premium * gain * Fraction(self.plan.totals.cost):
            old, new = before / 10, match_cost(found) / 10
            names = ", ".join(sorted(mixed))
            self.notes.append(
                f"{names}: staves of one log each, for {extra:.2f} more; what the panels "
                f"count for not matching falls from {old:.0f} to {new:.0f} points"
            )
            self.plan = found
            self.wish = wish

    def _mixed(self) -> set[str]:
        """Return parts that show and have no match, and a panel from several logs."""
        logs = {board.name: board.log for board in self.project.boards}
        parts = {part.name: part for part in self.project.parts}
        return {
            panel.part for panel in self.plan.panels
            if parts[panel.part].face == "show" and parts[panel.part].match == "none"
            and parts[panel.part].source == "stock"
            and len({logs[stave.board] for stave in panel.staves}) > 1
        }  # fmt: skip

    def _look_longer(self) -> None:
        """Search once more with all extra demands, and longer; keep what is cheaper."""
        if self.plan is self.start:
            return
        self.tries = 1
        found = self._searched(self.wish, LAST_SHARE)
        if found is not None and found.totals.cost < self.plan.totals.cost:
            self._save(self.plan.totals.cost - found.totals.cost)
            self.plan = found

    def _save(self, saved: Decimal) -> None:
        """Take what was saved off what sets cost more, the last one first."""
        for name in reversed(self.extra):
            less = min(saved, self.extra[name])
            self.extra[name] -= less
            saved -= less

    # --- searching --------------------------------------------------------------------

    def _searched(self, wish: Project, part: float = SHARE) -> Plan | None:
        """Return a plan of a project with extra demands as one of this project."""
        if self.tries <= 0 or self.stop():
            return None
        self.tries -= 1
        share = _share(self.params, part)
        found = self.search(wish, share)
        self.seconds += found.totals.seconds
        if found.status != COMPLETE:
            return None
        first = self.first.totals
        totals = totals_for(
            self.project, found.boards, found.sheets,
            (first.bound, first.bound_name), self.seconds,
        )  # fmt: skip
        return self._arranged(replace(found, totals=totals, rules=self.rules), wish)

    def _arranged(self, plan: Plan, wish: Project | None = None) -> Plan:
        return with_panels_arranged(
            self.project, plan, kept=(wish or self.wish).kept, seed=self.params.seed,
            is_steady=self.params.steps > 0, should_stop=self.stop,
        )  # fmt: skip


def first_share(params: SolveParams) -> SolveParams:
    """Return what the plan without extra demands may take of the time or steps."""
    return _share(params, FIRST_SHARE)


def _share(params: SolveParams, part: float) -> SolveParams:
    return replace(
        params,
        seconds=max(LEAST_SECONDS, part * params.seconds),
        steps=max(1, int(part * params.steps)) if params.steps else 0,
    )


def match_cost(plan: Plan) -> int:
    """Return what all panels count for not looking like one piece, tenths of a point."""
    return sum(cost for panel in plan.panels for _, cost in panel.match_cost)


def alikeness(plan: Plan) -> int:
    """Return how alike the sets of a plan are, all together; more is better."""
    return sum(RANKS[one.likeness] for one in plan.sets)


def _why(sources: list[Source], dear: Decimal | None, what: str, tries: int) -> str:
    """Say why a set is not more alike."""
    if not sources:
        return f"{what}: no such wood is enough for all of it"
    if dear is not None:
        return f"{what}: the cheapest plan found costs {dear:.2f} more"
    return f"{what}: no plan was found" + ("" if tries else ", or not looked for")
