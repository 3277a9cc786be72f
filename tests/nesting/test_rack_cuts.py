"""Plans and the rack: what is free counts, what is cut comes back as offcuts."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nesting.plan import Plan
from nesting.planfile import plan_from_json, plan_to_json
from nesting.rack_cuts import cutting, offcut_board, released, reservation
from nesting.racked import board_in_unit, stamped, with_rack
from nesting.verify import verify
from stock.boards import Board, Mark, Thickness
from stock.errors import InputError
from stock.measures import Unit
from stock.rack_boards import RackBoard, stamp
from stock.rack_entries import State, Step
from tests.samples import OAK, QUARTERS_4, bench_plan, bench_project, inch

DAY = "2026-03-09"


def on_rack(board: Board, **more) -> RackBoard:
    own = replace(board, where="rack")
    return RackBoard(board=own, since=DAY, **{"unit": Unit.INCH, **more})


def state(*boards: RackBoard) -> State:
    return State(1, len(boards), dict(enumerate(boards, 1)))


R1 = on_rack(bench_project().board("R1"))


def racked_plan() -> Plan:
    """The plan of the low bench, made with its board R1 on the rack."""
    return stamped(bench_plan(), {"R1": stamp(R1)})


def rule_of(error: pytest.ExceptionInfo[InputError]) -> str:
    return " / ".join(fault.rule for fault in error.value.faults)


# --- the project's wood and the rack's ---------------------------------------------------


def bare_project():
    """The low bench without a rack of its own."""
    project = bench_project()
    return replace(project, boards=project.boards[1:])


def test_what_is_free_on_the_rack_is_the_projects_own_wood():
    project = with_rack(bare_project(), [R1])
    assert project.board("R1") == bench_project().board("R1")
    assert verify(project, bench_plan()) == ()


def test_what_is_reserved_for_others_is_left_out_and_for_the_project_itself_is_not():
    assert "R1" not in {
        board.name for board in with_rack(bare_project(), [replace(R1, held="Desk")]).boards
    }
    assert with_rack(bare_project(), [replace(R1, held="Low bench")]).board("R1")


def test_of_two_records_of_one_board_that_of_the_rack_counts():
    knot = Mark(kind="knot", start=0, end=64, low=0, high=64)
    marked = R1.with_board(marks=(knot,))
    project = with_rack(bench_project(), [marked])
    assert [board.marks for board in project.boards if board.name == "R1"] == [(knot,)]
    (warning,) = project.warnings
    assert "the rack's record counts" in str(warning)
    assert with_rack(bench_project(), [R1]).warnings == ()


def test_an_own_board_that_others_hold_on_the_rack_is_left_out_with_a_warning():
    project = with_rack(bench_project(), [replace(R1, held="Desk")])
    assert "R1" not in {board.name for board in project.boards}
    assert [str(warning) for warning in project.warnings] == [
        "the rack, board 'R1': this board is reserved for Desk, so it is left out"
    ]


def test_an_own_board_that_the_rack_used_up_is_left_out_unless_its_size_is_another():
    gone = with_rack(bench_project(), [], [R1])
    assert [board.name for board in gone.boards] == ["Y1", "Y2"]
    assert "no longer on the rack" in str(gone.warnings[0])
    other = with_rack(bench_project(), [], [R1.with_board(length=99)])
    assert other.boards == bench_project().boards


def test_a_board_that_lies_on_the_rack_and_is_on_offer_too_is_refused():
    bought = on_rack(bench_project().board("Y2"))
    with pytest.raises(InputError) as caught:
        with_rack(bench_project(), [bought])
    assert "the table lists it at 'Hill yard'" in rule_of(caught)


def test_the_species_is_spelled_as_the_project_does():
    project = with_rack(bare_project(), [R1.with_board(species="White Oak")])
    assert project.board("R1").species == OAK


def test_prices_of_the_rack_stay_out_of_a_project_that_counts_board_feet():
    """Else all wood without a price would count as free."""
    project = bare_project()
    by_feet = replace(
        project, prices=(), boards=tuple(replace(b, price=None) for b in project.boards)
    )
    racked = with_rack(by_feet, [R1.with_board(price=Fraction(9))])
    assert racked.tariff.by_feet
    assert with_rack(project, [R1.with_board(price=Fraction(9))]).board("R1").price == 9


# --- inches and millimetres --------------------------------------------------------------

boards = st.builds(
    lambda length, width, cut, start, low, kind, price: Board(
        name="B", species=OAK, thickness=QUARTERS_4, length=length, width=width,
        width2=max(64, width - cut), price=price,
        marks=(Mark(kind=kind, start=start, end=start + 50, low=low, high=low + 20),),
    ),
    st.integers(400, 12_000), st.integers(100, 900), st.integers(0, 99),
    st.integers(0, 350), st.integers(0, 40), st.sampled_from(["knot", "figure"]),
    st.sampled_from([None, Fraction(10)]),
)  # fmt: skip


@given(boards, st.sampled_from(list(Unit)))
def test_in_another_unit_no_board_grows_and_no_mark_gets_better(board, unit):
    """1 in is 25.4 mm, and a grid step 1/64 in or 0.1 mm, by definition."""
    other = Unit.MM if unit is Unit.INCH else Unit.INCH
    per = Fraction(254, 64) if unit is Unit.INCH else Fraction(64, 254)
    there = board_in_unit(on_rack(board, unit=unit), other)
    for side in ("length", "width", "width2"):
        assert 0 <= getattr(board, side) * per - getattr(there, side) < 1
    (mark,) = board.marks
    (moved,) = there.marks
    if mark.kind == "knot":
        assert moved.start <= mark.start * per
        assert moved.end >= min(mark.end * per, there.length)
        assert moved.low <= mark.low * per
        assert moved.high >= mark.high * per
    else:
        assert moved.start >= mark.start * per
        assert moved.end <= mark.end * per
    size = Fraction(254, 10) if other is Unit.MM else Fraction(10, 254)
    assert there.thickness.nominal == board.thickness.nominal * size
    assert board_in_unit(on_rack(board, unit=unit), unit) == board


def test_a_price_per_board_foot_is_one_per_cubic_metre():
    """One cubic metre is 423.776 board feet: 10.00 a foot are 4237.76."""
    board = replace(bench_project().board("R1"), price=Fraction(10))
    there = board_in_unit(on_rack(board), Unit.MM)
    assert float(there.price) == pytest.approx(4237.76, abs=0.005)


# --- offcuts -----------------------------------------------------------------------------


def test_an_offcut_keeps_its_wood_and_the_marks_that_lie_on_it_in_its_own_place():
    """Cut at x 20 in, y 2 in, 24 x 3 in: the knot at 30 to 32 across 1 to 4 in is cut."""
    knot = Mark(kind="knot", start=inch(30), end=inch(32), low=inch(1), high=inch(4))
    check = Mark(kind="check", start=0, end=inch(3), low=0, high=inch(6))
    zone = Mark(
        kind="figure", tag="fleck", start=inch(10), end=inch(50), low=0, high=inch(6),
        face="one",
    )  # fmt: skip
    whole = replace(
        R1.with_board(
            marks=(knot, check, zone), flitch="H7", order=3, figure=("ray",), tone=4,
            moisture=8.0, note="warped", photo="r1.png", place="rung 2",
        ),
        held="Low bench",
    )  # fmt: skip
    box = (inch(20), inch(2), inch(24), inch(3))
    one = offcut_board(whole, box, "R1 offcut 1", "Low bench")
    board = one.board
    assert (board.length, board.width, board.width2) == (inch(24), inch(3), inch(3))
    assert board.marks == (
        Mark(kind="knot", start=inch(10), end=inch(12), low=0, high=inch(2)),
        Mark(kind="figure", tag="fleck", start=0, end=inch(24), low=0, high=inch(3),
             face="one"),
    )  # fmt: skip
    assert (board.species, board.thickness) == (OAK, QUARTERS_4)
    assert (board.flitch, board.order, board.figure, board.tone) == ("H7", 3, ("ray",), 4)
    assert (board.moisture, board.grade, board.note, board.photo, board.place) == (
        8.0, None, "", None, None
    )  # fmt: skip
    assert one.source == "offcut of R1, 20 in along and 2 across, cut for Low bench"
    assert (one.since, one.held) == (DAY, None)


@st.composite
def boxes_with_pieces(draw):
    """An offcut's box on a board of 400 x 100 steps, a piece within it, and a mark."""

    def within(low: int, high: int) -> tuple[int, int]:
        start = draw(st.integers(low, high - 1))
        return start, draw(st.integers(start + 1, high))

    box, mark = (within(0, 400), within(0, 100)), (within(0, 400), within(0, 100))
    return box, (within(*box[0]), within(*box[1])), mark


