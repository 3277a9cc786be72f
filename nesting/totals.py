"""Sums of a plan: what it costs, what is paid, how much wood goes into it."""

from __future__ import annotations

import math
from collections.abc import Iterable
from decimal import Decimal
from fractions import Fraction

from nesting.plan import CutBoard, Totals
from nesting.project import Project
from stock.boards import area_feet
from stock.yards import Tariff, cents

ROUNDING = Decimal("0.01")


def totals_for(
    project: Project,
    boards: Iterable[CutBoard],
    sheets: Iterable[CutBoard],
    bound: tuple[Decimal, str],
    seconds: float,
) -> Totals:
    """Return the totals of boards and sheets under a proven bound (money, its name).

    Raises
    ------
    AssertionError
        If the bound is above the cost: what was called proven is wrong.
    """
    boards, sheets = tuple(boards), tuple(sheets)
    everything = (*boards, *sheets)
    tariff = project.tariff
    trips, top_ups = _fixed(project, tariff, everything)
    charged = Decimal(0) if tariff.by_feet else Decimal(1)
    bought = sum((b.cost for b in everything if b.bought), Decimal(0))
    owned = sum((b.cost for b in everything if not b.bought), Decimal(0))
    credit = sum((o.credit for b in everything for o in b.offcuts), Decimal(0))
    sawing = Decimal(0) if tariff.by_feet else sawing_price(project, everything)
    cost = bought + owned + (trips + top_ups) * charged + sawing - credit
    paid = sum((b.pay for b in everything), Decimal(0)) + trips + top_ups
    least = _bound_for(cost, bound[0])
    used = sum((b.board_feet for b in boards), Fraction(0))
    blanks = sum(
        (
            area_feet(project.board(b.board), piece.length * piece.width, project.unit)
            for b in boards
            for piece in b.pieces
        ),
        Fraction(0),
    )
    return Totals(
        cost=cost,
        to_pay=paid,
        boards=bought,
        trips=trips * charged,
        top_ups=top_ups * charged,
        owned_wood=owned,
        sawing=sawing,
        credit=credit,
        bound=least,
        bound_name=bound[1],
        gap=float((cost - least) / least) if least > 0 else None,
        board_feet_bought=sum((b.board_feet for b in boards if b.bought), Fraction(0)),
        board_feet_used=used,
        yield_=float(blanks / used) if used else 0.0,
        boards_bought=sum(1 for b in boards if b.bought),
        seconds=seconds,
    )


def _bound_for(cost: Decimal, bound: Decimal) -> Decimal:
    """Return a proven bound as a plan states it, between nothing and the cost.

    What the bound leaves out never makes a plan cheaper, so a bound above the cost is a
    fault of the program. Only the last cent is let go: both figures are rounded.
    """
    if bound > cost + ROUNDING:
        raise AssertionError(f"the proven bound {bound} is above the cost {cost}")
    return min(max(bound, Decimal(0)), cost)


def _fixed(
    project: Project, tariff: Tariff, cut: Iterable[CutBoard]
) -> tuple[Decimal, Decimal]:
    """Return what trips and top-ups to smallest orders cost, as paid."""
    goods: dict[str, Fraction] = {}
    boards = {board.name: board for board in project.boards}
    sheets = {sheet.name: sheet for sheet in project.sheets}
    for one in cut:
        if not one.bought:
            continue
        if one.board in boards:
            worth = tariff.before_tax(boards[one.board])
        else:
            worth = sheets[one.board.rsplit(" ", 1)[0]].price
        goods[one.where] = goods.get(one.where, Fraction(0)) + worth
    trips = top_ups = 0
    for yard in project.yards:
        if yard.name in goods:
            trips += cents(yard.trip_cost)
            missing = max(Fraction(0), yard.smallest_order - goods[yard.name])
            top_ups += cents(missing * (1 + yard.tax / 100))
    return Decimal(trips) / 100, Decimal(top_ups) / 100


def sawing_price(project: Project, cut: Iterable[CutBoard]) -> Decimal:
    """Return the price of the time at all cuts, resawing in it, rounded up to a cent."""
    shop = project.shop
    count = sum(
        len(one.cuts) + sum(piece.leaves - 1 for piece in one.pieces) for one in cut
    )
    return Decimal(math.ceil(count * shop.cut_time * shop.shop_rate * 100 / 3600)) / 100
