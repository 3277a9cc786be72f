"""What the whole project costs: wood, supplies, time at the saws, less what comes back.

The plan makes small what the choice of boards can change; this adds what is bought besides,
and counts in money even where the plan counts board feet.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from fractions import Fraction

from nesting.plan import CutBoard, Plan
from nesting.project import Project
from nesting.totals import sawing_price
from reports.carrying import Haul
from reports.frames import sheet_of
from reports.supplies import needs_for
from stock.boards import area_feet
from stock.measures import BOARD_FEET_PER_M3, Unit
from stock.yards import Tariff, cents


@dataclass(frozen=True, kw_only=True, slots=True)
class Owned:
    """One board or sheet from the rack, and what it is counted at.

    Attributes
    ----------
    amount
        Board feet, in a metric project cubic metres; 1 for a sheet.
    rate
        The yards' price of one of these; None if nobody names one, and it counts nothing.
    """

    name: str
    amount: Fraction
    rate: Fraction | None
    is_sheet: bool
    value: Decimal


@dataclass(frozen=True, kw_only=True, slots=True)
class Spare:
    """Pieces of a part beyond those asked for, in case of a bad cut.

    Attributes
    ----------
    asked, spares
        Pieces that the project needs, and those it wants to spare.
    made
        How many of the spares this plan makes.
    feet
        Board feet of rough wood in them; 0 in sheet goods.
    """

    part: str
    asked: int
    spares: int
    made: int
    feet: Fraction


@dataclass(frozen=True, kw_only=True, slots=True)
class Price:
    """The price of a project, in its currency.

    Attributes
    ----------
    wood
        Paid to the yards for boards and sheets: charges, tax, trips and top-ups in.
    further_trips
        To yards whose wood one load doesn't take; the plan's cost counts the first only.
    supplies
        Whole packs; those in `not_counted` are not in it, as their amount isn't known.
    owned, sawing, credit
        Owned wood as it is counted, time at the saws, what goes back on the rack.
    """

    wood: Decimal
    further_trips: Decimal
    supplies: Decimal
    not_counted: tuple[str, ...]
    owned: Decimal
    sawing: Decimal
    credit: Decimal

    @property
    def paid(self) -> Decimal:
        """Money that leaves the purse."""
        return self.wood + self.further_trips + self.supplies

    @property
    def total(self) -> Decimal:
        """The price of the project, whatever goes back on the rack."""
        return self.paid + self.owned + self.sawing

    @property
    def less_rack(self) -> Decimal:
        """The price less the worth of what goes back on the rack."""
        return self.total - self.credit


def price_for(project: Project, plan: Plan, hauls: Sequence[Haul]) -> Price:
    """Return the price of a project as this plan makes it and `hauls` bring it home."""
    needs = tuple(needs_for(project, plan))
    everything = (*plan.boards, *plan.sheets)
    return Price(
        wood=plan.totals.to_pay,
        further_trips=sum((further_trips_of(haul) for haul in hauls), Decimal(0)),
        supplies=sum((need.cost for need in needs), Decimal(0)),
        not_counted=tuple(need.supply.item for need in needs if need.packs is None),
        owned=sum((one.value for one in owned_for(project, plan)), Decimal(0)),
        sawing=sawing_price(project, everything),
        credit=_credit(project, plan),
    )


def further_trips_of(haul: Haul) -> Decimal:
    """Return what the trips to a yard beyond the first cost, in whole cents each."""
    return _decimal(cents(haul.yard.trip_cost)) * max(0, haul.count - 1)


def owned_for(project: Project, plan: Plan) -> Iterator[Owned]:
    """Yield the boards and sheets that the plan takes from the rack."""
    tariff = _money(project)
    for cut in plan.boards:
        if not cut.bought:
            yield _owned_board(project, tariff, cut)
    for cut in plan.sheets:
        if not cut.bought:
            sheet = sheet_of(cut, project)
            rate = sheet.price if sheet else None
            share = (rate or Fraction(0)) * project.shop.rack_value / 100
            yield Owned(
                name=cut.board, amount=Fraction(1), rate=rate, is_sheet=True,
                value=_decimal(cents(share)),
            )  # fmt: skip


def spares_for(project: Project, plan: Plan) -> Iterator[Spare]:
    """Yield the parts that spare pieces are wanted of, and what the plan makes of them."""
    boards = {board.name: board for board in project.boards}
    for part in project.parts:
        if not part.spares:
            continue
        made, feet = set(), Fraction(0)
        for cut in (*plan.boards, *plan.sheets):
            for piece in cut.pieces:
                spare = [copy for copy in piece.copies if copy > part.qty]
                if piece.part == part.name and spare:
                    made.update(spare)
                    if cut.board in boards:
                        area = piece.length * piece.width * len(spare) // piece.leaves
                        feet += area_feet(boards[cut.board], area, project.unit)
        yield Spare(
            part=part.name, asked=part.qty, spares=part.spares, made=len(made), feet=feet
        )


def _owned_board(project: Project, tariff: Tariff, cut: CutBoard) -> Owned:
    """Return a board from the rack with its value."""
    board = project.board(cut.board)
    amount = cut.board_feet
    if project.unit is Unit.MM:
        amount /= BOARD_FEET_PER_M3
    return Owned(
        name=cut.board, amount=amount, rate=tariff.asked(board), is_sheet=False,
        value=_decimal(tariff.cost(board)),
    )  # fmt: skip


def _credit(project: Project, plan: Plan) -> Decimal:
    """Return what the kept offcuts are worth in money."""
    tariff = _money(project)
    worth = 0
    for cut in plan.boards:
        board = project.board(cut.board)
        kept = (one for one in cut.offcuts if one.keep)
        worth += sum(tariff.credit(board, one.length * one.width) for one in kept)
    return _decimal(worth)


def _money(project: Project) -> Tariff:
    """Return the project's tariff in money, even if its plan counts board feet."""
    return replace(project.tariff, by_feet=False)


def _decimal(cents_: int) -> Decimal:
    return Decimal(cents_) / 100
