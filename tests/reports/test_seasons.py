"""What parts of a plan do over the year: widths, staves, readings, room, words.

White oak: .00365 tangential, .00180 radial (Wood Handbook table 13-5, as transcribed).
Moisture at 70 F: 6.94 % at 35 % humidity, 11.96 % at 65 % (its equation 4-5).
"""

from __future__ import annotations

import math
from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nesting.plan import Plan
from nesting.project import Project
from reports.cautions import CHECK, cautions_for
from reports.seasons import (
    Mover,
    Seasons,
    movers_of,
    movers_worth_saying,
    room,
    seasons_for,
    share_free,
    size_words,
)
from reports.sheets.content import content_for
from reports.sheets.movement import movement_page
from reports.sheets.page import Page
from reports.summary import summary
from stock.boards import Board, Mark
from stock.measures import Unit
from stock.moisture import CELSIUS, FAHRENHEIT, moisture_at
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

OAK_T, OAK_R = 0.00365, 0.00180
SWING = moisture_at(65, 70, FAHRENHEIT) - moisture_at(35, 70, FAHRENHEIT)


def with_boards(project: Project, **changes: object) -> Project:
    """A project whose boards all show something else."""
    boards = tuple(replace(board, **changes) for board in project.boards)
    return replace(project, boards=boards)


def with_board(project: Project, name: str, **changes: object) -> Project:
    """A project of which one board shows something else."""
    boards = tuple(
        replace(board, **changes) if board.name == name else board
        for board in project.boards
    )
    return replace(project, boards=boards)


def with_part(project: Project, name: str, **changes: object) -> Project:
    """A project of which one part is otherwise."""
    parts = tuple(
        replace(part, **changes) if part.name == name else part for part in project.parts
    )
    return replace(project, parts=parts)


def seat_of(project: Project, plan: Plan | None = None) -> Mover:
    """The seat of the bench as it moves."""
    (seat,) = movers_of(project, plan or bench_plan())
    assert seat.part.name == "Seat"
    return seat


def page_of(project: Project, plan: Plan | None = None) -> Page:
    page = movement_page(content_for(project, plan or bench_plan(), lambda _: None))
    assert page is not None
    return page


def cells_of(page: Page, label: str) -> list[object]:
    """The values of a part's row."""
    row = next(
        row for row in page.rows if row.cells and row.cells[0] and
        row.cells[0].value == label
    )  # fmt: skip
    return [cell.value if cell else None for cell in row.cells]


def test_panels_and_wide_solid_parts_are_looked_at_and_narrow_ones_are_not():
    # the bench: a panel of 14 in, legs of 2 in, a rail of 3 in
    assert seat_of(bench_project()).width == 14
    wide = with_part(bench_project(), "Rail", width=inch(4))
    assert [one.part.name for one in movers_of(wide, bench_plan())] == ["Seat", "Rail"]
    narrow = with_part(bench_project(), "Rail", width=inch("63/16"))
    assert [one.part.name for one in movers_of(narrow, bench_plan())] == ["Seat"]


def test_a_narrow_panel_is_looked_at_all_the_same():
    narrow = with_part(bench_project(), "Seat", width=inch(3))
    assert seat_of(narrow).width == 3


def test_millimetres_have_a_limit_of_their_own():
    assert movers_of(block_project(), block_plan()) == ()
    wide = with_part(block_project(), "Block", width=mm(100))
    (block,) = movers_of(wide, block_plan())
    assert (block.width, block.copies) == (100, 2)


def test_sheet_goods_do_not_move():
    names = [one.part.name for one in movers_of(shelf_project(), shelf_plan())]
    assert names == ["Seat"]


def test_a_panel_moves_by_what_its_staves_do_together():
    # Y1 gives two staves of 5 in, R1 one of 4 1/2 in, all plain: 14 x .00365 x swing
    seat = seat_of(bench_project())
    assert seat.sawing == "plain"
    assert seat.coefficient == pytest.approx(OAK_T)
    seasons = seasons_for(bench_project().shop)
    assert seat.over(seasons) == pytest.approx(14 * OAK_T * SWING)
    assert seat.over(seasons) == pytest.approx(0.2565, abs=2e-4)
    # with R1 quarter-sawn its 4 1/2 of 14 1/2 in move by the radial coefficient
    mixed = seat_of(with_board(bench_project(), "R1", sawing="quarter"))
    assert mixed.sawing == "2 plain, 1 quarter"
    assert mixed.coefficient == pytest.approx((10 * OAK_T + 4.5 * OAK_R) / 14.5)


