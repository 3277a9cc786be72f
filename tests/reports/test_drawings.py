"""Drawings: true to scale, nothing off the paper, the same picture every time."""

from __future__ import annotations

import io
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from nesting.plan import CutBoard
from reports.board_figures import Paper
from reports.board_views import BoardView, alt_text, fills_for, scale_for
from reports.drawings import Area, Drawing, Label, rectangle
from reports.glueups import clamping_for, ring_sides
from reports.letters import DPI, fitted_size, printable, text_width
from reports.outlines import finished_outline, finished_size
from reports.panel_ends import end_view
from reports.panel_views import face_view
from reports.png import png
from reports.styles import INK, LOOSE, SOFT, WHITE
from stock.measures import Unit
from tests.samples import (
    bench_plan,
    bench_project,
    block_plan,
    block_project,
    inch,
    shelf_plan,
    shelf_project,
)


def board_drawing(board: CutBoard, *, scale: int = 12, stretch: int = 2) -> Drawing:
    """The drawing of a board of the bench."""
    paper = Paper(unit=Unit.INCH, kerf=8, scale=scale, stretch=stretch)
    marks = bench_project().board(board.board).marks if board.board == "Y1" else ()
    return BoardView(paper, fills_for(bench_plan())).draw(board, marks)


def image_of(drawing: Drawing) -> Image.Image:
    """A drawing as an image."""
    return Image.open(io.BytesIO(png(drawing)))


def test_a_drawing_is_its_size_at_200_dots_per_inch():
    drawing = board_drawing(bench_plan().boards[0])
    image = image_of(drawing)
    assert image.width == round(drawing.width / 72 * DPI)
    assert image.height == round(drawing.height / 72 * DPI)


def test_lengths_are_to_scale_and_widths_twice_as_large():
    drawing = board_drawing(bench_plan().boards[0], scale=12)
    # 96 in at 1:12 are 8 in = 576 points; 11 1/2 in at 1:6 are 138 points
    assert inch(96) * drawing.across == pytest.approx(576)
    assert inch("23/2") * drawing.upward == pytest.approx(138)


def test_every_piece_is_drawn_at_its_place():
    board = bench_plan().boards[0]
    areas = [one for one in board_drawing(board).shapes if isinstance(one, Area)]
    corners = {one.points[0] for one in areas if one.fill and one.fill not in {WHITE, SOFT}}
    assert corners == {(piece.x, piece.y) for piece in board.pieces}


def test_kerfs_are_dark_and_as_wide_as_the_saw():
    board = bench_plan().boards[0]
    kerfs = [
        one
        for one in board_drawing(board).shapes
        if isinstance(one, Area) and one.fill == SOFT
    ]
    assert len(kerfs) == len(board.cuts)
    for kerf in kerfs:
        xs, ys = [x for x, _ in kerf.points], [y for _, y in kerf.points]
        assert min(max(xs) - min(xs), max(ys) - min(ys)) == 8


def test_a_kerf_is_seen_in_the_picture():
    board = bench_plan().boards[0]
    drawing = board_drawing(board)
    image = image_of(drawing).convert("RGB")
    # Halfway up the first crosscut, whose dust lies at x = 56 to 64, beside waste.
    x = round((drawing.left + 60 * drawing.across) * DPI / 72)
    y = round((drawing.height - drawing.bottom - 368 * drawing.upward) * DPI / 72)
    assert image.getpixel((x, y)) == tuple(int(SOFT[at : at + 2], 16) for at in (0, 2, 4))


def test_a_tapered_board_has_a_sloping_upper_edge():
    plan = block_plan()
    paper = Paper(unit=Unit.MM, kerf=30, scale=6)
    drawing = BoardView(paper, {}).draw(plan.boards[0])
    ground = drawing.shapes[0]
    assert isinstance(ground, Area)
    assert ground.points == ((0, 0), (12000, 0), (12000, 1500), (0, 1600))


def test_marks_are_crosshatched_and_lettered():
    shapes = board_drawing(bench_plan().boards[0]).shapes
    hatched = [one for one in shapes if isinstance(one, Area) and one.hatch == "mark"]
    assert [one.points[0] for one in hatched] == [(inch(60), inch("1/2"))]
    assert "K" in {one.text for one in shapes if isinstance(one, Label)}


def test_offcuts_to_keep_are_dashed_and_say_so():
    shapes = board_drawing(bench_plan().boards[0]).shapes
    texts = {one.text for one in shapes if isinstance(one, Label)}
    assert "keep Y1.1" in texts
    assert any(isinstance(one, Area) and one.dashed and one.fill == WHITE for one in shapes)


def test_positions_of_crosscuts_stand_above_their_ticks():
    labels = [
        one
        for one in board_drawing(bench_plan().boards[0]).shapes
        if isinstance(one, Label)
    ]
    above = {one.text: one.x for one in labels if one.y == 736}
    assert {"7/8": 56, "50": 3200, "91 1/8": 5832}.items() <= above.items()


def test_pieces_too_small_for_names_share_a_plate():
    board = bench_plan().boards[1]
    slats = tuple(
        replace(board.pieces[0], name=f"Long slat name {at}", y=at * 16, width=8)
        for at in range(11)
    )
    drawing = board_drawing(replace(board, pieces=slats, cuts=(), gangs=()), scale=12)
    texts = [one.text for one in drawing.shapes if isinstance(one, Label)]
    assert "11 pieces, see table" in texts or "11, see table" in texts


def test_one_scale_fits_the_longest_board():
    assert scale_for(bench_plan().boards, Unit.INCH, 2) == 12  # 96 / 9.43 in is over 10
    assert scale_for(block_plan().boards, Unit.MM, 2) == 6  # 47.2 in; 6.3 in high over 3.5


