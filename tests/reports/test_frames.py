"""Frames: every piece, board and offcut of a plan once, exact, in the plan's order."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

from nesting.plan import Shortage
from reports.frames import (
    BOARD_COLUMNS,
    OFFCUT_COLUMNS,
    PIECE_COLUMNS,
    STAVE_COLUMNS,
    boards_frame,
    frames_for,
    offcuts_frame,
    pieces_frame,
    records,
    short_frame,
    staves_frame,
)
from tests.samples import (
    bench_plan,
    bench_project,
    block_plan,
    block_project,
    inch,
    shelf_plan,
    shelf_project,
)


def test_every_frame_has_the_columns_it_documents():
    frames = frames_for(shelf_project(), shelf_plan())
    assert tuple(frames.boards.columns) == BOARD_COLUMNS
    assert tuple(frames.pieces.columns) == PIECE_COLUMNS
    assert tuple(frames.offcuts.columns) == OFFCUT_COLUMNS
    assert tuple(frames.staves.columns) == STAVE_COLUMNS
    assert tuple(frames.short.columns) == ("part", "copies", "why")


def test_pieces_of_boards_and_sheets_are_all_there_once():
    frame = pieces_frame(shelf_plan())
    # 3 staves, 4 legs, 1 rail; of the sheet 2 ends and 1 shelf.
    assert len(frame) == 11
    assert frame["piece"].is_unique
    assert set(frame["part"]) == {"Seat", "Leg", "Rail", "End", "Shelf"}


def test_a_stave_knows_its_place_in_the_panel_and_other_pieces_have_none():
    places = dict(
        zip(*pieces_frame(bench_plan())[["piece", "stave"]].T.to_numpy(), strict=True)
    )
    assert (places["Seat 1.1"], places["Seat 1.3"], places["Seat 1.2"]) == (1, 2, 3)
    assert places["Rail 1"] == 0


def test_ganged_pieces_are_marked():
    frame = pieces_frame(bench_plan())
    assert list(frame[frame["ganged"]]["piece"]) == ["Leg 1", "Leg 2", "Leg 3", "Leg 4"]


def test_boards_keep_exact_board_feet_prices_and_money():
    frame = boards_frame(bench_project(), bench_plan()).set_index("board")
    # 96 x 11 1/2 / 144 and its price of 9.00 a board foot: 69.00, with 6 % tax 73.14
    assert frame.loc["Y1", "board_feet"] == Fraction(23, 3)
    assert frame.loc["Y1", "rate"] == 9
    assert frame.loc["Y1", "before_tax"] == 69
    assert frame.loc["Y1", "pay"] == Decimal("73.14")
    assert frame.loc["R1", "before_tax"] == 0


def test_the_smallest_board_that_would_do_holds_the_pieces_and_both_trims():
    frame = boards_frame(bench_project(), bench_plan()).set_index("board")
    # Y1: pieces from 1 to 91 1/8 in, trims of 1 in: 92 1/8; widths 0 to 10 3/8.
    assert frame.loc["Y1", "need_length"] == inch(Fraction(737, 8))
    assert frame.loc["Y1", "need_width"] == inch(Fraction(83, 8))
    # R1: one stave of 49 x 4 5/8.
    assert frame.loc["R1", "need_length"] == inch(51)
    assert frame.loc["R1", "need_width"] == inch(Fraction(37, 8))


def test_sheets_are_priced_each_and_have_no_board_feet():
    frame = boards_frame(shelf_project(), shelf_plan()).set_index("board")
    sheet = frame.loc["birch ply 1"]
    assert (sheet["kind"], sheet["species"], sheet["rate"]) == ("sheet", "birch ply", 28)
    assert sheet["board_feet"] == 0


def test_only_offcuts_to_keep_are_listed():
    frame = offcuts_frame(bench_project(), bench_plan())
    assert list(frame["offcut"]) == ["Y1.1", "Y2.1", "Y2.2"]
    assert sum(frame["credit"], Decimal(0)) == bench_plan().totals.credit
    # 41 x 6 in of 4/4: 246 / 144 board feet
    assert frame["board_feet"][0] == Fraction(41, 24)


def test_staves_are_traced_to_their_place_on_the_board():
    rows = list(records(staves_frame(bench_plan())))
    assert [row["piece"] for row in rows] == ["Seat 1.1", "Seat 1.3", "Seat 1.2"]
    assert (rows[2]["board"], rows[2]["x"], rows[2]["y"]) == ("Y1", 64, 336)
    assert rows[2]["turned"]


def test_shortages_are_counted_per_part_and_reason():
    short = tuple(Shortage(part="Leg", copy=copy, why="too short") for copy in (1, 2, 4))
    frame = short_frame(replace(bench_plan(), short=short))
    assert list(records(frame)) == [{"part": "Leg", "copies": 3, "why": "too short"}]


def test_a_plan_without_panels_gives_an_empty_frame_with_its_columns():
    frame = frames_for(block_project(), block_plan()).staves
    assert frame.empty
    assert tuple(frame.columns) == STAVE_COLUMNS
