"""Nests as a maker sees them: drawn on their board, in words, with a caution."""

import shapely

from nesting.interlock import Laid, laid_ring
from reports.board_figures import Paper
from reports.board_views import BoardView, alt_text
from reports.breakdown import lines_for
from reports.cautions import cautions_for
from reports.drawings import Area, Label
from reports.nests import nest_lines, nest_words, outlines_in, rings_in
from stock.measures import Unit
from tests.nesting.test_nests import nested_plan

PROJECT, PLAN = nested_plan()
BOARD = PLAN.boards[0]
(PIECE,) = BOARD.pieces


def test_outlines_are_drawn_where_the_plan_lays_them():
    rings = rings_in(PROJECT)
    paper = Paper(unit=Unit.INCH, kerf=PROJECT.shop.kerf, scale=4, stretch=1)
    drawing = BoardView(paper, {}, rings).draw(BOARD)
    drawn = {shape.points for shape in drawing.shapes if isinstance(shape, Area)}
    for one in PIECE.nest:
        laid = laid_ring(rings["Leg"], Laid(one.x, one.y, one.turned, one.mirrored))
        assert tuple((PIECE.x + x, PIECE.y + y) for x, y in laid) in drawn
    assert "holds 2 copies" in alt_text(BOARD, (), Unit.INCH)
    names = [shape.text for shape in drawing.shapes if isinstance(shape, Label)]
    assert f"Leg {PIECE.copies[0]}, {PIECE.copies[1]}" in names


def test_outlines_lie_within_their_piece_and_apart():
    first, second = (
        shapely.Polygon(ring) for ring in outlines_in(PIECE, rings_in(PROJECT))
    )
    left, low = PIECE.x, PIECE.y
    room = shapely.box(left, low, left + PIECE.length, low + PIECE.width)
    assert room.covers(first)
    assert room.covers(second)
    assert first.distance(second) >= PROJECT.shop.kerf


def test_words_say_which_copies_and_how_they_lie():
    one, other = PIECE.copies
    words = nest_words(PIECE)
    assert words.startswith(f"saw out by the outline: Leg {one}")
    assert f"Leg {other}" in words
    assert words.count("(end for end)") == 1
    assert list(nest_lines(PROJECT, PLAN)) == ["Leg: 4 copies interlock in 2 blanks"]
    assert any(words in line.gives for line in lines_for(BOARD, PROJECT.shop.kerf))


def test_nests_are_cautioned_of():
    cautions = cautions_for(PROJECT, PLAN, lambda _: None)
    (found,) = [one.words for one in cautions if one.topic == "Nested copies"]
    assert "Leg" in found
    assert "manual" in found
