"""The order of work of each kind of part, set-ups on their sheet, and their test pieces."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import pytest
from openpyxl import load_workbook

from nesting.milling import set_ups_for
from nesting.plan import Plan, RipCount
from nesting.project import Project
from nesting.set_ups import FENCE, PLANER, STOP
from reports.machining import STEPS, works_for
from reports.plaintext import in_order, ranged
from reports.sheets.content import Content, content_for
from reports.sheets.machining import machining_page
from reports.trial_cuts import Trial, least_length, needed_size, trials_for
from reports.workbook import write_workbook
from tests.samples import (
    bench_plan,
    bench_project,
    block_plan,
    block_project,
    inch,
    shelf_plan,
    shelf_project,
)

# What has to come before what, whatever the part: common practice, no source.
BEFORE = (
    ("face", "edge"),
    ("edge", "rip"),
    ("rip", "plane"),
    ("plane", "joint edges"),
    ("joint edges", "glue up"),
    ("glue up", "plane the panel"),
    ("glue up", "flatten the panel"),
    ("plane", "glue the faces"),
    ("glue the faces", "plane the laminate"),
    ("plane the panel", "finished width"),
    ("flatten the panel", "finished width"),
    ("plane the laminate", "finished width"),
    ("plane", "cut the gang apart"),
    ("finished width", "finished length"),
    ("finished length", "joinery"),
    ("bevel the ends", "joinery"),
    ("joinery", "taper"),
    ("joinery", "corners"),
    ("joinery", "curve"),
)


def steps(project: Project, plan: Plan, part: str) -> tuple[str, ...]:
    (work,) = [one for one in works_for(project, plan) if one.part.name == part]
    return work.steps


def with_part(name: str, **changes: object) -> Project:
    """The bench with a shelf, one of its parts changed."""
    project = shelf_project()
    parts = tuple(
        replace(part, **changes) if part.name == name else part  # type: ignore[arg-type]
        for part in project.parts
    )
    return replace(project, parts=parts)


def test_a_solid_part():
    assert steps(bench_project(), bench_plan(), "Rail") == (
        "rough crosscut", "face", "edge", "rip", "crosscut to blanks", "plane",
        "finished width", "finished length", "joinery",
    )  # fmt: skip


def test_short_parts_are_ripped_to_width_before_their_gang_is_cut_apart():
    found = steps(bench_project(), bench_plan(), "Leg")
    assert found[-4:] == (
        "finished width",
        "cut the gang apart",
        "finished length",
        "joinery",
    )


def test_a_panel_is_dressed_once_it_is_glued():
    found = steps(bench_project(), bench_plan(), "Seat")
    assert found[5:9] == ("plane", "joint edges", "glue up", "plane the panel")


def test_a_panel_wider_than_the_planer_is_flattened_another_way():
    project = bench_project()
    narrow = replace(project, shop=replace(project.shop, planer_width=inch(13)))
    assert "flatten the panel" in steps(narrow, bench_plan(), "Seat")
    assert "plane the panel" not in steps(narrow, bench_plan(), "Seat")
    glued = [one for one in set_ups_for(narrow, bench_plan()) if one.way == PLANER]
    assert not any("Seat 1" in run.names for one in glued for run in one.runs)


def test_layers_are_cut_apart_before_they_are_glued_face_to_face():
    assert steps(block_project(), block_plan(), "Block")[5:] == (
        "plane", "cut the gang apart", "glue the faces", "plane the laminate",
        "finished width", "finished length", "joinery",
    )  # fmt: skip


def test_sheet_goods_are_not_faced_planed_or_trimmed():
    found = steps(shelf_project(), shelf_plan(), "End")
    assert found == ("cut from the sheet", "joinery")


@pytest.mark.parametrize(
    ("surfaced", "first"),
    [("rough", ["face", "edge"]), ("S2S", ["edge"]), ("S3S", []), ("S4S", [])],
)
def test_what_comes_surfaced_is_not_faced_again(surfaced, first):
    project = bench_project()
    boards = tuple(replace(board, surfaced=surfaced) for board in project.boards)
    found = steps(replace(project, boards=boards), bench_plan(), "Rail")
    assert [one for one in found if one in ("face", "edge")] == first


@pytest.mark.parametrize(
    ("shape", "last"),
    [("taper", "taper"), ("octagon", "corners"), ("disc", "curve"), ("outline", "curve")],
)
def test_slopes_and_curves_come_last_after_joinery(shape, last):
    ends = (inch(3), inch(2)) if shape == "taper" else None
    project = with_part("Rail", shape=shape, ends=ends)
    assert steps(project, shelf_plan(), "Rail")[-2:] == ("joinery", last)


def test_bevelled_ends_come_before_joinery_in_place_of_square_ones():
    project = with_part("Rail", end_angle=5.0)
    assert steps(project, shelf_plan(), "Rail")[-2:] == ("bevel the ends", "joinery")
    angles = {one.angle for one in set_ups_for(project, shelf_plan()) if one.way == STOP}
    assert angles == {0.0, 5.0}


def test_joinery_is_in_the_finished_settings():
    # the rail is 3 in wide and 40 in long; 1/4 in of tongue and 2 in of tenons come on top
    project = with_part("Rail", add_width=inch("1/4"), add_length=inch(2))
    found = {(one.way, one.setting) for one in set_ups_for(project, shelf_plan())}
    assert {(FENCE, inch("13/4")), (STOP, inch(42))} <= found


@pytest.mark.parametrize(
    "made",
    [(bench_project(), bench_plan()), (shelf_project(), shelf_plan()),
     (block_project(), block_plan()),
     (with_part("Rail", shape="disc", end_angle=3.0), shelf_plan())],
)  # fmt: skip
def test_no_step_comes_before_what_it_needs(made):
    for work in works_for(*made):
        assert len(set(work.steps)) == len(work.steps)
        assert set(work.steps) <= set(STEPS)
        for first, then in BEFORE:
            if first in work.steps and then in work.steps:
                assert work.steps.index(first) < work.steps.index(then)


def test_parts_that_the_plan_does_not_make_have_no_order():
    plan = bench_plan()
    some = replace(plan, boards=tuple(b for b in plan.boards if b.board != "Y2"))
    assert [work.part.name for work in works_for(bench_project(), some)] == ["Seat", "Rail"]


# --- test pieces ----------------------------------------------------------------------


def trials(project: Project, plan: Plan, taken=()) -> list[Trial | None]:
    return list(trials_for(project, plan, set_ups_for(project, plan), taken))


def test_test_pieces_of_a_bench_worked_by_hand():
    # Free after the rough crosscuts: of Y2 13 1/2 x 5 (14 1/2 less the trimmed end), of R1
    # 8 7/8 x 6, too short. A rip at 5 1/8 finds nothing 5 1/4 wide; at 4 5/8 the piece of
    # Y2 is wide enough, then 4 5/8, then 2 1/4 wide, too narrow for the rail at 3 1/4.
    found = trials(bench_project(), bench_plan())
    rips = found[3:8]
    assert [one and (one.number, one.board, one.length, one.width) for one in rips] == [
        None,
        (1, "Y2", inch("27/2"), inch(5)),
        (1, "Y2", inch("27/2"), inch("37/8")),
        (1, "Y2", inch("27/2"), inch("9/4")),
        None,
    ]


def test_waste_is_taken_before_an_offcut_that_is_to_keep():
    # 48 in: waste of Y1, 49 x 1, freed by the rips; then 48 in of it for the rail's 40 in
    found = [one for one in trials(bench_project(), bench_plan())[-3:] if one]
    assert [(one.board, one.name, one.length) for one in found] == [
        ("Y1", "", inch(49)), ("Y1", "", inch(48)), ("Y1", "", inch(40)),
    ]  # fmt: skip


def test_what_something_else_is_made_from_is_left_alone():
    project, plan = bench_project(), bench_plan()
    kept = trials(project, plan, {("Y1", 2), ("Y2", 0)})
    assert all((one.x, one.board) != (64, "Y1") for one in kept if one)
    assert all(one.y or one.board != "Y2" for one in kept if one)


def test_a_marked_or_thinner_piece_is_no_test_piece():
    project, plan = bench_project(), bench_plan()
    thick = replace(project.boards[0].thickness, label="8/4")
    boards = tuple(
        replace(board, thickness=thick) if board.name in {"Y1", "R1"} else board
        for board in project.boards
    )
    found = trials(replace(project, boards=boards), plan)
    work = set_ups_for(project, plan)
    for one, piece in zip(work, found, strict=True):
        names = {name for run in one.runs for name in run.names}
        if piece and all(name.startswith("Leg") for name in names) and names:
            assert piece.board == "Y2"


@pytest.mark.parametrize(
    "made",
    [(bench_project(), bench_plan()), (shelf_project(), shelf_plan()),
     (block_project(), block_plan())],
)  # fmt: skip
def test_a_test_piece_is_free_by_then_and_safe_to_run(made):
    project, plan = made
    work, now = set_ups_for(project, plan), {}
    for one, piece in zip(work, trials(project, plan), strict=True):
        if piece is None:
            continue
        long, wide = needed_size(project, one)
        assert (
            piece.length
            >= long
            >= least_length(project.shop.shortest_machined, project.unit)
        )
        assert piece.width >= wide
        before = now.get(piece.number, piece)
        assert (piece.board, piece.x, piece.y) == (before.board, before.x, before.y)
        assert piece.length <= before.length
        assert piece.width <= before.width
        if one.way == FENCE:
            assert piece.length >= piece.width
        now[piece.number] = piece


# --- the sheet ------------------------------------------------------------------------


def content(project: Project, plan: Plan) -> Content:
    return content_for(project, plan, lambda _: 700.0)


def rows_of(tmp_path, project: Project, plan: Plan) -> list[list[object]]:
    path = tmp_path / "plan.xlsx"
    write_workbook(path, project, plan)
    sheet = load_workbook(path)["Machining"]
    return [[cell.value for cell in row] for row in sheet.iter_rows()]


def test_the_sheet_lists_set_ups_with_settings_cuts_and_test_pieces(tmp_path):
    rows = rows_of(tmp_path, bench_project(), bench_plan())
    numbered = {row[1]: row[2:7] for row in rows if isinstance(row[1], int)}
    assert len(numbered) == 15  # 3 planer, 5 + 3 fence, 1 + 3 stop
    assert numbered[1] == [
        "fence", 5.125, 2, "Y1, cuts 4, 5: Seat 1.1; Seat 1.2",
        "none: keep a cut-off of 12 \N{MULTIPLICATION SIGN} 5 1/4 or more",
    ]  # fmt: skip
    assert numbered[2][-1] == "T1, now 13 1/2 \N{MULTIPLICATION SIGN} 5"
    assert numbered[3][3] == "Y2, cut 3: Leg 1 to 4"
    assert numbered[4][3:] == ["Y1, cut 6: waste", None]
    headings = [row[0] for row in rows if row[0] and row[1] is None]
    assert any(str(one).startswith("Set-ups, in order: 15 set-ups") for one in headings)
    stages = [one for one in headings if one in ("Rip the sections", "Cut gangs apart")]
    assert stages == ["Rip the sections", "Cut gangs apart"]


def test_what_the_widths_saved_stands_on_the_sheet():
    plan = replace(bench_plan(), rips=RipCount(settings=5, before=8))
    page = machining_page(content(bench_project(), plan))
    words = [cell.value for row in page.rows for cell in row.cells if cell]
    assert any("take 5 settings of the fence; before" in str(one) for one in words)


def test_short_and_narrow_set_ups_are_warned_of():
    # blocks of 225 mm are shorter than the 300 mm that the shop machines
    page = machining_page(content(block_project(), block_plan()))
    words = [str(cell.value) for row in page.rows for cell in row.cells if cell]
    assert "CHECK: Block 1, Block 2: too short for the planer, find another way" in words
    assert any(
        one.startswith("CHECK: Block 1, Block 2: too short for the") for one in words
    )
    assert any("Fence and mitre gauge are never used together" in one for one in words)


def test_names_that_count_on_are_told_as_one():
    legs = ["Leg 1", "Leg 2", "Leg 3", "Leg 10", "Arm 1", "Arm 2", "Seat 1.1", "Seat 1.2"]
    assert ranged(legs) == "Leg 1 to 3; Leg 10; Arm 1; Arm 2; Seat 1.1; Seat 1.2"
    assert ranged(["Seat 1.9", "Seat 1.10", "Seat 1.11"]) == "Seat 1.9 to 11"
    assert ranged(["Leg", "7", "8", "9"]) == "Leg; 7; 8; 9"
    assert in_order(["Leg 10", "Leg 9", "Arm 2"]) == ["Arm 2", "Leg 9", "Leg 10"]


def test_stages_follow_each_other_as_the_work_goes():
    phases = [one.phase for one in set_ups_for(shelf_project(), shelf_plan())]
    assert all(one <= other for one, other in pairwise(phases))
