"""Crosscuts at the yard: few, where the plan cuts anyway, and short enough to carry."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from fractions import Fraction
from itertools import combinations, pairwise

from hypothesis import given
from hypothesis import strategies as st

from nesting.carrying import Carried, Stretch, carried_for
from nesting.plan import CutBoard, Piece
from tests.samples import bench_plan, crosscut, inch, mm, offcut, rip

KERF = 8  # 1/8 in


def board_of(
    sections: list[tuple[int, int]], kerf: int, rest: int, *, taper: int = 0
) -> CutBoard:
    """A board cut into sections that follow each other: waste before each, its length."""
    pieces, cuts, x = [], [], 0
    width, width2 = 400, 400 - taper
    for waste, length in sections:
        if waste:
            cuts.append(crosscut(len(cuts) + 1, x + waste, 0, width))
            x += waste + kerf
        name = f"Leg {len(pieces) + 1}"
        pieces.append(
            Piece(name=name, part="Leg", copy=len(pieces) + 1, role="solid",
                  x=x, y=0, length=length, width=200)
        )  # fmt: skip
        cuts.append(crosscut(len(cuts) + 1, x + length, 0, width))
        x += length + kerf
    return CutBoard(
        board="P1", where="Hill yard", bought=True, cost=Decimal(0), pay=Decimal(0),
        board_feet=Fraction(0), length=x + rest, width=width, width2=width2,
        pieces=tuple(pieces), cuts=tuple(cuts), offcuts=(),
    )  # fmt: skip


def lines(carried: Carried) -> list[int]:
    return [cut.at for cut in carried.cuts]


def test_a_board_that_is_short_enough_stays_whole():
    y1 = bench_plan().boards[0]
    for longest in (None, inch(96), inch(100)):
        carried = carried_for(y1, KERF, longest)
        assert carried.cuts == ()
        assert carried.stretches == (Stretch(0, inch(96)),)
        assert not carried.is_too_long


def test_a_board_is_cut_in_the_middle_of_a_kerf_of_the_plan():
    # Y1 of 96 in has full crosscuts at 56, 3200 and 5832: the ends, and between sections at
    # 50 in. A line amid its kerf of 1/8 in lies at 3204 = 50 1/16 in; the plan's next piece
    # begins at 3208 = 50 1/8 in.
    carried = carried_for(bench_plan().boards[0], KERF, inch(80))
    assert lines(carried) == [inch("50.0625")]
    assert (carried.cuts[0].low, carried.cuts[0].high) == (inch(50), inch("50.125"))
    assert [one.length for one in carried.stretches] == [3204, inch(96) - 3204]


def test_a_waste_end_is_cut_off_and_may_stay():
    # one piece of 80 in at the butt end, 15 7/8 in of waste behind it
    board = board_of([(0, inch(80))], KERF, inch("15.875"))
    carried = carried_for(board, KERF, inch(90))
    assert lines(carried) == [inch(80) + 4]
    assert [one.is_waste for one in carried.stretches] == [False, True]
    assert carried.taken == (Stretch(0, inch(80) + 4),)
    # the saw may take any of the waste behind it
    assert (carried.cuts[0].low, carried.cuts[0].high) == (inch(80), board.length)


def test_waste_is_left_behind_where_that_takes_no_cut_more():
    # 40 in, 40 in, and 30 in of waste: a cut at 40 or at 80 leaves 80 in at most to carry
    board = board_of([(0, inch(40)), (0, inch(40))], KERF, inch(30))
    carried = carried_for(board, KERF, inch(85))
    assert lines(carried) == [inch(80) + KERF + 4]
    assert carried.stretches[1].is_waste


def test_a_kept_offcut_is_carried_home():
    board = board_of([(0, inch(80))], KERF, inch(20))
    end = offcut("P1 offcut 1", inch(80) + KERF, 0, inch(20), 400, "1.00")
    carried = carried_for(replace(board, offcuts=(end,)), KERF, inch(90))
    assert [one.is_waste for one in carried.stretches] == [False, False]
    assert carried.cuts[0].high == inch(80) + KERF


def test_no_cut_helps_a_section_that_is_longer_than_the_vehicle():
    board = board_of([(0, inch(30)), (0, inch(100))], KERF, 64)
    carried = carried_for(board, KERF, inch(96))
    assert carried.is_too_long
    assert carried.cuts == ()
    # from the line in the kerf before it to the line in the kerf behind it
    assert carried.section == inch(100) + KERF


def test_cuts_that_wait_for_planing_or_stop_at_a_rip_are_left_to_the_shop():
    board = board_of([(0, inch(40)), (0, inch(40))], KERF, inch(10))
    first = board.cuts[0]
    gang = replace(board, cuts=(replace(first, after_planing=True), *board.cuts[1:]))
    ripped = replace(
        board, cuts=(rip(1, 200, 0, board.length), replace(first, order=2, end=200))
    )
    for held in (gang, ripped):
        assert carried_for(held, KERF, inch(60)).is_too_long


def test_a_tapered_board_is_cut_across_the_wood_that_is_there():
    board = board_of([(0, inch(40)), (0, inch(40))], KERF, 0, taper=200)
    at = board.cuts[0].at
    # half way the board is 300 of 400 steps wide: a cut of 301 goes right across, 299 not
    for end, is_enough in ((301, True), (299, False)):
        cut = replace(board.cuts[0], end=end)
        carried = carried_for(replace(board, cuts=(cut, *board.cuts[1:])), KERF, inch(60))
        assert (lines(carried) == [at + 4]) == is_enough


def test_a_plan_without_a_kerf_leaves_a_saw_no_room():
    board = board_of([(0, inch(40)), (0, inch(40))], 0, 0)
    assert carried_for(board, 0, inch(60)).is_too_long


def test_millimetres_are_cut_alike():
    board = board_of([(0, mm(1500)), (0, mm(1500))], 30, mm(60))
    carried = carried_for(board, 30, mm(2000))
    assert lines(carried) == [mm(1500) + 15]


@st.composite
def cut_boards(draw: st.DrawFn) -> tuple[CutBoard, int, int]:
    """A board in sections with waste between them, a kerf, and what can be carried."""
    kerf = draw(st.integers(1, 9))
    waste = st.just(0) | st.integers(10, 300)
    sections = draw(st.lists(st.tuples(waste, st.integers(20, 300)), max_size=6))
    board = board_of(sections, kerf, draw(st.integers(0 if sections else 1, 400)))
    return board, kerf, draw(st.integers(50, 700))


def is_needed(board: CutBoard, start: int, end: int) -> bool:
    return any(one.x < end and start < one.x + one.length for one in board.pieces)


@given(cut_boards())
def test_every_stretch_carried_is_short_enough_or_it_is_said(case):
    board, kerf, longest = case
    carried = carried_for(board, kerf, longest)
    ends = [0, *lines(carried), board.length]
    assert [(one.start, one.end) for one in carried.stretches] == list(pairwise(ends))
    whole = carried.stretches == (Stretch(0, board.length),)
    if carried.is_too_long:
        assert carried.section > longest
        assert carried.cuts == ()
    elif board.length <= longest:
        assert whole
    else:
        assert all(one.length <= longest for one in carried.taken)
    # wood that stays at the yard is in no piece
    kept = set(carried.taken)
    for one in carried.stretches:
        assert (one in kept) == (whole or is_needed(board, one.start, one.end))


@given(cut_boards())
def test_the_yards_saw_meets_nothing_but_kerf_and_waste(case):
    board, kerf, longest = case
    for cut in carried_for(board, kerf, longest).cuts:
        assert any(one.at <= cut.at <= one.at + kerf for one in board.cuts)
        assert cut.low <= cut.at <= cut.high
        assert cut.high - cut.low >= kerf
        assert not is_needed(board, cut.low, cut.high)


@given(cut_boards())
def test_no_choice_of_fewer_cuts_would_do(case):
    board, kerf, longest = case
    carried = carried_for(board, kerf, longest)
    marks = [one.at + kerf // 2 for one in board.cuts if one.at + kerf // 2 < board.length]

    def will_do(chosen: tuple[int, ...]) -> bool:
        ends = pairwise((0, *chosen, board.length))
        return all(b - a <= longest or not is_needed(board, a, b) for a, b in ends)

    enough = [
        count
        for count in range(len(marks) + 1)
        if any(will_do(chosen) for chosen in combinations(sorted(marks), count))
    ]
    if carried.is_too_long:
        assert enough == []
    else:
        assert len(carried.cuts) == (0 if board.length <= longest else enough[0])