@given(boxes_with_pieces(), st.sampled_from(["knot", "figure"]))
def test_a_piece_of_an_offcut_meets_the_marks_that_it_would_meet_on_the_board(case, kind):
    """Marks move with the wood: what touches or holds a place does so after the cut."""
    ((x, x2), (y, y2)), ((px, px2), (py, py2)), ((mx, mx2), (my, my2)) = case
    mark = Mark(kind=kind, start=mx, end=mx2, low=my, high=my2)
    whole = R1.with_board(length=400, width=100, width2=100, marks=(mark,))
    cut = offcut_board(whole, (x, y, x2 - x, y2 - y), "B", "t")
    there, here = (px, py, px2 - px, py2 - py), (px - x, py - y, px2 - px, py2 - py)
    moved = cut.board.marks
    assert any(one.touches(*here) for one in moved) == mark.touches(*there)
    assert any(one.holds(*here) for one in moved) == mark.holds(*there)
    assert all(one.end <= x2 - x and one.high <= y2 - y for one in moved)


def test_cutting_uses_boards_up_and_books_the_wood_of_their_pieces():
    """R1 is 60 x 6 in; the plan cuts a stave of 49 x 4 5/8 in from it: 226.625 / 144."""
    (step,) = cutting(state(R1), racked_plan(), None, DAY)
    assert step.puts[0] == (1, None)
    assert step.used == Fraction("226.625") / 144
    assert step.came == 0


