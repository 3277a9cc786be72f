"""A spare board: small cases whose every price is worked out on paper."""

from __future__ import annotations

import random
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nesting.parts import Part
from nesting.problem import Item, problem_for
from nesting.project import Project
from nesting.solve import SolveParams, solve
from nesting.spares import spares_for
from nesting.stand_in import Asked, asked_of, cutting_for, serves_as_well
from stock.boards import Board, Mark
from stock.measures import Unit
from stock.shop import default_shop
from stock.yards import Yard
from tests.benchmark.engine import held_in, problem_of
from tests.samples import OAK, QUARTERS_4, bench_plan, bench_project, inch, shelf_project

QUICK = SolveParams(seconds=2.0, gap=0.0)


def board(name: str, size: tuple[int, int], price: str, where: str = "Hill yard") -> Board:
    length, width = size
    return Board(
        name=name, where=where, species=OAK, thickness=QUARTERS_4, length=inch(length),
        width=inch(width), width2=inch(width), price=Fraction(price),
    )  # fmt: skip


LONG, SHORT, LARGE = (50, 6), (30, 4), (100, 6)


def shop_project(*more: Board, order: int = 0) -> Project:
    """A rail and a leg; two boards at Hill yard, 3 for the trip, that just give them.

    A board loses 1 in at both ends. The rail asks for 47 x 6 in: A1, 50 x 6 in, 25/12
    board feet at 4.80 = 10.00. The leg asks for 27 x 4 in: B1, 30 x 4 in, 5/6 board feet at
    4.80 = 4.00. Neither board gives both, nor anything worth keeping.
    """
    solid = {"thickness": inch("3/4"), "species": OAK, "build": "solid"}
    rail = Part(name="Rail", qty=1, length=inch(46), width=inch("23/4"), row=2, **solid)
    leg = Part(name="Leg", qty=1, length=inch(26), width=inch("15/4"), row=3, **solid)
    hill = Yard(name="Hill yard", trip_cost=Fraction(3), smallest_order=Fraction(order))
    far = Yard(name="Far yard", trip_cost=Fraction(20))
    own = (board("A1", LONG, "4.80"), board("B1", SHORT, "4.80"))
    return Project(
        name="Frame", shop=default_shop(Unit.INCH), parts=(rail, leg),
        boards=(*own, *more), yards=(hill, far),
    )  # fmt: skip


# 25/6 board feet at 9.60 = 40.00, 25/12 at 6.00 = 12.50, 5/6 at 6.00 = 5.00
S1, S2, S3 = board("S1", LARGE, "9.60"), board("S2", LONG, "6"), board("S3", SHORT, "6")
# 25/12 at 3.00 = 6.25, and the trip of 20 to a yard that the plan does not visit
F1 = board("F1", LONG, "3", "Far yard")


def spares_of(project: Project):
    plan = solve(project, QUICK)
    assert {cut.board for cut in plan.boards} == {"A1", "B1"}
    found = spares_for(project, plan)
    assert found is not None
    return found


def test_the_board_that_is_dearest_to_make_good_gets_the_spare():
    # A1 is made good for 12.50 by S2 at least, B1 for 5.00 by S3; S2 is 50 x 6 in and
    # gives the leg of 27 x 4 in too
    found = spares_of(shop_project(S1, S2, S3, F1))
    assert [(loss.board, loss.by, loss.extra) for loss in found.losses] == [
        ("A1", "S2", Decimal("12.50")), ("B1", "S3", Decimal(5)),
    ]  # fmt: skip
    assert found.worst == found.losses[0]
    assert found.stands_in == ("A1", "B1")
    assert (found.lost, found.far, found.at_hand) == ((), (), ())


def test_a_board_with_marks_counts_double():
    # S4 makes good B1 for 5/6 x 9.00 = 7.50; twice that is 15.00, more than 12.50 for A1;
    # the knot is within the inch that is trimmed off, so that the plan is the same
    knot = Mark(kind="knot", start=0, end=32, low=0, high=32)
    project = shop_project(S2, board("S4", SHORT, "9"))
    plain = spares_of(project)
    a1, b1, *rest = project.boards
    marked = spares_of(replace(project, boards=(a1, replace(b1, marks=(knot,)), *rest)))
    assert (plain.worst.board, plain.worst.by) == ("A1", "S2")
    assert (marked.worst.board, marked.worst.by) == ("B1", "S4")
    assert marked.worst.hurt[0] == 15
    assert marked.stands_in == ("B1",)


