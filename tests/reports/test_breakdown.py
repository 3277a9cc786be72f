"""How a board comes apart: each cut on its own piece of wood, equal cuts together."""

from __future__ import annotations

from dataclasses import replace

from hypothesis import given
from hypothesis import strategies as st

from nesting.plan import Cut, CutBoard, Piece
from reports.breakdown import Wood, lines_for, needed_size, steps_for
from tests.samples import bench_plan, block_plan, inch, shelf_plan

KERF = 8  # 1/8 in


def test_every_cut_of_the_samples_finds_its_wood():
    for plan, kerf in ((bench_plan(), 8), (shelf_plan(), 8), (block_plan(), 30)):
        for board in (*plan.boards, *plan.sheets):
            assert len(steps_for(board, kerf)) == len(board.cuts)


def test_the_kerf_belongs_to_neither_side():
    first = steps_for(bench_plan().boards[0], KERF)[0]
    assert first.freed == Wood(0, 56, 0, 736)
    assert first.rest == Wood(64, 6144, 0, 736)


def test_equal_rips_share_a_line_and_waste_is_not_joined():
    lines = lines_for(bench_plan().boards[0], KERF)
    rips = [line for line in lines if line.kind == "rip"]
    assert [(line.first, line.last, line.count) for line in rips] == [
        (4, 5, 2),
        (6, 6, 1),
        (7, 7, 1),
    ]
    assert rips[0].gives == "Seat 1.1, Seat 1.2"
    assert (rips[0].at, rips[0].last_at) == (328, 664)


def test_what_is_left_is_named_only_when_nothing_more_is_cut_from_it():
    lines = lines_for(bench_plan().boards[0], KERF)
    assert lines[0].leaves == ""
    assert lines[-1].leaves == "offcut Y1.1 (keep)"


def test_cuts_after_planing_say_so():
    lines = lines_for(bench_plan().boards[1], KERF)
    (line,) = (line for line in lines if line.after_planing)
    # four legs of 11 in from one length: equal crosscuts at 12, 23 1/8 and 34 1/4 in
    assert (line.first, line.last, line.count, line.length) == (4, 6, 3, 704)
    assert (line.at, line.last_at) == (768, 2192)
    assert (line.gives, line.leaves) == ("Leg 1, Leg 2, Leg 3", "Leg 4")


def test_equal_crosscuts_that_free_sections_stay_apart():
    """Two sections of 8 in, each of two staves: which is in which is told."""
    board = bench_plan().boards[0]
    pieces = tuple(
        replace(board.pieces[0], name=f"P{n}", x=64 + 520 * (n // 2), y=336 * (n % 2),
                length=512)
        for n in range(4)
    )  # fmt: skip
    cuts = tuple(
        replace(board.cuts[0], order=order, at=at)
        for order, at in enumerate((56, 576, 1096), 1)
    )
    lines = lines_for(replace(board, pieces=pieces, cuts=cuts, offcuts=()), KERF)
    assert [line.gives for line in lines] == ["waste", "P0, P1", "P2, P3"]


def test_a_board_without_pieces_needs_nothing():
    empty = replace(bench_plan().boards[0], pieces=())
    assert needed_size(empty, inch(1)) == (0, 0)


@given(
    widths=st.lists(st.integers(min_value=1, max_value=500), min_size=1, max_size=8),
    length=st.integers(min_value=10, max_value=5000),
    kerf=st.integers(min_value=0, max_value=30),
)
def test_lines_account_for_every_strip_that_is_ripped(widths, length, kerf):
    """Ripping strip after strip: counts of the lines add up, sizes are those asked."""
    pieces, cuts, low = [], [], 0
    for at, width in enumerate(widths, 1):
        pieces.append(
            Piece(name=f"Slat {at}", part="Slat", copy=at, role="solid",
                  x=0, y=low, length=length, width=width)
        )  # fmt: skip
        cuts.append(Cut(order=at, kind="rip", at=low + width, start=0, end=length))
        low += width + kerf
    board = bench_plan().boards[0]
    board = CutBoard(
        board="B", where="rack", bought=False, cost=board.cost, pay=board.pay,
        board_feet=board.board_feet, length=length, width=low + 50, width2=low + 50,
        pieces=tuple(pieces), cuts=tuple(cuts), offcuts=(),
    )  # fmt: skip
    lines = lines_for(board, kerf)
    assert sum(line.count for line in lines) == len(widths)
    ripped = [width for line in lines for width in [line.width] * line.count]
    assert ripped == widths
    named = ", ".join(line.gives for line in lines).split(", ")
    assert named == [piece.name for piece in pieces]