def test_with_its_project_offcuts_of_boards_that_were_bought_come_too():
    """Y1 gives 41 x 6 in; Y2 14 1/2 x 5 in and 44 3/8 x 2 5/8 in (see the samples)."""
    steps = cutting(state(R1), racked_plan(), bench_project(), DAY)
    come = {
        one.name: (one.board.length, one.board.width, one.source, one.since)
        for step in steps
        for _, one in step.puts
        if one
    }
    sized = {name: found[:2] for name, found in come.items()}
    assert {"Y1.1": (2624, 384), "Y2.1": (928, 320), "Y2.2": (2840, 168)}.items() <= (
        sized.items()
    )
    assert come["Y1.1"][2:] == (
        "offcut of Y1, 50 1/8 in along and 5 1/2 across, cut for Low bench",
        DAY,
    )
    assert sum(step.came for step in steps) == Fraction(23, 3) + Fraction(25, 12)


def test_an_offcut_never_takes_a_name_that_lies_on_the_rack():
    other = on_rack(replace(bench_project().board("R1"), name="y1.1"))
    steps = cutting(state(R1, other), racked_plan(), bench_project(), DAY)
    names = {one.name for step in steps for number, one in step.puts if one and not number}
    assert "Y1 offcut 1" in names
    assert "Y1.1" not in names


def test_a_bought_board_that_was_put_onto_the_rack_is_cut_there():
    bought = on_rack(bench_project().board("Y1"))
    steps = cutting(state(R1, bought), racked_plan(), None, DAY)
    assert {number for step in steps for number, one in step.puts if one is None} == {1, 2}


def test_what_else_was_reserved_for_the_project_is_free_again_once_it_is_cut():
    spare = replace(on_rack(replace(R1.board, name="R2")), held="Low bench")
    steps = cutting(state(R1, spare), racked_plan(), None, DAY)
    assert steps[-1] == Step(puts=((2, replace(spare, held=None)),))


# --- plans that no longer hold -----------------------------------------------------------

CHANGED = {
    "this board is reserved for Desk": replace(R1, held="Desk"),
    "this board is 59 x 6 in now and was planned as 60 x 6 in: plan again":
        R1.with_board(length=inch(59)),
    "marks, figure or kind of this board changed since the plan: plan again":
        R1.with_board(sawing="quarter"),
}  # fmt: skip


