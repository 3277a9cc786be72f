"""A spare board: which bought board would be missed most, and what could stand in for it.

A board stands in for another if one cutting of it gives all that the plan takes from the
other: its solid pieces, and of each panel the net width its staves add. Only a cutting that
was made counts; where none is found, that is no proof that there is none.
"""

from __future__ import annotations

import random
from collections import Counter, defaultdict
from collections.abc import Callable
from dataclasses import dataclass, replace
from decimal import Decimal

from nesting.build import Builder, shaken
from nesting.cuttings import Cutting, everything
from nesting.plan import COMPLETE, CutBoard, Plan
from nesting.problem import Bin, Item, Problem, fixed_costs, problem_for
from nesting.project import Project
from nesting.solve import area_values

TRIES = 24  # cuttings of one board for one other
NOISE = 0.3  # how far values are shaken from one cutting to the next
MARKED = 2  # times that the loss of a board with marks counts: it is likelier to fail


@dataclass(frozen=True, kw_only=True, slots=True)
class Loss:
    """A bought board, and the unused board that makes good its loss for least.

    Attributes
    ----------
    cost
        What the plan counts for the board.
    by, where
        Name of the board that could stand in, and its yard; None if none was found, and
        no yard if it is on the rack.
    is_near
        Whether that one costs no trip more: it is on the rack or at a yard of the plan.
    extra
        What that one adds to the cost: its price with charges and tax, a trip if its yard
        is not visited, less what it saves of a smallest order. 0 if nothing was found.
    """

    board: str
    is_marked: bool
    cost: Decimal
    by: str | None = None
    where: str | None = None
    is_near: bool = False
    extra: Decimal = Decimal(0)

    @property
    def hurt(self) -> tuple[Decimal, Decimal]:
        """What is compared: the extra, doubled for a board with marks, then the cost."""
        return self.extra * (MARKED if self.is_marked else 1), self.cost


@dataclass(frozen=True, kw_only=True, slots=True)
class Spares:
    """What the failing of one bought board would mean.

    Attributes
    ----------
    losses
        Every bought board, in the order of the plan.
    worst
        The loss that a board on offer can make good and that would hurt most, of those
        that a yard of the plan can make good if there are any; its `by` is the spare worth
        taking. None if no board on offer was found to stand in for any.
    stands_in
        All bought boards that this spare could stand in for, one at a time.
    """

    losses: tuple[Loss, ...]
    worst: Loss | None = None
    stands_in: tuple[str, ...] = ()

    @property
    def lost(self) -> tuple[str, ...]:
        """Boards that no single unused board was found to stand in for."""
        return tuple(loss.board for loss in self.losses if loss.by is None)

    @property
    def far(self) -> tuple[str, ...]:
        """Boards that only a yard which the plan leaves out has something for."""
        return tuple(loss.board for loss in self.losses if loss.by and not loss.is_near)

    @property
    def at_hand(self) -> tuple[str, ...]:
        """Boards that a board of the rack could stand in for."""
        return tuple(loss.board for loss in self.losses if loss.by and not loss.where)


def spares_for(
    project: Project, plan: Plan, should_stop: Callable[[], bool] = lambda: False
) -> Spares | None:
    """Return what could stand in for each bought board of a finished plan.

    None if the plan is short, buys no board or counts board feet, or if it was stopped.
    """
    bought = [cut for cut in plan.boards if cut.bought]
    if not bought or plan.status != COMPLETE or project.tariff.by_feet:
        return None
    bench = _Bench(project, plan)
    losses = []
    for cut in bought:
        if should_stop():
            return None
        losses.append(bench.loss(cut))
    rescued = [loss for loss in losses if loss.by is not None and loss.where is not None]
    if not rescued:
        return Spares(losses=tuple(losses))
    worst = max(rescued, key=lambda loss: (loss.is_near, *loss.hurt))
    spare = next(one for one in bench.unused if one.name == worst.by)
    helped = tuple(cut.board for cut in bought if bench.stands_in(spare, cut))
    return Spares(losses=tuple(losses), worst=worst, stands_in=helped)


@dataclass(frozen=True, slots=True)
class Asked:
    """What a board gives: items to make again, the problem's items they are, and logs.

    `logs` are those that staves must come from, because their mates on other boards do.
    """

    items: tuple[Item, ...]
    originals: tuple[int, ...]
    logs: frozenset[str]


