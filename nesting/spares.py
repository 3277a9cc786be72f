"""A spare board: which bought board would be missed most, and what could stand in."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from decimal import Decimal

from nesting.plan import COMPLETE, CutBoard, Plan
from nesting.problem import Bin, fixed_costs, problem_for
from nesting.project import Project
from nesting.stand_in import Asked, asked_of, cutting_for, serves_as_well
from nesting.thickness import as_planned

MOST_BOARDS = 30  # bought boards that are looked at, the dearest ones
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
        The bought boards in the order of the plan; of very many the dearest.
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
    bought = _dearest([cut for cut in plan.boards if cut.bought])
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


def _dearest(boards: list[CutBoard]) -> list[CutBoard]:
    """Return the dearest boards in the order they came."""
    dear = sorted(boards, key=lambda cut: -cut.cost)[:MOST_BOARDS]
    return [cut for cut in boards if cut in dear]


class _Bench:
    """Tries unused boards in the place of bought ones, each pair once."""

    def __init__(self, project: Project, plan: Plan) -> None:
        self.project = project
        self.plan = plan
        self.problem = problem_for(as_planned(project, plan))
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
        self.asked: dict[str, Asked] = {}
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
            asked = self.asked.get(cut.board)
            if asked is None:
                asked = asked_of(self.problem, self.plan, lost, cut)
                self.asked[cut.board] = asked
            self.known[key] = (
                serves_as_well(one, lost, asked)
                or cutting_for(self.problem, one, asked) is not None
            )
        return self.known[key]

    def _extra(self, one: Bin) -> int:
        """Return what one more board costs with the boards of the plan, in cents."""
        fixed = fixed_costs(self.problem, [*self.used, one]) - self.fixed
        return round(one.cost + fixed)
