"""Cautions: what can hurt somebody is named when, and only when, the plan gives rise."""

from __future__ import annotations

from dataclasses import replace

import pytest

from reports.cautions import CHECK, NOTE, STOP, cautions_for
from reports.plaintext import named
from tests.samples import bench_plan, bench_project, block_plan, block_project, inch

OAK = 700.0  # kg/m3, a round figure for these tests


def test_cautions_are_those_the_plan_gives_rise_to():
    project, plan = bench_project(), bench_plan()
    found = {one.topic: one for one in cautions_for(project, plan, lambda _: OAK)}
    assert set(found) == {"Gangs", "Marked boards"}
    assert found["Gangs"].level == NOTE
    loose = replace(plan, boards=tuple(replace(board, gangs=()) for board in plan.boards))
    short = {one.topic: one for one in cautions_for(project, loose, lambda _: OAK)}
    assert short["Short pieces"].level == CHECK
    assert "Leg 1, Leg 2, Leg 3, Leg 4: shorter than 12 in" in short["Short pieces"].words


def test_heavy_boards_and_panels_ask_for_two_people():
    project, plan = bench_project(), bench_plan()
    # Y1: 96 x 11 1/2 x 1 in = 1104 cubic inches = 0.01809 m3; 23 kg at 1271 kg/m3
    light = cautions_for(project, plan, lambda _: 1270.0)
    assert "Heavy" not in {one.topic for one in light}
    heavy = {one.topic: one.words for one in cautions_for(project, plan, lambda _: 1273.0)}
    assert heavy["Heavy"] == "board Y1 (about 51 lb): over 51 lb. Lift with two people."


def test_an_unknown_wood_is_not_weighed_in_silence():
    found = cautions_for(bench_project(), bench_plan(), lambda _: None)
    topics = {one.topic: one.words for one in found}
    assert topics["Weight not known"].startswith("No density is known for white oak")


@pytest.mark.parametrize(
    ("setting", "value", "topic"),
    [
        ("planer_width", inch(14), "Wide panels"),  # the seat is 14 1/2 in
        ("jointer_width", inch(5), "Wide pieces"),  # staves of 5 1/8 in
        ("open_time", 0, "Open time"),
    ],
)
def test_the_limits_of_machines_and_glue_are_minded(setting, value, topic):
    project, plan = bench_project(), bench_plan()
    usual = {one.topic for one in cautions_for(project, plan, lambda _: OAK)}
    shop = replace(project.shop, **{setting: value})
    found = cautions_for(replace(project, shop=shop), plan, lambda _: OAK)
    assert {one.topic for one in found} - usual == {topic}


def test_thin_narrow_and_damp_wood_is_minded():
    project, plan = bench_project(), bench_plan()
    parts = tuple(replace(part, thickness=inch("3/16")) for part in project.parts)
    boards = tuple(replace(board, moisture=9.5) for board in project.boards)
    y1 = plan.boards[0]
    slim = replace(y1, pieces=tuple(replace(piece, width=40) for piece in y1.pieces))
    plan = replace(plan, boards=(slim, *plan.boards[1:]))
    found = cautions_for(replace(project, parts=parts, boards=boards), plan, lambda _: OAK)
    assert {"Thin parts", "Narrow rips", "Moisture"} <= {one.topic for one in found}


def test_glued_layers_are_minded():
    found = cautions_for(block_project(), block_plan(), lambda _: OAK)
    assert "Layers" in {one.topic for one in found}


def test_a_thin_piece_in_a_thick_gang_is_minded():
    # a foot of 3/8 in takes the place of the last leg, in the gang of legs of 3/4 in
    project, plan = bench_project(), bench_plan()
    leg = next(part for part in project.parts if part.name == "Leg")
    foot = replace(leg, name="Foot", qty=1, thickness=inch("3/8"), row=5)
    boards = tuple(
        replace(
            cut,
            pieces=tuple(
                replace(piece, part="Foot", copy=1) if piece.name == "Leg 4" else piece
                for piece in cut.pieces
            ),
        )
        for cut in plan.boards
    )
    project = replace(project, parts=(*project.parts, foot))
    found = {one.topic: one for one in cautions_for(project, plan, lambda _: OAK)}
    assert "Gangs of two thicknesses" not in found
    changed = replace(plan, boards=boards)
    found = {one.topic: one for one in cautions_for(project, changed, lambda _: OAK)}
    assert found["Gangs of two thicknesses"].level == CHECK
    assert found["Gangs of two thicknesses"].words.startswith("Leg 4: thinner than")


def test_the_gravest_cautions_come_first():
    project, plan = bench_project(), bench_plan()
    plan = replace(plan, status="short", totals=replace(plan.totals, gap=None))
    levels = [one.level for one in cautions_for(project, plan, lambda _: None)]
    assert levels == sorted(levels, key=(STOP, CHECK, NOTE).index)
    assert levels[:2] == [STOP, CHECK]


def test_long_rows_of_names_are_cut_and_counted():
    assert named(["a", "b", "a"]) == "a, b"
    assert named([str(at) for at in range(9)], most=2) == "0, 1 and 7 more"