def test_the_words_of_a_drawing_tell_pieces_and_marks():
    words = alt_text(bench_plan().boards[0], bench_project().board("Y1").marks, Unit.INCH)
    assert "Board Y1, 96 by 11 1/2 in" in words
    assert "Rail 1 at 50 1/8, 2 1/8, 41 by 3 1/4" in words
    assert "knot from 60 to 62" in words


def test_the_same_drawing_gives_the_same_bytes():
    drawing = board_drawing(bench_plan().boards[0])
    assert png(drawing) == png(drawing)


def test_white_stays_white_and_fills_stay_true():
    drawing = Drawing(
        width=72, height=72, left=0, bottom=0, across=1, upward=1,
        shapes=(rectangle(10, 10, 40, 40, fill=LOOSE),), alt="",
    )  # fmt: skip
    image = image_of(drawing).convert("RGB")
    assert image.getpixel((3, 3)) == (255, 255, 255)
    assert image.getpixel((80, 110)) == (0xFB, 0xF0, 0xDA)


@given(st.text(max_size=30))
def test_any_text_becomes_letters_that_the_face_holds(words):
    assert all(" " <= char <= "~" for char in printable(words))


@given(st.floats(min_value=1, max_value=400), st.floats(min_value=1, max_value=60))
def test_a_fitted_label_fits(room, high):
    size = fitted_size("Seat 1.12", room, high)
    if size is not None:
        assert text_width("Seat 1.12", size) <= room
        assert size <= high


@settings(max_examples=15, deadline=None)
@given(scale=st.sampled_from([4, 12, 40, 200]), stretch=st.sampled_from([1, 2]))
def test_every_scale_can_be_painted(scale, stretch):
    for board in bench_plan().boards:
        assert png(board_drawing(board, scale=scale, stretch=stretch)).startswith(
            b"\x89PNG"
        )


def test_sheets_and_gangs_can_be_painted():
    plan = shelf_plan()
    paper = Paper(unit=Unit.INCH, kerf=shelf_project().shop.kerf, scale=8, stretch=1)
    drawing = BoardView(paper, {}).draw(plan.sheets[0])
    assert png(drawing).startswith(b"\x89PNG")
    ganged = board_drawing(bench_plan().boards[1]).shapes
    assert any(isinstance(one, Area) and one.dashed and one.edge == INK and not one.fill
               for one in ganged)  # fmt: skip


def test_a_panel_shows_staves_in_order_from_the_top_with_clamps_and_outline():
    project, plan = bench_project(), bench_plan()
    panel, part = plan.panels[0], project.part("Seat")
    clamping = clamping_for(panel, part.thickness, None, project.shop)
    places = {piece.name: piece.x for cut in plan.boards for piece in cut.pieces}
    drawing = face_view(
        panel, part, clamping, project.unit,
        sides=ring_sides(panel, "alternate", is_plain=True), places=places,
    )  # fmt: skip
    texts = [one.text for one in drawing.shapes if isinstance(one, Label)]
    staves = [text for text in texts if text[:3] in {"1: ", "2: ", "3: "}]
    assert staves == [
        "1: Seat 1.1, board Y1 at 1, 5 net, bark up",
        "2: Seat 1.3, board R1 at 1, 4 1/2 net, heart up",
        "3: Seat 1.2, board Y1 at 1, 5 net, bark up, turned",
    ]
    dashed = [one for one in drawing.shapes if isinstance(one, Area) and one.dashed]
    assert [one.points for one in dashed] == [finished_outline(part, 3136, 928)]
    jaws = [
        one for one in drawing.shapes if isinstance(one, Area) and one.fill in {INK, WHITE}
    ]
    assert len(jaws) == 2 * len(clamping.clamps)
    assert png(drawing).startswith(b"\x89PNG")


def test_the_finished_outline_lies_in_the_middle_of_the_blank():
    part = bench_project().part("Seat")
    points = finished_outline(part, 3136, 928)
    # 49 x 14 1/2 in around 48 x 14: 1/2 in at the ends, 1/4 in at the edges
    assert points[0] == (32, 16)
    assert points[2] == (3136 - 32, 928 - 16)


def test_grain_across_turns_the_finished_part():
    part = replace(bench_project().part("Seat"), grain="width")
    assert finished_size(part, 928, 3136) == (part.width, part.length)


def test_round_and_cut_corners_stay_inside_the_rectangle():
    for shape in ("disc", "octagon"):
        part = replace(bench_project().part("Seat"), shape=shape)
        points = finished_outline(part, 3136, 928)
        assert all(
            32 - 1e-6 <= x <= 3104 + 1e-6 and 16 - 1e-6 <= y <= 912 + 1e-6
            for x, y in points
        )
        assert len(points) > 4


def test_the_end_view_says_which_side_goes_up():
    panel = bench_plan().panels[0]
    sides = ring_sides(panel, "alternate", is_plain=True)
    drawing = end_view(panel, sides, 48)
    texts = {one.text for one in drawing.shapes if isinstance(one, Label)}
    assert {"1: bark side up", "2: heart side up", "3: bark side up"} <= texts
    assert png(drawing).startswith(b"\x89PNG")


def test_metric_drawings_write_whole_millimetres():
    project, plan = block_project(), block_plan()
    paper = Paper(unit=Unit.MM, kerf=project.shop.kerf, scale=6)
    labels = [
        one.text for one in BoardView(paper, {}).draw(plan.boards[0]).shapes
        if isinstance(one, Label)
    ]  # fmt: skip
    assert "225 x 66" in labels
    assert "934" in labels
