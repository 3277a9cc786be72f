"""Choosing yards: planted cases with sums done on paper, and random ones counted out."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from fractions import Fraction
from itertools import product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nesting.alternatives import cannot_make, compare, yards_of
from nesting.parts import Part
from nesting.plan import Shortage
from nesting.problem import problem_for
from nesting.project import Project, Sheet
from nesting.solve import SolveParams, solve
from nesting.verify import verify
from stock.boards import Board
from stock.measures import Unit
from stock.shop import default_shop
from stock.yards import Price, Yard
from tests.samples import OAK, QUARTERS_4, bench_plan, bench_project, inch

QUICK = SolveParams(seconds=2.0, gap=0.0)


def board(name: str, where: str, price: Fraction | None = None) -> Board:
    """A board that holds one rail and nothing worth keeping beside it.

    50 x 6 in less two end trims of 1 in are 48 x 6 in; a rail asks for 46 + 1 in by
    5 3/4 + 1/4 in. It is 50 x 6 / 144 = 25/12 board feet.
    """
    return Board(
        name=name, where=where, species=OAK, thickness=QUARTERS_4, length=inch(50),
        width=inch(6), width2=inch(6), price=price,
    )  # fmt: skip


def rails(count: int, boards: tuple[Board, ...], yards: tuple[Yard, ...]) -> Project:
    """A project of so many rails."""
    rail = Part(
        name="Rail", qty=count, length=inch(46), width=inch("23/4"), thickness=inch("3/4"),
        species=OAK, build="solid", row=2,
    )  # fmt: skip
    shop = default_shop(Unit.INCH)
    return Project(name="Rails", shop=shop, parts=(rail,), boards=boards, yards=yards)


def three_yards(trip: int) -> Project:
    """Two rails; two cheap yards with one board each, and a dear one with two.

    At East the list asks 4.80 a board foot: 25/12 x 4.80 = 10.00. At West the board's own
    4.80 goes over a list of 9.60: 10.00 again. Dear asks 7.20 in its list: 15.00.
    """
    boards = (
        board("E1", "East"), board("W1", "West", Fraction(48, 10)),
        board("D1", "Dear"), board("D2", "Dear"),
    )  # fmt: skip
    yards = (
        Yard(name="East", trip_cost=Fraction(trip)),
        Yard(name="West", trip_cost=Fraction(trip)),
        Yard(name="Dear", trip_cost=Fraction(5)),
    )
    asked = (("East", "4.80"), ("West", "9.60"), ("Dear", "7.20"))
    prices = tuple(
        Price(yard=yard, species=OAK, thickness=QUARTERS_4, price=Fraction(price))
        for yard, price in asked
    )
    return replace(rails(2, boards, yards), prices=prices)


def planned(project: Project):
    """The plan of a project and the comparison, the plan checked."""
    plan, found = compare(project, solve(project, QUICK), QUICK)
    assert verify(project, plan) == ()
    assert found is not None
    return plan, found


def test_two_cheap_yards_lose_to_a_dear_one_if_trips_cost_more():
    # trips of 9: East and West 10 + 10 + 9 + 9 = 38; Dear 15 + 15 + 5 = 35; one board of
    # each of two kinds 10 + 9 + 15 + 5 = 39. The second is East and West, 3 more
    plan, found = planned(three_yards(9))
    assert yards_of(three_yards(9), plan) == ("Dear",)
    assert plan.totals.cost == 35
    assert plan.totals.bound == pytest.approx(Decimal(35), abs=Decimal("0.02"))
    assert found.second is not None
    assert (found.second.cost, set(found.second.yards)) == (38, {"East", "West"})
    assert found.second.bound == pytest.approx(Decimal(38), abs=Decimal("0.02"))
    assert found.is_best
    # whether Dear is left out, or East or West added: each such plan costs 38 at least
    assert [(one.yard, one.is_without, one.cost) for one in found.others] == [
        ("East", False, 38), ("West", False, 38), ("Dear", True, 38),
    ]  # fmt: skip


def test_two_cheap_yards_win_over_a_dear_one_if_trips_cost_little():
    # trips of 4: East and West 10 + 10 + 4 + 4 = 28; Dear 35; East and Dear
    # 10 + 4 + 15 + 5 = 34, as are West and Dear: 6 more
    plan, found = planned(three_yards(4))
    assert yards_of(three_yards(4), plan) == ("East", "West")
    assert plan.totals.cost == 28
    assert plan.totals.bound == pytest.approx(Decimal(28), abs=Decimal("0.02"))
    assert found.second is not None
    assert found.second.cost == 34
    assert "Dear" in found.second.yards
    assert len(found.second.yards) == 2
    assert found.second.bound == pytest.approx(Decimal(34), abs=Decimal("0.02"))
    assert [one.cost for one in found.others] == [34, 34, 34]
    # with the trip to Dear paid East and West are still best, 28: with it 33 at least
    assert found.least == pytest.approx(Decimal(33), abs=Decimal("0.02"))
    assert found.is_best


def test_a_smallest_order_speaks_against_a_yard_and_is_in_the_bound():
    # two rails; Bulk: 10.00 a board with 10 % tax is 11.00, and it bills 40.00 before tax;
    # Dear: 15.00 a board, a trip of 5. Offcuts count nothing, so that no board bought to
    # fill the order and kept is worth anything
    own = Fraction(48, 10)
    boards = (
        *(board(f"B{n}", "Bulk", own) for n in range(3)),
        *(board(f"D{n}", "Dear", Fraction(72, 10)) for n in range(3)),
    )
    bulk = Yard(name="Bulk", smallest_order=Fraction(40), tax=Fraction(10))
    dear = Yard(name="Dear", trip_cost=Fraction(5))
    project = rails(2, boards, (bulk, dear))
    project = replace(project, shop=replace(project.shop, offcut_value=Fraction(0)))
    costs = {
        (b, d): 11 * b + (b > 0) * max(0, 40 - 10 * b) * Fraction(11, 10)
        + 15 * d + (d > 0) * 5
        for b, d in product(range(4), repeat=2)
        if b + d >= 2
    }  # fmt: skip
    assert min(costs.values()) == costs[0, 2] == 35
    assert costs[2, 0] == 44  # 22 for the boards, and 22 that are missing with tax
    plan, found = planned(project)
    assert plan.totals.cost == 35
    assert plan.totals.bound == pytest.approx(Decimal(35), abs=Decimal("0.02"))
    assert found.second is not None
    assert (found.second.cost, found.second.yards) == (44, ("Bulk",))
    assert found.second.bound == pytest.approx(Decimal(44), abs=Decimal("0.02"))


OFFERS = st.lists(
    st.tuples(
        st.integers(1, 3),  # boards
        st.integers(1, 8).map(lambda quarters: 3 * quarters),  # 25/12 x 12/25 x so much
        st.integers(0, 20),  # trip
        st.sampled_from([0, 0, 15, 40]),  # smallest order
    ),
    min_size=2,
    max_size=3,
)


@settings(max_examples=10, deadline=None)
@given(count=st.integers(1, 3), offers=OFFERS)
def test_no_bound_of_a_choice_of_yards_is_above_the_cheapest_purchase_of_that_choice(
    count, offers
):
    names = ("North", "East", "South")[: len(offers)]
    boards = tuple(
        board(f"{name}{n}", name, Fraction(asked * 12, 25))  # `asked` for a whole board
        for name, (stock, asked, _, _) in zip(names, offers, strict=True)
        for n in range(stock)
    )
    yards = tuple(
        Yard(name=name, trip_cost=Fraction(trip), smallest_order=Fraction(order))
        for name, (_, _, trip, order) in zip(names, offers, strict=True)
    )
    project = rails(count, boards, yards)
    every: dict[tuple[str, ...], int] = {}  # least cost by choice of yards
    for bought in product(*(range(stock + 1) for stock, *_ in offers)):
        if sum(bought) != count:
            continue
        used = tuple(name for name, n in zip(names, bought, strict=True) if n)
        cost = sum(
            trip + max(n * asked, order)
            for n, (_, asked, trip, order) in zip(bought, offers, strict=True)
            if n
        )
        every[used] = min(cost, every.get(used, cost))
    first = solve(project, QUICK)
    plan, found = compare(project, first, QUICK)
    if not every:
        assert (plan, found) == (first, None)
        return
    assert plan.totals.bound <= min(every.values()) <= plan.totals.cost <= first.totals.cost
    assert found is not None
    assert found.yards == yards_of(project, plan)
    for one in found.others:
        kind = [
            cost for used, cost in every.items() if (one.yard in used) != one.is_without
        ]
        assert not (one.cannot and kind)
        if kind:
            assert one.bound <= min(kind)
        if one.cost is not None:
            assert one.cost >= every[one.yards] >= min(kind)


def test_a_yard_without_which_nothing_is_made_is_named():
    # only East has two boards: one at West never makes two rails
    own, less = Fraction(48, 10), Fraction(432, 100)
    boards = (board("E1", "East", own), board("E2", "East", own), board("W1", "West", less))
    yards = (Yard(name="East"), Yard(name="West", trip_cost=Fraction(2)))
    _, found = planned(rails(2, boards, yards))
    assert found.yards == ("East",)
    without, other = found.others
    assert (without.yard, without.cannot, without.cost) == ("East", True, None)
    # 10.00 at East, 25/12 x 4.32 = 9.00 at West and a trip of 2: 21
    assert (other.yard, other.cost, other.yards) == ("West", 21, ("East", "West"))


def test_a_closed_yard_sells_nothing_and_still_sets_the_worth_of_owned_wood():
    own = Fraction(48, 10)
    rack = replace(board("R1", "rack"), where="rack")
    ply = Sheet(
        name="ply", where="East", length=inch(48), width=inch(48), thickness=inch("1/2"),
        has_grain=False, qty=1, price=Fraction(9),
    )  # fmt: skip
    project = rails(1, (board("E1", "East", own), rack), (Yard(name="East"),))
    shelf = replace(
        project.parts[0], name="Shelf", species="ply", thickness=inch("1/2"), build="auto"
    )
    project = replace(project, parts=(*project.parts, shelf), sheets=(ply,))
    before = problem_for(project)
    after = problem_for(replace(project, closed=frozenset({"East"})))
    assert [one.name for one in before.bins] == ["E1", "R1", "ply 1"]
    assert [one.name for one in after.bins] == ["R1"]
    # 25/12 board feet at 30 % of 4.80 are 3.00
    assert after.bins[0].cost == before.bins[1].cost == 300
    assert cannot_make(after)  # the shelf has no sheet
    assert not cannot_make(before)


def test_boards_of_too_little_area_can_not_make_everything():
    yards = (Yard(name="East"),)
    enough = rails(2, (board("E1", "East"), board("E2", "East")), yards)
    assert not cannot_make(problem_for(enough))
    # a board is 48 x 6 in, a rail 47 x 6 in: two rails want more than one board
    assert cannot_make(problem_for(replace(enough, boards=enough.boards[:1])))


def test_a_cheaper_plan_that_is_met_is_taken():
    # the plan of a project whose West is closed is East and Dear: 10 + 4 + 15 + 5 = 34
    project = three_yards(4)
    dear = solve(replace(project, closed=frozenset({"West"})), QUICK)
    assert (dear.totals.cost, yards_of(project, dear)) == (34, ("East", "Dear"))
    totals = replace(dear.totals, bound=Decimal(20), gap=0.7)
    plan, found = compare(project, replace(dear, totals=totals), QUICK)
    assert plan.totals.cost == 28
    assert plan.totals.bound == 20  # what was proven for the plan to begin with
    assert verify(project, plan) == ()
    assert found is not None
    assert (found.cost, found.yards) == (28, ("East", "West"))
    assert found.second is not None
    assert found.second.cost == 34


def test_a_plan_that_is_cheaper_for_making_less_from_offcuts_is_not_taken(monkeypatch):
    lost = Shortage(part="Caul", copy=1, why="nothing left over holds it")
    monkeypatch.setattr(
        "nesting.alternatives.solve", lambda *more: replace(solve(*more), not_made=(lost,))
    )
    project = three_yards(4)
    dear = solve(replace(project, closed=frozenset({"West"})), QUICK)
    totals = replace(dear.totals, bound=Decimal(20), gap=0.7)
    plan, found = compare(project, replace(dear, totals=totals), QUICK)
    assert plan.totals.cost == 34
    assert found is not None
    assert found.second is None


def test_nothing_is_compared_once_the_search_is_stopped():
    project = three_yards(4)
    plan = solve(project, QUICK)
    assert compare(project, plan, QUICK, should_stop=lambda: True) == (plan, None)
    asked = iter([False, False, *[True] * 1000])
    kept, found = compare(project, plan, QUICK, should_stop=lambda: next(asked))
    assert found is None
    assert kept.totals.cost == plan.totals.cost


def test_nothing_is_compared_where_there_is_no_choice():
    assert compare(bench_project(), bench_plan(), QUICK) == (bench_plan(), None)  # one yard
    project = three_yards(4)
    feet = replace(project, shop=replace(project.shop, aim="board feet"))
    plan = solve(feet, QUICK)
    assert compare(feet, plan, QUICK) == (plan, None)
    short = solve(replace(project, boards=project.boards[:1]), QUICK)
    assert short.status == "short"
    assert compare(project, short, QUICK) == (short, None)
    owned = replace(project, boards=(*project.boards, *(board(n, "rack") for n in "AB")))
    plan = solve(owned, QUICK)
    assert yards_of(owned, plan) == ()
    assert compare(owned, plan, QUICK) == (plan, None)


def test_what_is_compared_is_told_as_a_phase_of_the_plan():
    told = []
    project = three_yards(9)
    plan = solve(project, QUICK)
    plan, _ = compare(project, plan, QUICK, told.append)
    phases = list(dict.fromkeys(one.phase for one in told))
    assert phases == [
        f"comparing: {one}" for one in ("with East", "with West", "without Dear")
    ]
    assert {one.cost for one in told} == {plan.totals.cost}
    assert [one.seconds for one in told] == sorted(one.seconds for one in told)


def test_by_steps_the_same_is_found_again():
    params = SolveParams(steps=200, gap=0.0)
    project = three_yards(9)
    first, again = (compare(project, solve(project, params), params) for _ in range(2))
    assert first[1] == again[1]
    assert first[0].boards == again[0].boards