def asked_of(problem: Problem, plan: Plan, one: Bin, cut: CutBoard) -> Asked:
    """Return what the plan takes from a board; parts from offcuts are left out.

    Of a panel that is wider than asked, that much less net width is wanted.
    """
    items = {item.part: item for item in problem.items}
    solid = Counter(piece.part for piece in cut.pieces if piece.role != "stave")
    found = [
        (replace(items[part], units=count), items[part].index)
        for part, count in solid.items()
        if part in items
    ]
    logs = set()
    mates: dict[tuple[str, int], set[str]] = defaultdict(set)
    for panel in plan.panels:
        mates[panel.part, panel.copy] |= {stave.board for stave in panel.staves}
    for panel in plan.panels:
        own = sum(stave.net_width for stave in panel.staves if stave.board == cut.board)
        need = own - (panel.net_width - panel.need)
        if not own or need <= 0 or panel.part not in items:
            continue
        item = items[panel.part]
        if item.match != "none" and len(mates[panel.part, panel.copy]) > 1:
            logs.add(one.log)
        single = item.single if need >= item.need else 0
        again = replace(
            item, units=1, sizes=((item.length, need),), single=single,
            match="none", layers=1,
        )  # fmt: skip
        found.append((again, item.index))
    numbered = tuple(replace(item, index=n) for n, (item, _) in enumerate(found))
    return Asked(numbered, tuple(index for _, index in found), frozenset(logs))


def cutting_for(problem: Problem, one: Bin, asked: Asked) -> Cutting | None:
    """Return a cutting of a bin that gives all that is asked; None if none was found."""
    if any(index not in one.wanted for index in asked.originals):
        return None
    if any(one.log != log for log in asked.logs):
        return None
    need = sum(
        item.units * min(length * width for length, width in item.sizes)
        for item in asked.items
    )
    if need > one.length * max(one.width, one.width2):
        return None
    again = replace(
        one,
        index=0,
        wanted=frozenset(range(len(asked.items))),
        limited={
            n: one.limited[index]
            for n, index in enumerate(asked.originals)
            if index in one.limited
        },
    )
    small = replace(problem, items=asked.items, bins=(again,))
    values = area_values(small)
    for seed in range(TRIES):
        rng = random.Random(seed)  # noqa: S311 - not for secrets
        left = everything(small)
        builder = Builder(small, shaken(values, rng, NOISE if seed else 0.0), rng, [1.0])
        cuttings = builder.build(small.bins, left, set(), most=1)
        if left.is_done and cuttings:
            return cuttings[0]
    return None


class _Bench:
    """Tries unused boards in the place of bought ones, each pair once."""

    def __init__(self, project: Project, plan: Plan) -> None:
        self.project = project
        self.plan = plan
        self.problem = problem_for(project)
        self.bins = {one.name: one for one in self.problem.bins}
        used = {cut.board for cut in (*plan.boards, *plan.sheets)}
        self.used = [one for one in self.problem.bins if one.name in used]
        self.fixed = fixed_costs(self.problem, self.used)
        self.visited = {one.yard for one in self.used if one.yard is not None}
        lumber = {board.name for board in project.boards}
        spare = [o for o in self.problem.bins if o.name in lumber and o.name not in used]
        self.extras = {one.name: self._extra(one) for one in spare}
        self.unused = sorted(
            spare,
            key=lambda o: (
                o.yard is not None,
                o.yard not in self.visited,
                self.extras[o.name],
                o.name,
            ),
        )
        self.known: dict[tuple[str, str], bool] = {}

    def loss(self, cut: CutBoard) -> Loss:
        """Return what could stand in for a board: the rack's, then at yards visited."""
        marks = self.project.board(cut.board).marks
        is_marked = any(mark.is_defect for mark in marks)
        loss = Loss(board=cut.board, is_marked=is_marked, cost=cut.cost)
        by = next((one for one in self.unused if self.stands_in(one, cut)), None)
        if by is None:
            return loss
        extra = Decimal(self.extras[by.name]) / 100
        is_near = by.yard is None or by.yard in self.visited
        return replace(loss, by=by.name, where=by.yard, extra=extra, is_near=is_near)

    def stands_in(self, one: Bin, cut: CutBoard) -> bool:
        """Whether a cutting was found by which a board gives all that another does."""
        key = (one.name, cut.board)
        if key not in self.known:
            lost = self.bins[cut.board]
            asked = asked_of(self.problem, self.plan, lost, cut)
            self.known[key] = (
                serves_as_well(one, lost, asked)
                or cutting_for(self.problem, one, asked) is not None
            )
        return self.known[key]

    def _extra(self, one: Bin) -> int:
        """Return what one more board costs with the boards of the plan, in cents."""
        fixed = fixed_costs(self.problem, [*self.used, one]) - self.fixed
        return round(one.cost + fixed)


def serves_as_well(one: Bin, other: Bin, asked: Asked) -> bool:
    """Whether a clear board is as large as another, so that the same cuts serve."""
    return (
        one.is_plain
        and all(index in one.wanted for index in asked.originals)
        and all(one.log == log for log in asked.logs)
        and one.length >= other.length
        and one.narrow >= max(other.width, other.width2)
    )
