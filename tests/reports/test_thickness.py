"""What is resawn is said wherever somebody cuts, carries or glues it."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

from reports.board_views import alt_text
from reports.breakdown import lines_for
from reports.cautions import CHECK, cautions_for
from reports.costs import spares_for
from reports.frames import pieces_frame, staves_frame
from reports.sheets.content import content_for
from reports.sheets.parts import parts_page
from reports.summary import summary
from reports.thickness import named_piece, resaw_words, thickness_lines
from reports.workbook import pages_for
from stock.measures import Unit
from tests.resawn_sample import resawn_plan, resawn_project
from tests.samples import bench_plan, bench_project, block_plan, block_project, inch

PROJECT, PLAN = resawn_project(), resawn_plan()
(SLATS,), (STAVE,) = (cut.pieces for cut in PLAN.boards)


def test_a_piece_says_what_it_is_resawn_into():
    assert resaw_words(SLATS) == "resaw into 2 leaves: Slat 1, Slat 2"
    assert resaw_words(STAVE) == "resaw into 2 leaves: Lid 1.1a, Lid 1.1b"
    assert named_piece(replace(SLATS, others=())) == (
        "Slat 1 (resaw into 2 leaves: Slat 1, 1 to spare)"
    )
    assert named_piece(replace(SLATS, leaves=1, others=())) == "Slat 1"


def test_the_cutting_table_says_it_after_the_cut_that_frees_the_piece():
    lines = lines_for(PLAN.boards[0], PROJECT.shop.kerf)
    assert lines[-1].gives == "Slat 1 (resaw into 2 leaves: Slat 1, Slat 2)"
    assert alt_text(PLAN.boards[0], (), Unit.INCH).count("resawn into 2 leaves") == 1


def test_the_sheet_of_parts_has_a_row_for_every_leaf():
    page = parts_page(content_for(PROJECT, PLAN, lambda _: 700.0))
    rows = [[cell.value for cell in row.cells if cell] for row in page.rows[2:]]
    slats = [row for row in rows if row and row[0] == "Slat"]
    assert [(row[1], row[6], row[-1]) for row in slats] == [
        (1, "Slat 1", "resaw: leaf 1 of 2"),
        (2, "Slat 1", "resaw: leaf 2 of 2"),
    ]
    lid = next(row for row in rows if row and row[0] == "Lid")
    assert lid[-1] == "resaw into 2 staves of this panel"


def test_staves_are_named_leaf_by_leaf():
    assert list(staves_frame(PLAN)["piece"]) == ["Lid 1.1a", "Lid 1.1b"]
    assert list(pieces_frame(PLAN)["copies"]) == [(1, 2), (1, 1)]


def test_every_sheet_can_be_described():
    words = [
        cell.value
        for page in pages_for(content_for(PROJECT, PLAN, lambda _: 700.0))
        for row in page.rows
        for cell in row.cells
        if cell and isinstance(cell.value, str)
    ]
    assert any("leaf a is the bark side" in text for text in words)


def test_the_screen_says_how_a_thickness_comes_about():
    assert list(thickness_lines(PROJECT, PLAN)) == [
        "Slat: 2 resawn from 8/4, 2 leaves a piece",
        "Lid: 1 resawn from 8/4, 2 leaves a piece",
    ]
    assert "thickness  Slat: 2 resawn" in summary(PROJECT, PLAN)
    assert not list(thickness_lines(bench_project(), bench_plan()))


def test_layers_are_told_where_the_build_did_not_ask_for_them():
    project = block_project()
    assert not list(thickness_lines(project, block_plan()))
    free = replace(project.parts[0], build="auto")
    told = list(thickness_lines(replace(project, parts=(free,)), block_plan()))
    assert told
    assert all("glued up from 2 layers" in line for line in told)


def test_resawing_is_cautioned_with_the_sizes_of_its_pieces():
    def found(project, plan):
        cautions = cautions_for(project, plan, lambda _: 700.0)
        return [one for one in cautions if one.topic == "Resawing"]

    (caution,) = found(PROJECT, PLAN)
    assert caution.level == CHECK
    assert caution.words.startswith(
        "Slat, Lid: pieces up to 3 7/8 in wide, from 21 in long"
    )
    assert "let them settle" in caution.words
    assert "set `resaw height`" in caution.words
    known = replace(PROJECT, shop=replace(PROJECT.shop, resaw_height=inch(6)))
    assert "resaw height" not in found(known, PLAN)[0].words
    assert not found(bench_project(), bench_plan())


def test_a_spare_leaf_costs_its_share_of_the_wood():
    """21 x 3 1/4 in of 8/4 are 2 x 68.25 / 144 board feet; a leaf is half of that."""
    slat, lid = PROJECT.parts
    spare = replace(PROJECT, parts=(replace(slat, qty=1, spares=1), lid))
    (one,) = spares_for(spare, PLAN)
    assert (one.made, one.feet) == (1, Fraction("68.25") / 144)
