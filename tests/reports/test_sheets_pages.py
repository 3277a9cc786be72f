"""Pages as described: blocks keep together, texts wrap, steps lead to their sheets."""

from __future__ import annotations

import itertools
from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nesting.plan import Cut, Plan
from nesting.project import Project
from reports.sheets.boards import boards_page, sheets_page
from reports.sheets.cells import Row, text
from reports.sheets.content import Content, content_for
from reports.sheets.glueups import glueups_page
from reports.sheets.notes import notes_page
from reports.sheets.offcuts import offcuts_page
from reports.sheets.overview import bound_words
from reports.sheets.page import Page
from reports.sheets.panel_facts import match_words
from reports.sheets.parts import parts_page
from reports.styles import looks_for
from reports.workbook import pages_for
from stock.boards import Board
from stock.shop import SETTINGS
from tests.samples import (
    bench_plan,
    bench_project,
    block_plan,
    block_project,
    shelf_plan,
    shelf_project,
)

OAK = 700.0  # kg/m3, a round figure for these tests


def content(project: Project, plan: Plan) -> Content:
    """A plan as the sheets see it."""
    return content_for(project, plan, lambda _: OAK)


def words(page: Page) -> list[str]:
    """Every text of a page."""
    cells = [cell for row in page.rows for cell in row.cells if cell]
    return [cell.value for cell in cells if isinstance(cell.value, str)]


@settings(max_examples=40, deadline=None)
@given(
    st.lists(
        st.lists(st.integers(min_value=10, max_value=120), min_size=1, max_size=9),
        max_size=12,
    )
)
def test_blocks_that_fit_a_page_are_never_parted(heights):
    page = Page(name="x", widths=(50.0,), scale=95, frozen=1)
    page.put(Row(height=40))
    spans = []
    for block in heights:
        first = page.block([Row(height=float(height)) for height in block])
        spans.append((first, len(page.rows), sum(block)))
    for first, last, height in spans:
        if height + 40 <= page.room:
            assert not any(first <= at < last for at in page.breaks)
    starts = [0, *page.breaks, len(page.rows)]
    for start, end in itertools.pairwise(starts):
        used = sum(row.height for row in page.rows[start:end])
        assert used + (40 if start else 0) <= page.room


def test_a_block_higher_than_a_page_goes_on_under_its_head():
    page = Page(name="x", widths=(50.0,), scale=95, frozen=0)
    head = Row(cells=(text("head"),))
    page.block(
        [Row(height=30, is_ticked=True, cells=(text("cut"),)) for _ in range(40)], [head]
    )
    assert page.breaks
    for at in page.breaks:
        assert page.rows[at].cells == head.cells


def test_a_sheet_little_longer_than_a_page_is_printed_smaller_on_one():
    page = Page(name="x", widths=(10.0,))
    for _ in range(60):  # 518 points are a page in full size, so 900 take 57 percent
        page.put(Row(height=15))
    page.press()
    assert (page.scale, page.breaks) == (95, [36])  # 518.4 / 0.95 = 545.7 points
    short = Page(name="x", widths=(10.0,))
    for _ in range(40):
        short.put(Row(height=15))
    short.press()
    assert (short.scale, short.breaks) == (86, [])  # 518.4 / 600
    assert sum(row.height for row in short.rows) <= short.room


def test_a_table_repeats_its_head_and_ends_with_three_rows_at_least():
    head = Row(cells=(text("head"),), height=20)
    for count in range(1, 90):
        page = Page(name="x", widths=(50.0,))
        page.put(Row(height=40))
        page.table([Row(cells=(text("row"),), height=17)] * count, [head])
        assert len(page.rows) == 1 + count + len(page.breaks) + 1
        starts = [0, *page.breaks, len(page.rows)]
        for start, end in itertools.pairwise(starts):
            assert page.rows[start if start else 1].cells[0].value == "head"
            assert end - start > min(3, count)


def test_a_row_with_formulas_knows_its_number_on_a_new_page_too():
    page = Page(name="x", widths=(50.0,))
    page.again = (Row(cells=(text("head"),)),)
    numbers = [(page.next_row(), page.add(text("row"))) for _ in range(80)]
    assert page.breaks
    assert all(told == put for told, put in numbers)
    assert [page.rows[at].cells[0].value for at in page.breaks] == ["head"] * 2


def test_a_heading_wraps_rather_than_being_cut_off():
    page = Page(name="x", widths=(60.0,))
    page.heading("a long name of a board from a yard with a long name " * 2)
    assert page.rows[0].height > 2 * 15  # letters of 12 points