def test_a_board_of_unknown_sawing_counts_as_the_one_that_moves_most():
    seat = seat_of(with_boards(bench_project(), sawing=None))
    assert seat.sawing == "not known"
    assert seat.coefficient == pytest.approx(OAK_T)


def test_a_zone_of_a_board_counts_where_a_stave_lies_wholly_in_it():
    # stave 1.3 of the seat lies on R1 from 1 in to 50 in, in the lower 4 5/8 in
    def zone(end: int) -> Mark:
        return Mark(kind="sawing", tag="rift", start=0, end=inch(end), low=0, high=inch(6))

    wholly = with_board(bench_project(), "R1", marks=(zone(50),))
    assert seat_of(wholly).sawing == "2 plain, 1 rift"
    partly = with_board(bench_project(), "R1", marks=(zone(49),))
    assert seat_of(partly).sawing == "plain"


def test_copies_that_show_the_same_are_one_row_and_others_their_own():
    project = with_part(bench_project(), "Leg", width=inch(5))
    rows = movers_of(with_board(project, "Y2", sawing="rift"), bench_plan())
    assert [(one.part.name, one.copies, one.sawing) for one in rows] == [
        ("Seat", 1, "plain"),
        ("Leg", 4, "rift"),
    ]
    plan = bench_plan()
    y1, y2, r1 = plan.boards
    first, *rest = y2.pieces
    moved = replace(first, x=3208, y=0, width=100)
    plan = replace(
        plan,
        boards=(
            replace(y1, pieces=(*y1.pieces, moved)),
            replace(y2, pieces=tuple(rest)),
            r1,
        ),
    )
    rows = movers_of(with_board(project, "Y2", sawing="rift"), plan)
    legs = [(one.copies, one.sawing) for one in rows if one.part.name == "Leg"]
    assert legs == [(1, "plain"), (3, "rift")]


@pytest.mark.parametrize(
    ("grain", "piece", "across"),
    [
        ("length", (41, 13), 12),
        ("width", (13, 41), 40),
        ("either", (41, 13), 12),
        ("either", (13, 41), 40),
    ],
)
def test_the_width_is_across_the_grain_whichever_way_it_runs(grain, piece, across):
    project = with_part(
        bench_project(), "Rail", length=inch(40), width=inch(12), grain=grain
    )
    plan = bench_plan()
    y1 = plan.boards[0]
    *staves, rail = y1.pieces
    laid = replace(rail, length=inch(piece[0]), width=inch(piece[1]))
    plan = replace(plan, boards=(replace(y1, pieces=(*staves, laid)), *plan.boards[1:]))
    rail_mover = movers_of(project, plan)[1]
    assert rail_mover.width == across


def test_joinery_beyond_the_width_moves_too():
    project = with_part(bench_project(), "Rail", width=inch(5), add_width=inch("1/2"))
    assert movers_of(project, bench_plan())[1].width == 5.5


def test_readings_count_by_width_and_only_if_all_are_known():
    # 10 in of Y1 at 8 % and 4 1/2 in of R1 at 11 %: 129.5 / 14.5 = 8.93, to 0.1 %
    project = with_board(bench_project(), "Y1", moisture=8.0)
    assert seat_of(project).reading is None
    assert seat_of(with_board(project, "R1", moisture=11.0)).reading == 8.9


def test_the_driest_of_copies_alike_is_the_one_to_fit_by():
    project = with_part(with_boards(bench_project(), moisture=9.0), "Leg", width=inch(5))
    rows = {one.part.name: one for one in movers_of(project, bench_plan())}
    assert rows["Leg"].reading == 9.0
    plan = bench_plan()
    y1, y2, r1 = plan.boards
    lone = replace(y2.pieces[0], x=3208, y=0, width=100)
    y1 = replace(y1, pieces=(*y1.pieces, lone))
    plan = replace(plan, boards=(y1, replace(y2, pieces=y2.pieces[1:]), r1))
    project = with_board(with_boards(project, sawing="plain"), "Y1", moisture=7.0)
    rows = {one.part.name: one for one in movers_of(project, plan)}
    assert (rows["Leg"].copies, rows["Leg"].reading) == (4, 7.0)
    unread = with_board(project, "Y1", moisture=None)
    assert {o.part.name: o for o in movers_of(unread, plan)}["Leg"].reading is None


def test_a_wood_without_figures_is_listed_without_them():
    project = with_part(bench_project(), "Seat", species="brass")
    seat = seat_of(project)
    assert (seat.species, seat.coefficient) == (None, None)
    row = cells_of(page_of(project), "Seat")
    assert row[-1] == "CHECK: no figures known for this wood"
    assert row[4:9] == [None] * 5
    assert movers_worth_saying(project, bench_plan()) == ()


