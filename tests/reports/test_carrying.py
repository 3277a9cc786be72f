"""The way home: weights, loads, what is said of them, and the rows on the sheet Buy."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

import pytest

from nesting.plan import Plan
from nesting.project import Project
from reports.carrying import grams_of, hauls_for, in_unit, most_grams
from reports.carrying_words import advice_for
from reports.cautions import CHECK, NOTE, cautions_for
from reports.sheets.boards import boards_page
from reports.sheets.buy import buy_page
from reports.sheets.content import content_for
from reports.sheets.page import Page
from reports.summary import summary
from stock.measures import Unit
from stock.yards import Yard
from tests.samples import (
    bench_plan,
    bench_project,
    block_plan,
    block_project,
    inch,
    mm,
    shelf_plan,
    shelf_project,
)


def limited(longest: int | None = None, heaviest: int | None = None) -> Project:
    """The low bench, with a vehicle."""
    project = bench_project()
    shop = replace(
        project.shop,
        longest_carried=longest,
        heaviest_carried=None if heaviest is None else Fraction(heaviest),
    )
    return replace(project, shop=shop)


def page_of(project: Project, plan: Plan) -> Page:
    return buy_page(content_for(project, plan, lambda _: None))


def words_on(page: Page) -> str:
    return "\n".join(
        str(cell.value) for row in page.rows for cell in row.cells if cell and cell.value
    )


def test_without_a_limit_nothing_is_said():
    project, plan = bench_project(), bench_plan()
    assert hauls_for(project, plan) == ()
    assert list(advice_for(project, hauls_for(project, plan))) == []
    assert "carry" not in words_on(page_of(project, plan)).lower()


def test_a_stretch_weighs_its_share_of_the_board():
    # White oak 0.68 at 12 % is 761.6 kg/m3 (Wood Handbook, as in species.csv). Y1 of
    # 96 x 11 1/2 x 1 in is 1104 cubic inches of 16.387064 cm3: 13.778 kg, and 50 1/16 of
    # its 96 in weigh 7.185 kg, which are 15.84 lb.
    (haul,) = hauls_for(limited(inch(80)), bench_plan())
    first, second, _ = haul.items
    assert (first.board, second.board) == ("Y1", "Y1")
    assert first.grams == pytest.approx(7185, abs=1)
    assert (first.grams or 0) + (second.grams or 0) == pytest.approx(13778, abs=2)
    assert in_unit(first.grams or 0, Unit.INCH) == pytest.approx(15.84, abs=0.01)


def test_a_tapered_stretch_weighs_by_its_own_width():
    # An ash board can't be told from its name; as white ash, 0.60: 672 kg/m3. 1200 mm,
    # 160 to 150 wide, 27 thick: the butt half is 600 x 157.5 x 27 mm, 1.7146 kg; the other
    # 600 x 152.5 x 27 mm, 1.6602 kg.
    project, plan = block_project(), block_plan()
    board = replace(project.boards[0], species="white ash", where="Bridge yard")
    project = replace(project, boards=(board,))
    cut = replace(plan.boards[0], bought=True, where="Bridge yard")
    (whole,) = hauls_for(
        replace(project, shop=replace(project.shop, heaviest_carried=Fraction(9))),
        replace(plan, boards=(cut,)),
    )[0].boards
    left = replace(whole.stretches[0], end=mm(600))
    right = replace(whole.stretches[0], start=mm(600))
    assert grams_of(project, cut, left) == pytest.approx(1714.6, abs=1)
    assert grams_of(project, cut, right) == pytest.approx(1660.2, abs=1)


def test_the_limit_is_pounds_or_kilograms_as_the_project_goes():
    # 1 lb is 453.59237 g: 100 lb are 45359 g rounded down
    assert most_grams(limited(heaviest=100)) == 45359
    project = block_project()
    shop = replace(project.shop, heaviest_carried=Fraction(100))
    assert most_grams(replace(project, shop=shop)) == 100_000


def test_more_loads_cost_the_trip_again_and_that_is_said():
    # 15.84 + 14.54 + 8.28 lb, at most 25 a load: two loads, by 38.7 / 25; the trip is 12.00
    project, plan = limited(inch(80), 25), bench_plan()
    (haul,) = hauls_for(project, plan)
    assert haul.count == 2
    for load in (1, 2):
        assert sum(item.grams or 0 for item in haul.load_of(load)) <= haul.most
    assert dict(advice_for(project, hauls_for(project, plan)))["More than one load"] == (
        "Hill yard: about 39 lb go in 2 loads of at most 25 lb (fewer don't do). Each trip"
        " beyond the first costs its 12.00 again: 12.00, in the price of the project, not"
        " in the cost that the plan makes small."
    )
    assert "12.00 again: 12.00, in the price" in words_on(page_of(project, plan))


def test_one_load_is_no_caution():
    project, plan = limited(heaviest=400), bench_plan()
    assert list(advice_for(project, hauls_for(project, plan))) == []
    # Y1 13.778 kg and Y2 of 60 x 5 in 3.744 kg: 38.6 lb
    words = words_on(page_of(project, plan))
    assert "To carry: about 39 lb in one load of at most 400 lb" in words
    assert "Loads from" not in words


def test_a_piece_above_the_limit_is_in_no_load():
    project, plan = limited(heaviest=20), bench_plan()  # Y1 weighs 30 lb
    (haul,) = hauls_for(project, plan)
    assert [(item.board, item.load) for item in haul.items] == [("Y1", None), ("Y2", 1)]
    words = dict(advice_for(project, hauls_for(project, plan)))["Too heavy to carry"]
    assert words.startswith("Y1 (30 lb): above the 20 lb of a load.")


def test_wood_of_no_known_density_is_in_no_load_and_that_is_said():
    project, plan = limited(heaviest=400), bench_plan()
    boards = tuple(replace(board, species="brass") for board in project.boards)
    project = replace(project, boards=boards)
    (haul,) = hauls_for(project, plan)
    assert [item.load for item in haul.items] == [None, None]
    assert dict(advice_for(project, hauls_for(project, plan)))["Load not known"].startswith(
        "Y1, Y2: no density"
    )


def test_sheets_are_carried_too():
    project, plan = shelf_project(), shelf_plan()
    cut = replace(plan.sheets[0], where="Hill yard", bought=True, pay=Decimal("29.68"))
    shop = replace(project.shop, longest_carried=inch(40), heaviest_carried=Fraction(400))
    project = replace(project, shop=shop)
    (haul,) = hauls_for(project, replace(plan, sheets=(cut,)))
    # 48 in of plywood that is ripped first: no crosscut goes right across
    assert [one.board.board for one in haul.boards if one.is_too_long] == [
        "Y1", "Y2", "birch ply 1",
    ]  # fmt: skip


def test_owned_boards_are_at_home():
    (haul,) = hauls_for(limited(inch(40)), bench_plan())
    assert "R1" not in {one.board.board for one in haul.boards}


def test_buy_says_where_to_crosscut_and_what_is_too_long():
    page = page_of(limited(inch(80)), bench_plan())
    assert "Crosscut at Hill yard, to carry home" in words_on(page)
    row = next(r for r in page.rows if any(
        cell and str(cell.value).startswith("mark across at 50 1/16") for cell in r.cells
    ))  # fmt: skip
    values = [cell.value for cell in row.cells if cell]
    assert values[1:5] == ["Y1", 50.0625, 50, 50.125]
    assert row.is_ticked
    # Y2 holds four legs in a gang of 44 3/8 in, half a kerf on either side
    short = words_on(page_of(limited(inch(40)), bench_plan()))
    assert "CHECK: needed in one length of 44 1/2, too long" in short


def test_the_saw_is_told_that_the_yard_has_cut():
    content = content_for(limited(inch(80)), bench_plan(), lambda _: None)
    assert "Crosscut at the yard on the line at 50 1/16" in words_on(boards_page(content))


def test_the_weight_of_a_load_is_the_sum_of_its_rows():
    page = page_of(limited(inch(80), 25), bench_plan())
    for load in (1, 2):
        cells = page.rows[page.names[f"load {load} Hill yard"] - 1].cells
        total = next(cell for cell in cells if cell and cell.formula)
        first, last = (int(place[1:]) for place in total.formula[5:-1].split(":"))
        rows = [page.rows[at - 1].cells for at in range(first, last + 1)]
        assert {cells[2].value for cells in rows} == {load}
        assert total.value == pytest.approx(sum(cells[6].value for cells in rows))
        assert total.value <= 25


def test_cautions_and_screen_tell_what_does_not_fit():
    project, plan = limited(inch(40), 400), bench_plan()
    hauls = hauls_for(project, plan)
    found = {one.topic: one for one in cautions_for(project, plan, lambda _: None, hauls)}
    long = found["Too long to carry"]
    assert long.level == CHECK
    # sections of 49 in and 44 3/8 in, with half a kerf on either side
    assert long.words.startswith("Y1 (49 1/8 in), Y2 (44 1/2 in): longer than the 40 in")
    assert found["On the road"].level == NOTE
    assert "too long to carry: Y1 (49 1/8 in)" in " ".join(summary(project, plan).split())


def test_a_yard_that_is_not_listed_still_has_its_haul():
    project = replace(limited(heaviest=25), yards=())
    (haul,) = hauls_for(project, bench_plan())
    assert haul.yard == Yard(name="Hill yard")
    assert "again" not in dict(advice_for(project, hauls_for(project, bench_plan()))).get(
        "More than one load", ""
    )


def test_many_boards_go_on_over_pages_and_every_load_is_summed():
    project, plan = limited(heaviest=200), bench_plan()
    names = [f"Z{number}" for number in range(60)]
    boards = tuple(replace(project.boards[2], name=name) for name in names)
    cuts = tuple(replace(plan.boards[1], board=name) for name in names)
    project, plan = replace(project, boards=boards), replace(plan, boards=cuts, panels=())
    page = page_of(project, plan)
    (haul,) = hauls_for(project, plan)
    # each 3.744 kg, 8.26 lb: 24 of them are 198 lb, so 60 go in three loads
    assert haul.count == 3
    heads = [row for row in page.rows if any(c and c.value == "load" for c in row.cells)]
    assert len(heads) >= 2
    weights = [
        cell.value
        for load in (1, 2, 3)
        for cell in page.rows[page.names[f"load {load} Hill yard"] - 1].cells
        if cell and cell.formula
    ]
    assert sum(weights) == pytest.approx(
        sum(in_unit(item.grams or 0, Unit.INCH) for item in haul.items)
    )
