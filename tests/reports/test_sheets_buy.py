"""The buying sheet: what to take, what it costs, what else would do."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

import pytest

from nesting.plan import Plan
from nesting.project import Project
from reports.glueups import glue_ml
from reports.sheets.buy import buy_page
from reports.sheets.cells import Cell, Row
from reports.sheets.content import Content, content_for
from reports.sheets.found import spare_rows
from reports.sheets.page import Page
from reports.supplies import glue_for, needs_for
from stock.measures import BOARD_FEET_PER_M3, Unit
from stock.yards import Yard
from tests.samples import (
    bench_plan,
    bench_project,
    block_plan,
    block_project,
    shelf_plan,
    shelf_project,
)


def content(project: Project, plan: Plan) -> Content:
    """A plan as the sheets see it, weights left out."""
    return content_for(project, plan, lambda _: None)


def row_of(page: Page, label: str) -> Row:
    """The first row with this word in it."""
    for row in page.rows:
        if any(cell and cell.value == label for cell in row.cells):
            return row
    raise AssertionError(f"no row {label!r}")


def cells_by_column(page: Page, row: Row) -> dict[int, Cell]:
    """The cells of a row by column."""
    return dict(page.cells_of(row))


def test_a_board_to_buy_shows_size_feet_price_and_what_it_comes_to():
    page = buy_page(content(bench_project(), bench_plan()))
    cells = cells_by_column(page, row_of(page, "Y1"))
    # 96 x 11 1/2 in, 23/3 board feet at 9.00: 69.00, with 6 % tax 73.14
    assert [cells[at].value for at in (5, 6, 7)] == [96, 11.5, "FAS"]
    assert cells[10].value == pytest.approx(23 / 3)
    assert [cells[at].value for at in (11, 12, 13, 14)] == [9, 69, 0, 73.14]
    assert cells[11].style == "input money"


def test_the_smallest_size_that_would_do_stands_beside_each_board():
    page = buy_page(content(bench_project(), bench_plan()))
    cells = cells_by_column(page, row_of(page, "Y1"))
    assert (cells[8].value, cells[9].value) == (92.125, 10.375)


def test_charges_follow_the_surfacing_of_a_board():
    project, plan = bench_project(), bench_plan()
    yard = replace(
        project.yards[0],
        surfacing_charge=Fraction("0.4"),
        straight_edge_charge=Fraction("0.25"),
    )
    boards = tuple(
        replace(board, surfaced="S4S") if board.name == "Y1" else board
        for board in project.boards
    )
    page = buy_page(content(replace(project, yards=(yard,), boards=boards), plan))
    cells = cells_by_column(page, row_of(page, "Y1"))
    # The plan's board feet times surfacing and two edges: 23/3 x (0.40 + 2 x 0.25) = 6.90
    assert cells[13].value == pytest.approx(6.90)
    assert cells[13].formula is not None
    assert cells[13].formula.endswith("*1+$H$5*2)")


def test_spare_rows_follow_every_yard():
    page = buy_page(content(bench_project(), bench_plan()))
    spare = [
        row for row in page.rows
        if len(row.cells) > 1 and row.cells[1] and row.cells[1].style == "input text"
    ]  # fmt: skip
    assert len(spare) == spare_rows(2) == 3
    assert spare_rows(20) == 8  # three, and one for every four boards


def test_owned_boards_are_fetched_and_not_paid():
    page = buy_page(content(bench_project(), bench_plan()))
    row = row_of(page, "R1")
    assert row.is_ticked
    assert not any(cell and "money" in cell.style for cell in row.cells)
    names = [cell.value for r in page.rows for cell in r.cells if cell]
    assert names.index("Fetch from the rack") < names.index("R1")


def test_sheets_of_sheet_goods_are_paid_by_the_piece():
    project, plan = shelf_project(), shelf_plan()
    sheet = replace(project.sheets[0], where="Hill yard")
    cut = replace(plan.sheets[0], where="Hill yard", bought=True, pay=Decimal("29.68"))
    totals = replace(plan.totals, to_pay=plan.totals.to_pay + Decimal("29.68"))
    plan = replace(plan, sheets=(cut,), totals=totals)
    page = buy_page(content(replace(project, sheets=(sheet,)), plan))
    cells = cells_by_column(page, row_of(page, "birch ply 1"))
    # 28.00 each, with 6 % tax 29.68; no board feet
    assert (cells[10].value, cells[11].value, cells[14].value) == (None, 28, 29.68)
    assert cells[12].formula == f"=K{page.rows.index(row_of(page, 'birch ply 1')) + 1}"
    # 86.50 + 28.00 reach the smallest order of 90.00
    assert row_of(page, "up to the yard's smallest order").cells[-1] is not None
    assert (
        page.last_value(
            page.rows.index(row_of(page, "up to the yard's smallest order")) + 1
        )
        == 0
    )


def test_a_metric_list_prices_cubic_metres():
    project, plan = block_project(), block_plan()
    board = replace(project.boards[0], where="Bridge yard", price=Fraction(1000))
    yard = Yard(name="Bridge yard")
    cut = replace(plan.boards[0], where="Bridge yard", bought=True, pay=Decimal("4.97"))
    totals = replace(plan.totals, to_pay=Decimal("4.97"))
    project = replace(project, boards=(board,), yards=(yard,))
    page = buy_page(content(project, replace(plan, boards=(cut,), totals=totals)))
    cells = cells_by_column(page, row_of(page, "A1"))
    # 27 x 1200 x 153.33 mm is 0.004968 m3; at 1000 a cubic metre 4.968
    assert cells[11].value == pytest.approx(0.004968)
    assert cells[12].value == pytest.approx(1000)
    assert cells[13].value == pytest.approx(4.968)
    assert cells[10].value == pytest.approx(0.004968 * float(BOARD_FEET_PER_M3))


def test_nothing_to_buy_is_said():
    page = buy_page(content(block_project(), block_plan()))
    assert row_of(page, "Nothing has to be bought: the rack holds everything.")


def test_glue_is_worked_out_and_bought_in_whole_packs():
    project, plan = bench_project(), bench_plan()
    glue, screws = needs_for(project, plan)
    # Two joints of 3/4 x 49 in are 73.5 sq in: 7.23 ml of film, half as much again for
    # squeeze-out 10.84 ml = 0.367 fl oz, shown as 0.4; packs hold 8.
    assert glue_for(project, plan) == pytest.approx(10.84, abs=0.01)
    assert (glue.quantity, glue.packs) == (Fraction(4, 10), 1)
    assert glue.cost == Decimal(7)
    assert (screws.packs, screws.cost) == (1, Decimal(4))


def test_layers_are_glued_over_their_whole_face():
    # Two blocks of two layers: two faces of 225 x 66 mm, 152.4 ml/m2 and half again
    needed = 2 * 0.225 * 0.066 * 152.4 * 1.5
    assert glue_for(block_project(), block_plan()) == pytest.approx(needed)


def test_the_glue_of_a_project_is_that_of_its_panels():
    plan = bench_plan()
    assert glue_for(bench_project(), plan) == pytest.approx(
        glue_ml(plan.panels[0], 48, Unit.INCH)
    )


def test_an_unknown_unit_of_glue_is_not_guessed():
    project = bench_project()
    glue = replace(project.supplies[0], unit="tubs")
    (need,) = needs_for(replace(project, supplies=(glue,)), bench_plan())
    assert need.quantity is None
    assert "'tubs'" in need.remark
