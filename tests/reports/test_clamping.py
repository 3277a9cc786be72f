"""The schedule of gluing and its sheet: whole batches, whole hours, cauls, cautions."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from nesting.plan import Plan
from nesting.project import Project
from reports.cautions import cautions_for
from reports.clamping import Schedule, schedule_for, time_words
from reports.sheets.clamping import clamping_page
from reports.sheets.content import Content, content_for
from reports.sheets.glueups import glueups_page
from reports.sheets.offcuts import offcuts_page
from reports.sheets.overview import overview_page
from reports.sheets.page import Page
from reports.supplies import glue_for
from reports.workbook import pages_for
from tests.samples import bench_plan, bench_project, block_plan, block_project, inch

OAK = 700.0  # kg/m3; the seat of 49 x 14 1/2 in takes 10 clamps: 36.75 sq in x 250 psi


def seats(count: int) -> Plan:
    """The bench's plan with so many copies of its seat."""
    plan = bench_plan()
    (seat,) = plan.panels
    return replace(plan, panels=tuple(replace(seat, copy=at + 1) for at in range(count)))


def owning(clamps: int, **settings) -> Project:
    """The bench in a shop with so many clamps."""
    project = bench_project()
    shop = replace(project.shop, clamps_owned=Fraction(clamps), **settings)
    return replace(project, shop=shop)


def planned(project: Project, plan: Plan) -> Schedule:
    return schedule_for(project, plan, lambda _: OAK)


def content(project: Project, plan: Plan) -> Content:
    return content_for(project, plan, lambda _: OAK)


def texts(page: Page) -> list[str]:
    cells = [cell.value for row in page.rows for cell in row.cells if cell]
    return [value for value in cells if isinstance(value, str)]


def rows_with(page: Page, style: str) -> list[list[object]]:
    """Values of the rows that have a tick box."""
    return [
        [cell.value for cell in row.cells if cell]
        for row in page.rows
        if row.is_ticked and any(cell and cell.style == style for cell in row.cells)
    ]


def test_batches_share_the_clamps_and_add_up_their_times():
    # 10 clamps each, 30 owned: three at a time. Two joints at 20 s are 40 s a seat. The
    # first batch: 3 x 40 s = 2 min and 60 min; the second 2 x 40 s and 60 min: 123 1/3.
    found = planned(owning(30), seats(5))
    assert [len(batch.glueups) for batch in found.batches] == [3, 2]
    assert [batch.clamps for batch in found.batches] == [30, 20]
    assert [batch.done for batch in found.batches] == pytest.approx([62, 123 + 1 / 3])
    assert found.least == 2
    assert found.minutes == found.batches[-1].done


def test_the_clamp_time_is_the_shops():
    quick = planned(owning(30, clamp_time=Fraction(45)), seats(5))
    assert quick.minutes == pytest.approx(93 + 1 / 3)  # 200 s and twice 45 min


def test_a_panel_in_goes_is_joined_in_a_later_batch():
    # 20 s of open time: one joint a go. Three staves: two first, then the third to them;
    # 5 + 4 1/2 in are as wide as 4 1/2 + 5.
    found = planned(owning(99, open_time=Fraction(1, 3)), seats(1))
    assert [[one.name for one in batch.glueups] for batch in found.batches] == [
        ["Seat 1, staves 2 to 3"],
        ["Seat 1"],
    ]
    assert found.batches[1].glueups[0].after == ("Seat 1, staves 2 to 3",)
    # the glue of both goes is that of the panel in one
    whole = planned(owning(99), seats(1)).glueups[0].glue
    assert sum(one.glue for one in found.glueups) == pytest.approx(whole)


def test_layers_wait_for_the_panels_they_are_made_of():
    (seat,) = bench_plan().panels
    plan = replace(bench_plan(), panels=(seat, replace(seat, layer=2)))
    found = planned(owning(999), plan)
    assert [[one.name for one in batch.glueups] for batch in found.batches] == [
        ["Seat 1", "Seat 1, layer 2"],
        ["Seat 1, layers"],
    ]


def test_the_glue_of_the_schedule_is_the_glue_that_is_bought():
    for project, plan in (
        (bench_project(), seats(3)),
        (block_project(), block_plan()),
    ):
        found = planned(project, plan)
        assert sum(one.glue for one in found.glueups) == pytest.approx(
            glue_for(project, plan)
        )


def test_a_single_stave_takes_no_clamps():
    (seat,) = bench_plan().panels
    alone = replace(seat, staves=seat.staves[:1])
    assert planned(owning(12), replace(bench_plan(), panels=(alone,))).batches == ()


@pytest.mark.parametrize(
    ("minutes", "words"),
    [(0, "0 min"), (59.2, "1 h"), (60, "1 h"), (61.3, "1 h 2 min"), (243, "4 h 3 min")],
)
def test_minutes_are_rounded_up_to_hours_and_minutes(minutes, words):
    assert time_words(minutes) == words


