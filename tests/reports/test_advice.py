"""Other yards and a spare board, as the screen and the workbook tell them."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

from openpyxl import load_workbook

from nesting.alternatives import Alternative, Comparison
from nesting.spares import Loss, Spares
from reports.advice import Advice, spare_words, yard_words
from reports.sheets.content import content_for
from reports.summary import summary
from reports.workbook import pages_for, write_workbook
from tests.samples import bench_plan, bench_project

COST = Decimal("105.70")

OTHERS = (
    Alternative(
        yard="Hill yard", is_without=True, yards=("Mill", "Dale"),
        cost=Decimal("112.20"), bound=Decimal("107.00"),
    ),
    Alternative(yard="Mill", is_without=False, bound=Decimal("101.00")),
    Alternative(yard="Dale", is_without=True, bound=Decimal(0), cannot=True),
)  # fmt: skip
YARDS = Comparison(("Hill yard", "Dale"), COST, OTHERS)

A, B, C, D = (
    Loss(board="A", is_marked=False, cost=Decimal(9), by="X", where="Hill yard",
         extra=Decimal("12.50"), is_near=True),
    Loss(board="B", is_marked=True, cost=Decimal(9), by="R1", is_near=True),
    Loss(board="C", is_marked=False, cost=Decimal(9), by="F", where="Far yard"),
    Loss(board="D", is_marked=False, cost=Decimal(9)),
)  # fmt: skip
SPARES = Spares(losses=(A, B, C, D), worst=A, stands_in=("A", "B"))


def test_the_second_best_choice_of_yards_is_told_with_its_cost_bound_and_difference():
    # 112.20 - 105.70 = 6.50
    assert yard_words(YARDS) == (
        "next best is without Hill yard (buying at Mill and Dale): 112.20, 6.50 more; "
        "no plan without Hill yard costs less than 107.00; "
        "nothing makes everything without Dale"
    )


def test_the_least_of_all_other_choices_decides_whether_the_yards_are_proven_best():
    # plans with Mill are only proven to cost 101.00, less than 105.70
    assert (YARDS.least, YARDS.is_best) == (Decimal(101), False)
    proven = replace(YARDS, others=(OTHERS[0], OTHERS[2]))
    assert (proven.least, proven.is_best) == (Decimal(107), True)
    assert "no other choice of yards costs less, that is proven" in yard_words(proven)


def test_where_no_other_choice_was_found_it_is_said_and_nothing_is_claimed():
    alone = Comparison(("Hill yard",), COST, OTHERS[1:2])
    assert alone.second is None
    assert yard_words(alone) == ("no other choice of yards was found that makes everything")
    needed = Comparison(("Dale",), COST, OTHERS[2:])
    assert (needed.least, needed.is_best) == (None, True)


def test_a_choice_that_buys_nothing_is_told_as_the_rack():
    rack = replace(OTHERS[0], yards=())
    assert "(from the rack alone)" in yard_words(replace(YARDS, others=(rack,)))


def test_the_spare_is_told_with_its_price_and_what_it_could_stand_in_for():
    assert spare_words(SPARES) == (
        "X from Hill yard, 12.50 more, could stand in for A or B; "
        "the rack has a board for B; only another yard has one for C; "
        "no single board left was found for D"
    )


def test_of_many_boards_only_the_first_are_named():
    lost = tuple(replace(D, board=f"D{n}") for n in range(15))
    assert spare_words(Spares(losses=lost)).endswith("D10, D11 or 3 more")


def test_the_screen_shows_both_before_the_notes_and_nothing_where_nothing_is_known():
    plan = replace(bench_plan(), notes=("mind the step",))
    text = summary(bench_project(), plan, advice=Advice(yards=YARDS, spares=SPARES))
    labels = [line.split()[0] for line in text.splitlines() if not line.startswith(" ")]
    assert labels[-3:] == ["yards", "spare", "note"]
    plain = summary(bench_project(), plan)
    assert not {"yards", "spare"} & {line.split()[0] for line in plain.splitlines()}


def words(page) -> list[object]:
    return [cell.value for row in page.rows for cell in row.cells if cell]


def test_the_overview_has_a_row_for_each_other_choice_and_the_spare():
    advice = Advice(yards=YARDS, spares=SPARES)
    content = content_for(bench_project(), bench_plan(), lambda _: None, advice=advice)
    overview, buy, *_ = pages_for(content)
    rows = [[cell.value for cell in row.cells if cell] for row in overview.rows]
    assert ["next best", "without Hill yard", 112.2, 6.5, 107.0, "Mill, Dale"] in rows
    assert [None, "with Mill", None, None, 101.0, "no plan was found with Mill"] in rows
    assert [
        None, "without Dale", None, None, None, "can't make everything without Dale",
    ] in rows  # fmt: skip
    assert any("X from Hill yard, 12.50 more" in str(value) for value in words(overview))
    assert any("A spare worth taking: X" in str(value) for value in words(buy))


def test_sheets_without_advice_say_nothing_of_it():
    content = content_for(bench_project(), bench_plan(), lambda _: None)
    overview, buy, *_ = pages_for(content)
    told = [str(value) for value in (*words(overview), *words(buy))]
    assert not any("Other choices" in text or "spare board" in text for text in told)
    lost = content_for(
        bench_project(),
        bench_plan(),
        lambda _: None,
        advice=Advice(spares=Spares(losses=(D,))),
    )
    overview, buy, *_ = pages_for(lost)
    assert any("No single board left was found for D" in str(v) for v in words(overview))
    assert not any("worth taking" in str(value) for value in words(buy))


def test_names_of_yards_stay_text_in_the_saved_workbook(tmp_path):
    odd = Comparison(("=A1",), COST, (replace(OTHERS[0], yard="=A1", yards=("=1+1",)),))
    path = tmp_path / "bench.xlsx"
    write_workbook(path, bench_project(), bench_plan(), advice=Advice(yards=odd))
    sheet = load_workbook(path)["Overview"]
    cells = [cell for row in sheet.iter_rows() for cell in row if cell.value == "=1+1"]
    assert [cell.data_type for cell in cells] == ["s"]