def test_what_nothing_left_could_replace_is_named():
    found = spares_of(shop_project(S3))
    assert found.lost == ("A1",)
    assert (found.worst.board, found.worst.by) == ("B1", "S3")
    assert found.stands_in == ("B1",)
    nothing = spares_of(shop_project())
    assert (nothing.lost, nothing.worst, nothing.stands_in) == (("A1", "B1"), None, ())


def test_a_yard_that_is_visited_comes_before_one_that_asks_less_but_for_a_trip():
    # S1 is 40.00 at the yard of the plan, F1 6.25 and a trip of 20
    found = spares_of(shop_project(S1, F1))
    assert (found.losses[0].by, found.losses[0].extra) == ("S1", 40)
    # without S1: A1 only from Far yard, 26.25 in all, and B1 here for 5.00
    found = spares_of(shop_project(S3, F1))
    assert (found.losses[0].by, found.losses[0].extra) == ("F1", Decimal("26.25"))
    assert found.far == ("A1",)
    assert (found.worst.board, found.worst.by) == ("B1", "S3")
    # nothing here at all: then the one elsewhere, which gives the leg too
    found = spares_of(shop_project(F1))
    assert (found.worst.by, found.worst.where, found.stands_in) == (
        "F1", "Far yard", ("A1", "B1"),
    )  # fmt: skip


def test_a_spare_that_fills_up_a_smallest_order_costs_that_much_less():
    # the order bills 20.00, 6.00 more than 10.00 + 4.00; with S2 it is 26.50
    found = spares_of(shop_project(S2, order=20))
    assert (found.worst.by, found.worst.extra) == ("S2", Decimal("6.50"))


def test_a_board_on_the_rack_stands_in_and_nothing_is_bought_for_it():
    # owned wood is dearer than the yards' here, so that the plan leaves it alone
    project = shop_project(S2, S3, board("R1", SHORT, "9", "rack"))
    project = replace(project, shop=replace(project.shop, rack_value=Fraction(100)))
    found = spares_of(project)
    assert found.at_hand == ("B1",)
    assert (found.worst.board, found.worst.by) == ("A1", "S2")


def test_a_project_without_the_lost_board_is_made_with_its_spare():
    project = shop_project(S1, S2, S3, F1)
    found = spares_of(project)
    for name in found.stands_in:
        left = {"A1", "B1", found.worst.by} - {name}
        boards = tuple(one for one in project.boards if one.name in left)
        assert solve(replace(project, boards=boards), QUICK).status == "complete"


def test_what_a_board_gives_is_pieces_and_net_width_of_panels():
    # Y1 gives the rail and two staves of 5 in net; Y2 four legs; R1 4 1/2 in of the seat
    project, plan = bench_project(), bench_plan()
    problem = problem_for(project)
    bins = {one.name: one for one in problem.bins}
    given = {
        cut.board: {
            (item.part, item.units, item.sizes[0][1])
            for item in asked_of(problem, plan, bins[cut.board], cut).items
        }
        for cut in plan.boards
    }
    assert given["Y1"] == {("Rail", 1, inch("13/4")), ("Seat", 1, inch(10))}
    assert given["Y2"] == {("Leg", 4, inch("9/4"))}
    assert given["R1"] == {("Seat", 1, inch("9/2"))}


def test_a_panel_that_is_wider_than_asked_wants_that_much_less():
    project, plan = bench_project(), bench_plan()
    problem = problem_for(project)
    (seat,) = plan.panels
    wide = replace(plan, panels=(replace(seat, need=seat.net_width - inch(1)),))
    one = next(one for one in problem.bins if one.name == "R1")
    cut = next(cut for cut in plan.boards if cut.board == "R1")
    (item,) = asked_of(problem, wide, one, cut).items
    assert item.sizes[0][1] == inch("7/2")  # 4 1/2 in less 1