@given(st.floats(0, 50), st.sampled_from(Unit))
def test_room_is_rounded_up_to_what_can_be_marked_out(size, unit):
    found = room(size, unit)
    step = 1 / 32 if unit is Unit.INCH else 0.5
    assert size - 1e-6 <= found < size + step
    assert math.isclose(found / step, round(found / step))
    assert room(-size, unit) == 0


def test_a_part_held_at_one_edge_goes_all_to_the_other():
    assert (share_free("edge"), share_free("middle"), share_free(None)) == (1, 0.5, 0.5)


@pytest.mark.parametrize(
    ("size", "unit", "words"),
    [
        (0.2565, Unit.INCH, "1/4 in"),  # 8.2 of 32
        (0.001, Unit.INCH, "1/32 in"),
        (0.0, Unit.INCH, "0 in"),
        (-1.125, Unit.INCH, "1 1/8 in"),
        (6.21, Unit.MM, "6.2 mm"),
    ],
)
def test_a_change_is_told_in_fractions_or_tenths(size, unit, words):
    assert size_words(size, unit) == words


def test_the_year_is_the_shops_humidity_at_the_usual_temperature():
    project = bench_project()
    shop = replace(project.shop, humidity_low=Fraction(30), humidity_high=Fraction(50))
    # EMC-T (WP-09): 6.2 and 9.2 % at 70 F
    seasons = seasons_for(shop)
    assert (seasons.driest, seasons.dampest) == pytest.approx((6.2, 9.2), abs=0.1)
    metric = seasons_for(block_project().shop)
    assert metric.driest == moisture_at(35, 20, CELSIUS)


# --- the sheet ------------------------------------------------------------------------


def test_the_sheet_tells_change_slot_and_gap():
    # 14 x .00365 x 5.02 = 0.256 in over the year; half of it, 0.128, up to the next
    # 1/32 in is 5/32 in
    row = cells_of(page_of(bench_project()), "Seat")
    assert row[:4] == ["Seat", 14, "white oak", "plain"]
    assert row[5:9] == pytest.approx([6.945, 11.964, 0.2565, 5 / 32], abs=1e-3)
    assert row[9:12] == [None, "", ""]
    assert row[12] == 5 / 32
    assert row[13] is None


def test_a_reading_tells_which_way_the_part_still_goes():
    # 14 x .00365 = .0511 in per percent; from 8 %: 1.055 points down and 3.964 up, so that
    # half of 0.2026 in, up to the next 1/32 in, is 1/8 in
    row = cells_of(page_of(with_boards(bench_project(), moisture=8.0)), "Seat")
    assert row[9:12] == pytest.approx([8.0, -0.0511 * 1.055, 0.0511 * 3.964], abs=1e-3)
    assert row[12] == 1 / 8
    assert "near its driest: it mostly swells" in str(row[13])


@pytest.mark.parametrize(
    ("reading", "words"),
    [
        (6.0, "drier than its driest: it only swells"),
        (7.5, "near its driest: it mostly swells"),
        (9.5, "moves both ways"),
        (11.5, "near its dampest: it mostly shrinks"),
        (15.0, "wetter than its dampest: let it dry"),
    ],
)
def test_a_reading_is_put_into_its_year(reading, words):
    row = cells_of(page_of(with_boards(bench_project(), moisture=reading)), "Seat")
    assert words in str(row[13])
    if reading > 12:
        assert row[12] == 0  # nothing left to swell


def test_a_part_held_at_one_edge_needs_all_the_room_there():
    # 0.256 in up to the next 1/32 in is 9/32 in
    row = cells_of(page_of(with_part(bench_project(), "Seat", held="edge")), "Seat")
    assert (row[8], row[12]) == (9 / 32, 9 / 32)
    assert row[13] == "held at one edge"


def test_a_part_held_rigid_has_no_slot_and_is_warned_of():
    row = cells_of(page_of(with_part(bench_project(), "Seat", held="rigid")), "Seat")
    assert (row[8], row[12]) == ("none", "none")
    assert str(row[13]).startswith("CHECK: held rigid")


def test_doubtful_figures_are_told_as_such():
    # tulipwood: coefficients from memory; African mahogany: none, worked out
    for species, words in (
        ("tulipwood", "figure not verified"),
        ("African mahogany", "figure from shrinkage"),
        ("walnut", ""),
    ):
        note = str(
            cells_of(page_of(with_part(bench_project(), "Seat", species=species)), "Seat")[
                13
            ]
        )
        assert words in note
        if not words:
            assert "figure" not in note


