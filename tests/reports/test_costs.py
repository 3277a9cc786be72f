"""The price of a project, against the sample plans whose sums were done on paper."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given, settings

from nesting.plan import Plan
from nesting.project import Project
from nesting.solve import SolveParams, solve
from reports.carrying import hauls_for
from reports.costs import owned_for, price_for, spares_for
from reports.sheets.buy import buy_page
from reports.sheets.content import content_for
from reports.sheets.costs import costs_page
from reports.sheets.offcuts import offcuts_page
from reports.sheets.page import Page
from reports.summary import summary
from stock.measures import BOARD_FEET_PER_M3
from tests.samples import (
    bench_plan,
    bench_project,
    block_plan,
    block_project,
    shelf_plan,
    shelf_project,
)
from tests.strategies import projects


def page_of(project: Project, plan: Plan) -> Page | None:
    content = content_for(project, plan, lambda _: None)
    return costs_page(content, buy_page(content), offcuts_page(content))


def values_in(page: Page, row: int) -> list[object]:
    return [cell.value for cell in page.rows[row - 1].cells if cell]


def test_the_price_is_wood_supplies_owned_wood_and_time():
    # Wood 107.40 (boards 91.69, trip 12.00, smallest order 3.71); one pack of glue 7.00 and
    # one of screws 4.00; R1 6.68; 16 cuts of 30 s at 36 an hour 4.80: 129.88. Offcuts of
    # 7.68 + 2.11 + 3.39 = 13.18 go back.
    price = price_for(bench_project(), bench_plan(), ())
    assert (price.wood, price.supplies) == (Decimal("107.40"), 11)
    assert (price.owned, price.sawing) == (Decimal("6.68"), Decimal("4.80"))
    assert price.paid == Decimal("118.40")
    assert price.total == Decimal("129.88")
    assert price.less_rack == Decimal("116.70")


def test_owned_sheets_count_by_the_piece():
    # 30 % of 28.00; and five cuts more are 21 x 0.30
    rack = {one.name: one for one in owned_for(shelf_project(), shelf_plan())}
    assert rack["birch ply 1"].value == Decimal("8.40")
    assert rack["birch ply 1"].amount == 1
    assert price_for(shelf_project(), shelf_plan(), ()).sawing == Decimal("6.30")


def test_a_plan_that_counts_board_feet_is_priced_in_money_all_the_same():
    project = bench_project()
    feet = replace(project, shop=replace(project.shop, aim="board feet"))
    assert price_for(feet, bench_plan(), ()) == price_for(project, bench_plan(), ())


def test_what_nobody_names_a_price_for_counts_nothing_and_is_said():
    project = block_project()
    project = replace(project, shop=replace(project.shop, shop_rate=Fraction(36)))
    (board,) = owned_for(project, block_plan())
    assert (board.rate, board.value) == (None, 0)
    # 6 cuts of 30 s at 36 an hour
    assert price_for(project, block_plan(), ()).total == Decimal("1.80")
    page = page_of(project, block_plan())
    assert page is not None
    assert "CHECK: nobody names a price" in values_in(page, page.names["owned"] - 1)


def test_metric_wood_is_counted_in_cubic_metres():
    project = block_project()
    board = replace(project.boards[0], price=Fraction(1000))
    (one,) = owned_for(replace(project, boards=(board,)), block_plan())
    # 0.004968 m3 at 1000 and 30 %: 1.4904
    assert float(one.amount) == pytest.approx(0.004968)
    assert one.rate == 1000
    assert one.value == Decimal("1.49")
    assert one.amount * BOARD_FEET_PER_M3 == block_plan().boards[0].board_feet


def test_a_project_without_prices_has_no_sheet_of_costs():
    assert page_of(block_project(), block_plan()) is None


def test_a_supply_whose_amount_is_not_known_is_named_and_not_counted():
    project = bench_project()
    oil = replace(project.supplies[0], item="hard oil", unit="tins")
    project = replace(project, supplies=(oil, project.supplies[1]))
    price = price_for(project, bench_plan(), ())
    assert price.not_counted == ("hard oil",)
    assert price.supplies == 4
    page = page_of(project, bench_plan())
    assert page is not None
    assert "CHECK: without hard oil" in values_in(page, page.names["paid"])
    text = " ".join(summary(project, bench_plan()).split())
    assert "supplies 4.00, without hard oil, amount not known" in text


def test_sums_of_the_sheet_are_those_of_the_price():
    for project, plan in (
        (bench_project(), bench_plan()),
        (shelf_project(), shelf_plan()),
    ):
        page, price = page_of(project, plan), price_for(project, plan, ())
        assert page is not None
        for name, amount in (
            ("wood", price.wood),
            ("supplies", price.supplies),
            ("owned", price.owned),
            ("sawing", price.sawing),
            ("paid", price.paid),
            ("price", price.total),
            ("less rack", price.less_rack),
        ):
            cell = dict(page.cells_of(page.rows[page.names[name] - 1]))[7]
            assert cell.value == pytest.approx(float(amount)), name
            assert cell.formula


def test_further_trips_are_in_the_price_and_not_in_the_plans_cost():
    # 38.7 lb at 25 a load are two loads (tests of carrying): the trip of 12.00 once more.
    # 118.40 + 12.00 leave the purse, 129.88 + 12.00 is the price.
    project, plan = bench_project(), bench_plan()
    shop = replace(project.shop, longest_carried=80 * 64, heaviest_carried=Fraction(25))
    project = replace(project, shop=shop)
    price = price_for(project, plan, hauls_for(project, plan))
    assert price.further_trips == 12
    assert (price.wood, price.paid) == (plan.totals.to_pay, Decimal("130.40"))
    assert price.total == Decimal("141.88")
    page = page_of(project, plan)
    assert page is not None
    at, yard = page.names["further trips"], page.names["yard Hill yard"]
    cell = dict(page.cells_of(page.rows[at - 1]))[7]
    assert (cell.value, cell.formula) == (12.0, f"=F{yard}*1")
    total = dict(page.cells_of(page.rows[page.names["price"] - 1]))[7]
    assert total.value == pytest.approx(141.88)
    text = " ".join(summary(project, plan).split())
    assert "price 141.88 for the whole project" in text
    assert "supplies 11.00 and further trips 12.00" in text


def test_the_parts_of_what_a_yard_is_paid_add_up():
    page = page_of(bench_project(), bench_plan())
    assert page is not None
    # 86.50 of wood, no charges, 91.69 - 86.50 tax, 3.71 to the smallest order, 12.00 trip
    yard = values_in(page, page.names["wood"] - 1)
    assert yard[0] == "Hill yard"
    assert yard[1:7] == pytest.approx([86.50, 0, 5.19, 3.71, 12.00, 107.40])
    assert sum(yard[1:6]) == pytest.approx(yard[6])


def test_spare_pieces_are_listed_with_their_wood():
    project = bench_project()
    parts = tuple(
        replace(part, qty=3, spares=1) if part.name == "Leg" else part
        for part in project.parts
    )
    project = replace(project, parts=parts)
    (one,) = spares_for(project, bench_plan())
    # the fourth leg: 11 x 2 1/4 square inches of 144
    assert (one.part, one.asked, one.spares, one.made) == ("Leg", 3, 1, 1)
    assert one.feet == Fraction("24.75") / 144
    page = page_of(project, bench_plan())
    assert page is not None
    assert values_in(page, len(page.rows))[:4] == ["Leg", 3, 1, 1]


def test_the_screen_tells_the_price_where_it_says_more_than_the_cost():
    project, plan = bench_project(), bench_plan()
    text = " ".join(summary(project, plan).split())
    assert "price 129.88 for the whole project: to pay 118.40 with supplies 11.00" in text
    assert "on the rack 116.70" in text
    plain = replace(project, supplies=(), shop=replace(project.shop, shop_rate=Fraction(0)))
    assert "whole project" not in summary(plain, plan)


@settings(max_examples=10, deadline=None)
@given(projects())
def test_without_supplies_the_price_less_the_rack_is_the_plans_cost(project):
    plan = solve(project, SolveParams(seconds=0.3))
    if not project.tariff.by_feet:
        assert price_for(project, plan, ()).less_rack == plan.totals.cost
