"""A plan in ten lines, against the sample plans whose sums were done on paper."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

from hypothesis import given
from hypothesis import strategies as st

from nesting.plan import Shortage
from reports.plaintext import SCREEN, aligned, counted, labelled, money, wood
from reports.summary import summary
from stock.measures import Unit
from tests.samples import (
    bench_plan,
    bench_project,
    block_plan,
    block_project,
    shelf_plan,
    shelf_project,
)


def lines_of(text: str) -> dict[str, str]:
    """The summary's lines by label; texts of one label and wrapped lines joined."""
    found: dict[str, str] = {}
    label = ""
    for line in text.splitlines():
        head = line[: line.index("  ")] if not line.startswith(" ") else ""
        label = head or label
        found[label] = (found.get(label, "") + " " + line[len(head) :].strip()).strip()
    return found


def test_a_complete_plan_says_what_to_buy_and_what_it_costs():
    lines = lines_of(summary(bench_project(), bench_plan()))
    assert lines["plan"] == "Low bench: complete, 6 pieces to make"
    assert lines["buy"] == "Hill yard: 2 boards: Y1, Y2"
    assert lines["rack"] == "1 board: R1"
    assert lines["to pay"] == "107.40, of which trips 12.00, smallest orders 3.71"
    assert lines["cost"].startswith("105.70 with owned wood 6.68 and sawing 4.80")
    assert lines["glue-ups"] == "1 panel"
    # Y1.1, Y2.1 and Y2.2 are kept, and what R1 has left if its sum says so
    kept = sum(cut.keep for board in bench_plan().boards for cut in board.offcuts)
    assert lines["offcuts"] == f"{kept} worth keeping"


def test_the_bound_is_said_in_plain_words():
    lines = lines_of(summary(bench_project(), bench_plan()))
    # the sample's bound is 88.00; (105.70 - 88.00) / 88.00 = 20.1 %
    assert lines["proven"] == (
        "no plan under the same cutting rules costs less than 88.00; "
        "this one is within 20.1 % of that"
    )


def test_a_plan_at_its_bound_is_called_the_best():
    plan = bench_plan()
    totals = replace(plan.totals, bound=plan.totals.cost, gap=0.0)
    text = summary(bench_project(), replace(plan, totals=totals))
    assert "the best there is" in text


def test_a_plan_without_a_bound_claims_nothing():
    plan = bench_plan()
    totals = replace(plan.totals, bound=Decimal(0), gap=None)
    lines = lines_of(summary(bench_project(), replace(plan, totals=totals)))
    assert lines["proven"] == "nothing: no useful lower bound was found"


def test_a_short_plan_says_so_first_and_names_the_parts_and_what_to_buy():
    plan = replace(
        bench_plan(),
        status="short",
        short=tuple(Shortage(part="Leg", copy=n, why="no wood is left") for n in (1, 2)),
        notes=("buy a board of white oak 4/4, 14 x 3 in or more",),
    )
    text = summary(bench_project(), plan)
    first, second = text.splitlines()[:2]
    assert "SHORT, the wood at hand does not make 2 of 6 pieces" in first
    assert second.split() == ["short", "2", "of", "Leg:", "no", "wood", "is", "left"]
    assert lines_of(text)["note"] == "buy a board of white oak 4/4, 14 x 3 in or more"


def test_a_bound_far_off_is_not_dressed_up_as_a_percentage():
    plan = bench_plan()
    # 105.70 / 10.57 = 10
    totals = replace(plan.totals, bound=Decimal("10.57"), gap=9.0)
    lines = lines_of(summary(bench_project(), replace(plan, totals=totals)))
    assert lines["proven"].endswith("less than 10.57; this one is 10.0 times that")


def test_sheet_goods_are_named_beside_the_boards():
    lines = lines_of(summary(shelf_project(), shelf_plan()))
    assert lines["rack"].startswith("1 board: R1 1 sheet: ")


def test_a_plan_that_buys_nothing_says_so():
    lines = lines_of(summary(block_project(), block_plan()))
    assert lines["buy"] == "nothing"


def test_a_project_without_prices_counts_board_feet():
    assert "board feet, less kept offcuts" in summary(block_project(), block_plan())


def test_a_metric_project_shows_cubic_metres_beside_board_feet():
    # 1 m3 is 423.776 board feet (from 1 in = 25.4 mm)
    assert wood(Fraction(423776, 1000), Unit.MM) == "1.000 m3 (423.8 board feet)"


def test_a_summary_keeps_to_the_screen_and_to_about_ten_lines():
    text = summary(bench_project(), bench_plan())
    assert len(text.splitlines()) <= 13
    assert max(map(len, text.splitlines())) <= SCREEN


@given(st.lists(st.text("abc ", max_size=9), min_size=3, max_size=3), st.integers(0, 4))
def test_the_columns_of_a_table_begin_in_one_place(cells: list[str], rows: int):
    table = aligned(("one", "two", "three"), [cells] * rows).split("\n")
    start = 2 + max(3, len(cells[0]) if rows else 0)
    assert len(table) == rows + 1
    assert table[0].index("two") == start
    assert all(
        line[start : start + len(cells[1])].rstrip() == cells[1].rstrip()
        for line in table[1:]
    )


def test_numbers_are_set_flush_right():
    table = aligned(("part", "make"), [("Leg", "4"), ("Wedge", "12")], numbers=("make",))
    assert table.splitlines() == ["part   make", "Leg       4", "Wedge    12"]


def test_long_texts_wrap_under_their_label():
    text = labelled([("buy", "board " * 30), ("rack", "none")])
    assert all(line.startswith(("buy ", "rack", "      ")) for line in text.splitlines())


def test_one_is_singular():
    assert (counted(1, "board"), counted(2, "board")) == ("1 board", "2 boards")


def test_money_has_two_places():
    assert money(Decimal("1234.5")) == "1,234.50"