def test_the_sheet_lists_the_batches_with_live_sums():
    made = content(owning(30), seats(5))
    page = clamping_page(made, glueups_page(made))
    first, second = rows_with(page, "one decimal")
    assert first[1:] == [1, "Seat 1; Seat 2; Seat 3", 30, 2.0, 60.0, 62.0, None]
    assert second[1:4] == [2, "Seat 4; Seat 5", 20]
    formulas = [c.formula for row in page.rows for c in row.cells if c and c.formula]
    top = next(at for at, row in enumerate(page.rows, 1) if row.is_ticked)
    assert formulas[:2] == [f"=SUM(E{top}:F{top})", f"=SUM(E{top}:F{top + 1})"]
    assert "Batches: 2 batches, 2 h 4 min in all" in texts(page)
    assert any("Proven: with these clamps no fewer" in one for one in texts(page))


def test_the_sheet_links_to_the_pages_of_panels():
    made = content(owning(30), seats(2))
    glueups = glueups_page(made)
    page = clamping_page(made, glueups)
    links = [cell.link for row in page.rows for cell in row.cells if cell and cell.link]
    assert links == [f"'Glue-ups'!A{glueups.names[name]}" for name in ("Seat 1", "Seat 2")]


def test_too_few_clamps_are_a_caution_everywhere():
    made = content(owning(9), seats(1))
    assert "Clamps" in {one.topic for one in made.cautions}
    page = clamping_page(made, glueups_page(made))
    assert "CHECK: more clamps than the shop owns (9)" in texts(page)
    usual = cautions_for(owning(10), seats(1), lambda _: OAK)
    assert "Clamps" not in {one.topic for one in usual}


def test_layers_have_a_table_of_their_own():
    project = block_project()
    made = content(project, block_plan())
    page = clamping_page(made, None)
    (at,) = (n for n, row in enumerate(page.rows) if row.cells and row.cells[0]
             and row.cells[0].value == "Block 1")  # fmt: skip
    told = [cell.value for cell in page.rows[at].cells if cell]
    assert told[1] == "Block 1.1 (board A1); Block 1.2 (board A1)"
    assert told[3:5] == [225, 66]


def test_heavy_glue_ups_ask_for_two_people():
    # 49 x 14 1/2 x 3/4 in are 532.9 cubic inches = 0.008732 m3; 23 kg at 2634 kg/m3
    light = content_for(owning(99), seats(1), lambda _: 2600.0)
    heavy = content_for(owning(99), seats(1), lambda _: 2700.0)
    assert not any("NIOSH" in one for one in texts(clamping_page(light, None)))
    assert any("NIOSH" in one for one in texts(clamping_page(heavy, None)))


def test_cauls_are_told_with_their_offcuts_and_what_is_wanted():
    # Three pairs of 14 1/2 in: ceil((49 - 4) / 24) + 1. All that is long and wide enough is
    # to keep. Y1.1 is 41 x 6 in: two strips of 2 in, each of two cauls; Y2.2 is 44 3/8 x
    # 2 5/8 in and taken as it is; Y2.1, 14 1/2 in long, reaches into the trimmed end.
    made = content(owning(30), seats(1))
    page = clamping_page(made, None)
    told = rows_with(page, "label")
    assert [row[1:3] + row[5:] for row in told] == [
        ["Y2.2", "Y2", 44.375, 2.625, "2 of 14 1/2"],
        ["Y1.1", "Y1", 41, 2, "rip 2 such strips side by side; from each 2 of 14 1/2"],
    ]
    assert not any(one.startswith("WANTED") for one in texts(page))
    words = "Cauls may be cut from Y1.1, Y2.2: see the sheet Clamping."
    assert words in texts(offcuts_page(made))
    bare = replace(seats(1), boards=tuple(replace(b, offcuts=()) for b in seats(1).boards))
    page = clamping_page(content(owning(30), bare), None)
    assert any(one.startswith("WANTED: 6 more cauls, 14 1/2 long") for one in texts(page))


def test_a_panel_wider_than_the_planer_is_told_its_parts():
    made = content(owning(30, planer_width=inch(10)), seats(1))
    words = [one for one in texts(glueups_page(made)) if "wider than the planer" in one]
    assert words[0].endswith(
        "or glue stave 1, staves 2 to 3 first, plane them, and join them last"
    )


def test_goes_are_told_on_the_page_of_the_panel():
    made = content(owning(30, open_time=Fraction(1, 3)), seats(1))
    words = [one for one in texts(glueups_page(made)) if "Glue in" in one]
    assert words == [
        "CHECK: 2 joints take 0.7 min to spread; open 0.333 min. Glue in 2 goes, 1 joint at"
        " most in each: staves 2 to 3 (9 1/2 wide); last of all join these"
    ]


def test_the_order_of_work_says_how_long_it_takes():
    made = content(owning(30), seats(5))
    names = [page.name for page in pages_for(made)]
    assert names.index("Clamping") < names.index("Glue-ups")
    overview, buy, *pages = pages_for(made)
    again = overview_page(made, buy, tuple(pages))
    assert texts(again) == texts(overview)
    assert "2 batches, 2 h 4 min in all; cauls first." in texts(overview)
