"""Which sections to cut from a given set of bins, in whole numbers.

One integer program over the contents that lose little: so often each content is cut that
little of the demand lacks and much of the last board is kept.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from ortools.linear_solver import pywraplp

from nesting.contents import Content
from nesting.cuttings import Cut, Cutting, Give, Left, cutting_of, scope_of, unit_for
from nesting.patterns import Band, Floats, Strip
from nesting.problem import Bin, Item, Problem
from nesting.reach import Reach
from nesting.windows import Window


@dataclass(frozen=True, slots=True)
class Pick:
    """Sections picked for a set of bins.

    Attributes
    ----------
    worth
        Price of what lacks less the credit of what is kept, in cents.
    is_best
        Whether no other choice of the contents that were listed is better.
    """

    chosen: Mapping[int, tuple[tuple[Window, Content], ...]]
    worth: float
    is_complete: bool
    is_best: bool


class Model:
    """The integer program: how often each content is cut in each window.

    Parameters
    ----------
    prices
        Cents for a unit that lacks of each row of the demand.
    """

    def __init__(
        self, reach: Reach, lists: Sequence[Sequence[Content]], prices: Floats
    ) -> None:
        self.reach, self.problem = reach, reach.problem
        self.prices = prices
        self.solver = pywraplp.Solver.CreateSolver("SCIP")
        self.inf = self.solver.infinity()
        # a bin that marks leave no window for is there too, and gives nothing
        self.uses: dict[int, list[tuple[int, Content, pywraplp.Variable]]] = {
            one.index: [] for one in reach.bins
        }
        self.lacks: list[pywraplp.Variable] = []
        self.scoped: dict[tuple[int, str], list[pywraplp.Constraint]] = {}
        kerf = self.problem.kerf
        for number, contents in enumerate(lists):
            window = reach.windows[number]
            room = window.length + kerf
            uses = self.uses[window.bin]
            for content in contents:
                most = room // (content.length + kerf)
                uses.append((number, content, self.solver.IntVar(0, most, "")))
        for one in reach.bins:
            self._along(one)
        self._demand()
        self.solver.Objective().SetMinimization()

    def _along(self, one: Bin) -> None:
        """Sections lie along the bin a kerf apart, each in its window; the end is kept."""
        solver, kerf, uses = self.solver, self.problem.kerf, self.uses[one.index]
        room = float(one.length + kerf)
        windows = sorted({number for number, _, _ in uses})
        before: pywraplp.Variable | None = None
        for number in windows:
            window = self.reach.windows[number]
            end = solver.NumVar(0.0, room, "")
            follows = solver.Constraint(0.0, self.inf)
            begins = solver.Constraint(window.start - room, self.inf)
            stops = solver.Constraint(-self.inf, room)
            cut = solver.BoolVar("")
            held = solver.Constraint(-self.inf, 0.0)
            held.SetCoefficient(cut, -float(window.length + kerf))
            follows.SetCoefficient(end, 1.0)
            if before is not None:
                follows.SetCoefficient(before, -1.0)
            begins.SetCoefficient(end, 1.0)
            begins.SetCoefficient(cut, -room)
            stops.SetCoefficient(end, 1.0)
            stops.SetCoefficient(cut, room - window.end - kerf)
            for n, content, use in uses:
                if n == number:
                    length = float(content.length + kerf)
                    held.SetCoefficient(use, length)
                    follows.SetCoefficient(use, -length)
                    begins.SetCoefficient(use, -length)
            before = end
        if before is not None:
            self._keep_end(one, before)

    def _keep_end(self, one: Bin, end: pywraplp.Variable) -> None:
        """Credit what is left from `end` on if it is long enough to be kept."""
        is_worth = one.credit > 0 and one.narrow >= self.problem.keep_width
        if not is_worth or any(mark.forbids("hidden") for mark in one.marks):
            return
        left = self.solver.NumVar(0.0, float(one.length), "")
        keep = self.solver.BoolVar("")
        fits = self.solver.Constraint(-self.inf, float(one.length))
        fits.SetCoefficient(left, 1.0)
        fits.SetCoefficient(end, 1.0)
        most = self.solver.Constraint(-self.inf, 0.0)
        most.SetCoefficient(left, 1.0)
        most.SetCoefficient(keep, -float(one.length))
        fewest = self.solver.Constraint(0.0, self.inf)
        fewest.SetCoefficient(left, 1.0)
        fewest.SetCoefficient(keep, -float(self.problem.keep_length))
        self.solver.Objective().SetCoefficient(left, -one.credit * one.narrow)

    def _demand(self) -> None:
        """Let what is made and what lacks add up to the demand, row by row."""
        rows = self.reach.rows
        needs = {
            row: self.solver.Constraint(float(demand), self.inf)
            for row, demand in enumerate(rows.demand)
            if demand > 0
        }
        for row, need in needs.items():
            self._lack(need, float(rows.demand[row]), float(self.prices[row]))
        for index, uses in self.uses.items():
            one = self.problem.bins[index]
            for _, content, use in uses:
                for i, made in gains(self.problem, content).items():
                    item, first = self.problem.items[i], rows.first[i]
                    held = [needs[r] for r in range(first, first + len(made)) if r in needs]
                    if item.match != "none" and held:
                        held = self._copies(item, scope_of(item, one), held)
                    for row, gain in zip(held, made, strict=False):
                        row.SetCoefficient(use, float(gain))

    def _copies(
        self, item: Item, scope: str, needs: list[pywraplp.Constraint]
    ) -> list[pywraplp.Constraint]:
        """Return the rows by which one board or log makes whole matched copies."""
        known = self.scoped.get((item.index, scope))
        if known is not None:
            return known
        count = self.solver.IntVar(0, item.units // item.layers, "")
        rows = []
        for need, share in zip(needs, (item.need, item.staves), strict=True):
            row = self.solver.Constraint(0.0, self.inf)
            row.SetCoefficient(count, -float(share * item.layers))
            need.SetCoefficient(count, float(share * item.layers))
            rows.append(row)
        self.scoped[item.index, scope] = rows
        return rows

    def _lack(self, need: pywraplp.Constraint, most: float, price: float) -> None:
        lack = self.solver.NumVar(0.0, most, "")
        need.SetCoefficient(lack, 1.0)
        self.solver.Objective().SetCoefficient(lack, max(0.01, price))
        self.lacks.append(lack)

    def interrupt(self) -> None:
        """Let `solve`, which may run in another thread, return soon."""
        self.solver.InterruptSolve()

    def solve(self, seconds: float) -> Pick | None:
        """Return the sections picked, or None if there was no time for any."""
        self.solver.SetTimeLimit(max(1, int(1000 * seconds)))
        self.solver.SetSolverSpecificParametersAsString("misc/catchctrlc = FALSE")
        status = self.solver.Solve()
        if status not in (pywraplp.Solver.OPTIMAL, pywraplp.Solver.FEASIBLE):
            return None
        chosen = {
            index: tuple(
                (self.reach.windows[number], content)
                for number, content, use in uses
                for _ in range(round(use.solution_value()))
            )
            for index, uses in self.uses.items()
        }
        return Pick(
            {index: some for index, some in chosen.items() if some},
            self.solver.Objective().Value(),
            all(lack.solution_value() < 1e-6 for lack in self.lacks),
            status == pywraplp.Solver.OPTIMAL,
        )


def gains(problem: Problem, content: Content) -> dict[int, tuple[int, ...]]:
    """Return what a content makes of each item: pieces; of panels net width and staves."""
    found: dict[int, tuple[int, ...]] = {}
    for i, width, whole in (
        (i, strip.width, whole)
        for strips in content.spans
        for strip in strips
        for i, _, whole in strip.pieces
    ):
        item = problem.items[i]
        if not item.is_panel:
            found[i] = (found.get(i, (0,))[0] + 1,)
            continue
        net, staves = found.get(i, (0, 0))
        more = (item.need, item.staves) if whole else (width - item.joint, 1)
        found[i] = (net + more[0], staves + more[1])
    return found


def cuttings_of(problem: Problem, pick: Pick, left: Left) -> list[Cutting]:
    """Lay picked sections along their bins; staves go to panels as they come."""
    found = []
    for index, chosen in sorted(pick.chosen.items()):
        one = problem.bins[index]
        x, cuts = 0, []
        for window, content in chosen:
            x = max(x, window.start)
            cut = _cut(problem, one, window, content, x, left)
            left.use(problem, one, cut)
            cuts.append(cut)
            x += content.length + problem.kerf
        found.append(cutting_of(problem, index, cuts))
    return found


def _cut(
    problem: Problem, one: Bin, window: Window, content: Content, x: int, left: Left
) -> Cut:
    """Return one section at x; solid pieces and staves beyond the demand are surplus."""
    bands, pieces, gives = [], [], []
    credit = 0.0
    open_pieces = dict(left.pieces)
    panels = left.copy()
    for span, strips in zip(window.spans, content.spans, strict=True):
        kept: list[Strip] = []
        used = 0
        for strip in strips:
            row = []
            for piece in strip.pieces:
                i, _, whole = piece
                item = problem.items[i]
                if not item.is_panel:
                    if open_pieces[i] > 0:
                        open_pieces[i] -= 1
                        pieces.append(i)
                        row.append(piece)
                    continue
                scope = scope_of(item, one)
                unit = unit_for(item, panels.panels[i], scope)
                net = item.need if whole else strip.width - item.joint
                if unit >= 0:
                    panels.give(item, unit, net, scope)
                gives.append(Give(i, unit, net))
                row.append(piece)
            if row:
                kept.append(Strip(strip.width, tuple(row)))
                used += strip.width + problem.kerf
        if kept:
            bands.append(Band(x, span.low, content.length, span.height, tuple(kept)))
            credit += _beside(problem, one, window, span.height - used, content.length)
    return Cut(x, content.length, tuple(bands), tuple(pieces), tuple(gives), credit)


def _beside(problem: Problem, one: Bin, window: Window, wide: int, length: int) -> float:
    """Return the credit of what a clear section leaves beside its last strip."""
    clear = len(window.spans) == 1 and not one.marks
    if not clear or wide < problem.keep_width or length < problem.keep_length:
        return 0.0
    return one.credit * wide * length