def test_every_board_has_its_drawing_and_its_cuts():
    page = boards_page(content(bench_project(), bench_plan()))
    assert list(page.names) == ["Y1", "Y2", "R1"]
    assert sum(row.picture is not None for row in page.rows) == 3
    text_of_all = words(page)
    after = "AFTER PLANING; equal crosscuts, last at 34 1/4; leaves Leg 4"
    assert text_of_all.count(after) == 1
    assert (
        "Stay in one length of wood until planed: Leg 1 + Leg 2 + Leg 3 + Leg 4"
        in text_of_all
    )
    assert any(one.startswith("Marks: K knot from 60 to 62") for one in text_of_all)
    assert any("Hatched wood is waste" in one for one in text_of_all)
    assert "widths are drawn twice as large" in text_of_all[1]


def ripped(count: int) -> Plan:
    """The bench with board R1 ripped into waste `count` times, 1/16 in each."""
    plan = bench_plan()
    board = plan.boards[2]
    cuts = tuple(
        Cut(order=n + 1, kind="rip", at=12 * n + 4, start=0, end=board.length)
        for n in range(count)
    )
    bare = replace(board, pieces=(), offcuts=(), gangs=(), cuts=cuts, width=12 * count + 99)
    return replace(plan, boards=(bare,))


def test_the_lines_of_a_board_are_set_closer_if_that_keeps_it_on_its_page():
    heights = []
    for count in range(10, 22):
        page = boards_page(content(bench_project(), ripped(count)))
        assert page.breaks == []
        (height,) = {row.height for row in page.rows if row.is_ticked}
        heights.append(height)
    assert heights == sorted(heights, reverse=True)
    assert (heights[0], heights[-1]) == (17, 13.5)


def test_a_board_with_more_cuts_than_a_page_goes_on_under_its_name_and_heads():
    page = boards_page(content(bench_project(), ripped(50)))
    assert page.breaks
    for at in page.breaks:
        name, head = page.rows[at : at + 2]
        assert name.cells[0].value == "Board R1, continued"
        assert head.cells[1].value == "cut"
    told = [row.cells[1].value for row in page.rows if row.is_ticked]
    assert told == list(range(1, 51))


def test_a_yard_with_more_boards_than_a_page_repeats_its_heads_and_sums_them_all():
    project, plan = bench_project(), bench_plan()
    y1 = project.board("Y1")
    more = tuple(replace(y1, name=f"Z{n}") for n in range(60))
    bought = tuple(
        replace(plan.boards[0], board=board.name, pieces=(), offcuts=()) for board in more
    )
    crowd = content(
        replace(project, boards=(*project.boards, *more)), replace(plan, boards=bought)
    )
    page = next(one for one in pages_for(crowd) if one.name == "Buy")
    heads = [
        "board" in [cell.value for cell in page.rows[at].cells if cell]
        for at in page.breaks
    ]
    # what was found instead, and the sums, have no board above them
    assert heads.count(True) == len(heads) - 1
    listed = [at for at, row in enumerate(page.rows, 1) if row.is_ticked][:60]
    pay = [page.rows[at - 1].cells[-1].formula for at in listed]
    assert all(f"L{at}+M{at}" in formula for at, formula in zip(listed, pay, strict=True))
    total = page.rows[page.names["yard Hill yard"] - 4]
    assert total.cells[-1].formula == f"=SUM(N{listed[0]}:N{listed[-1]})"


@pytest.mark.parametrize(
    ("project", "plan"),
    [(bench_project, bench_plan), (shelf_project, shelf_plan), (block_project, block_plan)],
)
def test_every_printed_page_holds_its_rows(project, plan):
    for page in pages_for(content(project(), plan())):
        starts = [0, *page.breaks, len(page.rows)]
        above = sum(row.height for row in page.rows[: page.frozen])
        for start, end in itertools.pairwise(starts):
            used = sum(row.height for row in page.rows[start:end])
            assert used + (above if start else 0) <= page.room


def test_positions_and_sizes_of_cuts_are_numbers():
    page = boards_page(content(bench_project(), bench_plan()))
    row = next(
        r for r in page.rows
        if r.is_ticked and r.cells[7] and r.cells[7].value == "Seat 1.1, Seat 1.2"
    )  # fmt: skip
    # Cut 2 at 50 in takes off 49 x 11 1/2 in.
    assert [cell.value for cell in row.cells[1:7] if cell] == [
        2,
        "crosscut",
        50,
        49,
        11.5,
        1,
    ]


def test_sheets_are_drawn_alike_in_both_directions():
    page = sheets_page(content(shelf_project(), shelf_plan()))
    picture = next(row.picture for row in page.rows if row.picture)
    assert picture.across == picture.upward


def test_a_glue_up_fits_one_page():
    page = glueups_page(content(bench_project(), bench_plan()))
    assert sum(row.height for row in page.rows) <= page.room
    assert page.breaks == []
    second = replace(bench_plan().panels[0], copy=2)
    plan = replace(bench_plan(), panels=(*bench_plan().panels, second))
    assert len(glueups_page(content(bench_project(), plan)).breaks) == 1