def test_air_beyond_the_ranges_of_the_formulas_is_told():
    project = bench_project()
    shop = replace(project.shop, humidity_low=Fraction(2), humidity_high=Fraction(65))
    page = page_of(replace(project, shop=shop))
    assert "beyond 6 to 14 % moisture" in str(cells_of(page, "Seat")[13])
    texts = [cell.value for row in page.rows for cell in row.cells if cell]
    assert any(str(one).startswith("CHECK: the equation of moisture") for one in texts)
    assert not any(
        str(cell.value).startswith("CHECK") for row in page_of(project).rows
        for cell in row.cells if cell
    )  # fmt: skip


def test_a_plan_of_narrow_parts_has_no_sheet_of_movement():
    assert movement_page(content_for(block_project(), block_plan(), lambda _: None)) is None


def test_many_parts_go_on_under_the_head_of_the_table_and_formulas_keep_their_rows():
    project, plan = bench_project(), bench_plan()
    rail = project.parts[2]
    y1 = plan.boards[0]
    *staves, piece = y1.pieces
    parts = [replace(rail, name=f"R{at}", width=inch(5)) for at in range(60)]
    pieces = [replace(piece, name=f"R{at} 1", part=f"R{at}") for at in range(60)]
    project = replace(project, parts=(*project.parts[:2], *parts))
    board = replace(y1, pieces=(*staves, *pieces))
    page = page_of(project, replace(plan, boards=(board, *plan.boards[1:])))
    heads = [row for row in page.rows if row.cells and row.cells[0] and
             row.cells[0].value == "part"]  # fmt: skip
    assert len(heads) == len(page.breaks) or len(heads) == len(page.breaks) + 1
    assert len(heads) > 1
    for at, row in enumerate(page.rows, 1):
        formulas = [cell.formula for cell in row.cells if cell and cell.formula]
        if len(row.cells) == 14 and formulas:
            assert f"B{at}*E{at}" in str(formulas[2])


# --- words elsewhere ------------------------------------------------------------------


def cautions(project: Project) -> dict[str, str]:
    movers = movers_of(project, bench_plan())
    found = cautions_for(project, bench_plan(), lambda _: 700.0, movers=movers)
    return {one.topic: one.words for one in found if one.level == CHECK}


def test_a_wide_part_that_is_held_rigid_is_a_caution():
    for held in (None, "middle", "edge"):
        assert "Held rigid" not in cautions(with_part(bench_project(), "Seat", held=held))
    words = cautions(with_part(bench_project(), "Seat", held="rigid"))["Held rigid"]
    assert words.startswith(
        "Seat: fast across all of its 14 in, but it moves by about 1/4 in between 35 and"
        " 65 % humidity."
    )
    # a rail of 3 in may be glued fast
    assert "Held rigid" not in cautions(with_part(bench_project(), "Rail", held="rigid"))


def test_a_rigid_part_of_unknown_wood_is_a_caution_too():
    project = with_part(bench_project(), "Seat", held="rigid", species="brass")
    assert "moves by an amount that is not known" in cautions(project)["Held rigid"]


def test_the_screen_names_what_moves_more_than_an_eighth_of_an_inch():
    text = " ".join(summary(bench_project(), bench_plan()).split())
    assert "movement across the grain between 35 and 65 % humidity: Seat 1/4 in" in text
    # quarter-sawn: 14 x .0018 x 5.03 = 0.127 in; 13 in move by 0.118
    quarter = with_boards(bench_project(), sawing="quarter")
    assert "movement" in summary(quarter, bench_plan())
    narrow = with_part(quarter, "Seat", width=inch(13))
    assert "movement" not in summary(narrow, bench_plan())


@given(st.floats(0, 100), st.floats(0, 100), st.sampled_from(["plain", "rift", None]))
def test_a_damper_year_moves_more_and_a_steady_one_nothing(one, other, sawing):
    seat = seat_of(with_boards(bench_project(), sawing=sawing))
    low, high = sorted((one, other))
    driest, dampest = (moisture_at(air, 70, FAHRENHEIT) for air in (low, high))
    assert seat.over(Seasons(low, high, driest, dampest)) >= 0
    assert seat.over(Seasons(low, low, driest, driest)) == 0


def test_a_board_that_the_project_does_not_know_has_no_sawing():
    project = bench_project()
    boards: tuple[Board, ...] = tuple(b for b in project.boards if b.name != "R1")
    seat = seat_of(replace(project, boards=boards))
    assert seat.sawing == "1 not known, 2 plain"