@pytest.mark.parametrize("rule", CHANGED)
def test_a_plan_whose_board_changed_since_is_refused_with_the_reason(rule):
    now = state(CHANGED[rule])
    for act in (lambda: reservation(now, racked_plan()),
                lambda: cutting(now, racked_plan(), None, DAY)):  # fmt: skip
        with pytest.raises(InputError) as caught:
            act()
        assert rule_of(caught) == rule


def test_a_plan_whose_board_is_gone_is_refused():
    with pytest.raises(InputError) as caught:
        reservation(state(), racked_plan())
    assert rule_of(caught) == "this board is no longer on the rack"
    with pytest.raises(InputError) as caught:
        reservation(state(), bench_plan())  # not planned with a rack
    assert rule_of(caught) == "none of the plan's boards lies on the rack"


def test_a_reading_or_a_new_place_does_not_spoil_a_plan():
    moved = R1.with_board(moisture=9.0, place="rung 4", note="cupped")
    assert cutting(state(moved), racked_plan(), None, DAY)


def spoiled(**changes) -> Plan:
    """The plan with something else in the first piece of R1."""
    plan = racked_plan()
    boards = tuple(
        replace(cut, pieces=(replace(cut.pieces[0], **changes), *cut.pieces[1:]))
        if cut.board == "R1"
        else cut
        for cut in plan.boards
    )
    return replace(plan, boards=boards)


def test_a_plan_file_whose_pieces_lie_beside_the_board_or_share_wood_is_refused():
    with pytest.raises(InputError) as caught:
        cutting(state(R1), spoiled(x=inch(30)), None, DAY)
    assert "does not lie on the board" in rule_of(caught)
    plan = racked_plan()
    doubled = tuple(
        replace(cut, pieces=(*cut.pieces, replace(cut.pieces[0], name="again")))
        if cut.board == "R1" else cut
        for cut in plan.boards
    )  # fmt: skip
    with pytest.raises(InputError) as caught:
        cutting(state(R1), replace(plan, boards=doubled), None, DAY)
    assert "share wood" in rule_of(caught)
    twice = replace(plan, boards=(*plan.boards, plan.boards[-1]))
    with pytest.raises(InputError) as caught:
        cutting(state(R1), twice, None, DAY)
    assert "cuts this board 2 times" in rule_of(caught)


def test_reserving_another_plan_of_a_project_frees_what_it_no_longer_cuts():
    spare = replace(on_rack(replace(R1.board, name="R2")), held="Low bench")
    steps = reservation(state(R1, spare), racked_plan())
    assert [step.puts for step in steps] == [
        ((1, replace(R1, held="Low bench")),), ((2, replace(spare, held=None)),)
    ]  # fmt: skip
    held = state(replace(R1, held="Low bench"))
    assert [step.puts for step in released(held, "Low bench")] == [((1, R1),)]


def test_a_plan_file_keeps_the_stamps_of_its_boards():
    text = plan_to_json(racked_plan())
    assert {cut.board: cut.stamp for cut in plan_from_json(text, Unit.INCH).boards} == {
        "R1": stamp(R1), "Y1": "", "Y2": ""
    }  # fmt: skip
    assert '"stamp"' not in plan_to_json(bench_plan())


def test_offcuts_of_a_plan_in_the_other_unit_are_no_larger_than_what_was_cut():
    """A rack in millimetres, a plan in inches: 1/64 in is 3.96875 steps of 0.1 mm."""
    metric = RackBoard(
        board=replace(
            bench_project().board("Y1"), where="rack", marks=(), length=24_390, width=2_922,
            width2=2_922, thickness=Thickness(Fraction(254, 10), "4/4"),
        ),
        unit=Unit.MM, since=DAY,
    )  # fmt: skip
    there = board_in_unit(metric, Unit.INCH)
    assert (there.length, there.width) == (6145, 736)
    plan = racked_plan()
    cut = next(replace(cut, length=6145) for cut in plan.boards if cut.board == "Y1")
    (step,) = cutting(state(metric), replace(plan, boards=(cut,)), None, DAY)
    (offcut,) = (one for _, one in step.puts if one)
    assert offcut.unit is Unit.MM
    assert 0 <= 2624 * Fraction(254, 64) - offcut.board.length < 2
    assert 0 <= 384 * Fraction(254, 64) - offcut.board.width < 2