def test_a_glue_up_tells_order_sources_and_widths():
    page = glueups_page(content(bench_project(), bench_plan()))
    staves = [row for row in page.rows if row.is_ticked]
    told = [[cell.value for cell in row.cells if cell] for row in staves]
    last = [3, "Seat 1.2", "Y1", 1, 5.25, 49, 5.125, 5, "bark", "turned", 2, None, None]
    assert told[2][1:] == last  # no joint below the last stave
    # 3/4 x 49 in = 36.75 sq in = 0.02371 m2, at 152.4 ml/m2 3.61 ml, half more: 5.42 ml
    assert told[1][-2:] == [2, pytest.approx(5.42, abs=0.005)]


def test_too_few_clamps_and_too_short_open_time_are_flagged():
    project = bench_project()
    shop = replace(project.shop, clamps_owned=2, open_time=0)
    page = glueups_page(content(replace(project, shop=shop), bench_plan()))
    texts = words(page)
    assert any("CHECK: the shop owns 2" in one for one in texts)
    assert any(one.startswith("CHECK: 2 joints take 0.7 min") for one in texts)


def test_the_match_is_said_as_asked_and_as_got():
    project = bench_project()
    part = replace(project.part("Seat"), match="flitch", set="tops")
    y1: Board = project.board("Y1")
    sister = replace(y1, name="Y9")
    assert match_words(part, (y1, y1)) == "asked: flitch; all from board Y1; set tops"
    assert match_words(part, (y1, sister)) == (
        "asked: flitch; boards Y1, Y9, all of flitch H7; set tops"
    )
    assert match_words(project.part("Seat"), (y1, project.board("R1"))) == "boards Y1, R1"


def test_parts_are_traced_to_boards_and_places():
    page = parts_page(content(bench_project(), bench_plan()))
    rail = next(
        r for r in page.rows if r.cells and r.cells[0] and r.cells[0].value == "Rail"
    )
    assert [cell.value for cell in rail.cells if cell] == [
        "Rail", 1, 40, 3, 0.75, "white oak", "Rail 1", "Y1", 50.125, 2.125, 41, 3.25,
        "show side out",
    ]  # fmt: skip
    remarks = [row.cells[-1].value for row in page.rows[3:6] if row.cells[-1]]
    assert remarks == ["stave 1", "stave 2", "stave 3"]


def test_spares_are_called_spares():
    project = bench_project()
    parts = tuple(
        replace(part, qty=3, spares=1) if part.name == "Leg" else part
        for part in project.parts
    )
    page = parts_page(content(replace(project, parts=parts), bench_plan()))
    assert "in a gang, spare" in words(page)


def test_offcuts_add_up_to_the_credit_of_the_plan():
    page = offcuts_page(content(bench_project(), bench_plan()))
    row = page.rows[page.names["credit"] - 1]
    assert [cell.value for cell in row.cells if cell][-2] == float(
        bench_plan().totals.credit
    )


def test_notes_hold_cautions_rules_settings_and_defer_to_manuals():
    page = notes_page(content(bench_project(), bench_plan()))
    texts = words(page)
    assert any("manual of each machine, local law and codes" in one for one in texts)
    assert any("Hardwood dust" in one for one in texts)
    assert bench_plan().rules[0] in texts
    assert {setting.name for setting in SETTINGS} <= set(texts)


def test_the_bound_is_told_in_plain_words():
    plan = bench_plan()
    # 17.70 / 88.00 = 20.1 %
    assert bound_words(content(bench_project(), plan)) == (
        "Proven: under the same cutting rules no plan can cost less than 88.00; this one is"
        " at most 20.1 % above that."
    )
    best = replace(plan, totals=replace(plan.totals, bound=plan.totals.cost, gap=0.0))
    assert bound_words(content(bench_project(), best)).startswith("Proven best")
    none = replace(plan, totals=replace(plan.totals, bound=Decimal(0), gap=None))
    assert "nobody knows" in bound_words(content(bench_project(), none))


@pytest.mark.parametrize(
    ("project", "plan"),
    [(bench_project, bench_plan), (shelf_project, shelf_plan), (block_project, block_plan)],
)
def test_every_cell_has_a_known_style_and_every_span_its_columns(project, plan):
    made = content(project(), plan())
    looks = looks_for(made.unit)
    for page in pages_for(made):
        for row in page.rows:
            for column, cell in page.cells_of(row):
                assert cell.style in looks
                assert column + cell.span - 1 <= len(page.widths), (page.name, cell)
            assert row.height <= 409  # the highest row a spreadsheet can hold, in points