def test_staves_bound_to_a_log_come_from_that_log_alone():
    project, plan = bench_project(), bench_plan()
    parts = tuple(
        replace(part, match="flitch") if part.name == "Seat" else part
        for part in project.parts
    )
    project = replace(project, parts=parts)
    problem = problem_for(project)
    one = next(one for one in problem.bins if one.name == "R1")
    cut = next(cut for cut in plan.boards if cut.board == "R1")
    asked = asked_of(problem, plan, one, cut)
    assert asked.logs == {one.log}
    twin = replace(one, name="T1")
    assert serves_as_well(twin, one, asked)
    assert cutting_for(problem, twin, asked) is not None
    stranger = replace(one, name="T2", log="another")
    assert not serves_as_well(stranger, one, asked)
    assert cutting_for(problem, stranger, asked) is None


def test_a_board_of_the_same_size_gives_the_same():
    project, plan = bench_project(), bench_plan()
    y1 = project.board("Y1")
    again = tuple(
        replace(y1, name=name, marks=(), price=Fraction(price), flitch=None)
        for name, price in (("T1", 10), ("T2", 12))
    )
    project = replace(project, boards=(*project.boards, *again))
    found = spares_for(project, plan)
    assert found is not None
    # T1 is 23/3 board feet at 10.00, with 6 % tax 81.27; the order is filled then, which
    # saves 3.71: 77.56
    assert (found.worst.by, found.worst.extra) == ("T1", Decimal("77.56"))
    assert found.stands_in == ("Y1", "Y2")


def test_nothing_is_said_of_short_plans_of_board_feet_nor_once_stopped():
    project = shop_project(S2)
    plan = solve(project, QUICK)
    assert spares_for(project, plan, lambda: True) is None
    assert spares_for(project, replace(plan, status="short")) is None
    feet = replace(project, shop=replace(project.shop, aim="board feet"))
    assert spares_for(feet, plan) is None
    assert spares_for(shelf_project(), replace(bench_plan(), boards=())) is None


SIZES = st.tuples(st.integers(5, 60), st.integers(3, 20), st.integers(1, 3))


@settings(max_examples=80, deadline=None)
@given(sizes=st.lists(SIZES, min_size=1, max_size=4), kerf=st.integers(0, 2))
def test_a_cutting_that_is_claimed_gives_all_that_is_asked(sizes, kerf):
    problem = problem_of([(100, 30, 50)], sizes, kerf)
    (one,) = problem.bins
    asked = Asked(problem.items, tuple(range(len(sizes))), frozenset())
    cutting = cutting_for(problem, one, asked)
    if cutting is None:
        return
    bands = [cut.bands for cut in cutting.cuts]
    assert all(len(some) == 1 for some in bands)  # a clear board has one band a section
    held = held_in(problem, one, [some[0] for some in bands])
    assert all(held[item.index] >= item.units for item in problem.items)


@pytest.mark.parametrize(("width", "is_given"), [(18, True), (17, False)])
def test_staves_of_a_panel_add_up_on_a_board_just_wide_enough(width, is_given):
    # a net width of 14 in staves of 5 to 9 that lose 1 each: two of 8 and a kerf of 2
    panel = Item(
        index=0, part="Top", units=1, sizes=((40, 14),), is_panel=True, low=5, high=9,
        joint=1,
    )  # fmt: skip
    problem = problem_of([(40, width, 50)], [], 2)
    one = replace(problem.bins[0], wanted=frozenset({0}))
    problem = replace(problem, items=(panel,), bins=(one,))
    asked = Asked((panel,), (0,), frozenset())
    assert (cutting_for(problem, one, asked) is not None) == is_given


def test_of_many_bought_boards_the_dearest_are_looked_at(monkeypatch):
    monkeypatch.setattr("nesting.spares.MOST_BOARDS", 1)
    found = spares_of(shop_project(S2, S3))  # A1 is 10.00, B1 4.00
    assert [loss.board for loss in found.losses] == ["A1"]


def test_cuttings_are_tried_the_same_way_every_time():
    project = shop_project(S1, S2, S3, F1)
    plan = solve(project, QUICK)
    random.seed(1)
    first = spares_for(project, plan)
    random.seed(2)
    assert spares_for(project, plan) == first
