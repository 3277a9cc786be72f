"""Thickness as a choice: planed down, resawn into leaves, or glued up from layers.

4/4 dresses to 13/16 in, 5/4 to 1 1/16, 8/4 to 1 3/4, 12/4 to 2 3/4 (NHLA S2S sizes). Kerf
and resaw allowance are 1/8 in each. All boards and prices are invented.
"""

from __future__ import annotations

import json
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction
from itertools import combinations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nesting.alternatives import compare
from nesting.blanks import blank_for, blanks_for, resawn_from
from nesting.columns import kernels_for, relax, rows_for
from nesting.every_way import every_way, outlook
from nesting.fitting import misfits
from nesting.parts import Part, Way
from nesting.plan import COMPLETE, SHORT, Plan
from nesting.planfile import plan_from_json, plan_to_json
from nesting.problem import problem_for
from nesting.project import Project
from nesting.shapes import resaw_thickness
from nesting.solve import SolveParams, solve
from nesting.spares import spares_for
from nesting.thickness import as_planned, way_counts, ways_in, ways_of
from nesting.verify import verify
from nesting.way_search import RULE, mixed
from stock.boards import Board, Thickness
from stock.errors import InputError
from stock.measures import Unit
from stock.shop import default_shop
from stock.yards import Yard
from tests.samples import inch

SHOP = replace(default_shop(Unit.INCH), offcut_value=Fraction(0))
BRIEF = SolveParams(seconds=0.8)


def thick(label: str) -> Thickness:
    above, below = map(int, label.split("/"))
    return Thickness(Fraction(above, below), label)


def board(name: str, label: str, length: float, width: float, price: float, **more: object):
    """A board at the yard; its price is per board foot."""
    return Board(
        name=name, where="Hill", species="oak", thickness=thick(label),
        length=inch(length), width=inch(width), width2=inch(width),
        price=Fraction(price), **more,
    )  # fmt: skip


def part(name: str, qty: int, length: float, width: float, thickness: str, **more: object):
    return Part(
        name=name, qty=qty, length=inch(length), width=inch(width),
        thickness=inch(thickness), species="oak", **more,
    )  # fmt: skip


def project(parts: list[Part], boards: list[Board], **changes: object) -> Project:
    return Project(
        name="thick", shop=replace(SHOP, **changes), parts=tuple(parts),
        boards=tuple(boards), yards=(Yard(name="Hill"), Yard(name="Dale")),
    )  # fmt: skip


def made(plan: Plan) -> set[tuple[int, int, str]]:
    """Leaves and layers of the plan's copies, and the boards that it cuts."""
    ways = way_counts(plan).values()
    boards = ",".join(sorted(cut.board for cut in plan.boards))
    return {(way.leaves, way.layers, boards) for way in ways}


# --- which ways there are -------------------------------------------------------------


def test_wood_for_leaves_loses_an_outer_allowance_less_than_leaves_on_their_own():
    """Two leaves of 3/4: 2 x 3/4 + 1/8 + 1/8 = 1 3/4, just what 8/4 dresses to (NHLA).

    Two times 3/4 + 1/8 and a kerf are 1 7/8; the outer faces are dressed: less 1/8.
    """
    three_quarters = inch("3/4")
    assert resawn_from(2, three_quarters, SHOP) == inch("7/4")
    assert resaw_thickness(2, three_quarters, 8, 8) == inch("15/8")
    assert resawn_from(1, three_quarters, SHOP) == three_quarters  # as without resawing


@pytest.mark.parametrize(
    ("build", "thickness", "dressed", "ways"),
    [
        ("auto", "3/4", ("13/16",), [Way(1, 1)]),
        ("auto", "3/4", ("13/16", "17/16"), [Way(1, 1)]),
        ("auto", "3/4", ("13/16", "7/4"), [Way(1, 1), Way(2, 1)]),
        ("solid", "3/4", ("7/4",), [Way(1, 1), Way(2, 1)]),
        ("panel", "3/4", ("7/4",), [Way(1, 1), Way(2, 1)]),
        ("laminate", "3/4", ("13/16", "7/4"), [Way(1, 2)]),
        # 3 x 3/4 + 2 x 1/4 = 2 3/4; one leaf more would be 3 3/4
        ("auto", "3/4", ("11/4",), [Way(1, 1), Way(3, 1)]),
        ("auto", "3/2", ("13/16", "7/4"), [Way(1, 1), Way(1, 2)]),
        ("solid", "3/2", ("13/16", "7/4"), [Way(1, 1)]),
        ("laminate", "9/4", ("13/16", "7/4"), [Way(1, 2), Way(1, 3)]),
    ],
)
def test_builds_admit_ways(build, thickness, dressed, ways):
    one = part("P", 1, 30, 4, thickness, build=build)
    found = ways_of(one, SHOP, [inch(size) for size in dressed])
    assert list(found) == ways


def test_short_and_tall_pieces_are_not_resawn():
    """11 in and 1 in of crosscut allowance are 12 in; 4 in and 1/4 in are 4 1/4 in."""
    wood = [inch("7/4")]
    assert len(ways_of(part("P", 1, 11, 4, "3/4"), SHOP, wood)) == 2
    assert len(ways_of(part("P", 1, 10, 4, "3/4"), SHOP, wood)) == 1
    low = replace(SHOP, resaw_height=inch("17/4"))
    assert len(ways_of(part("P", 1, 30, 4, "3/4"), low, wood)) == 2
    assert len(ways_of(part("P", 1, 30, 5, "3/4"), low, wood)) == 1
    off = replace(SHOP, resaw_height=0)
    assert len(ways_of(part("P", 1, 30, 14, "3/4", build="panel"), off, wood)) == 1


def test_staves_that_are_resawn_are_no_wider_than_the_saw_is_tall():
    low = replace(SHOP, resaw_height=inch(4))
    seat = part("Seat", 1, 30, 14, "3/4", build="panel")
    assert blank_for(seat, low, (), Way(2)).stave_high == inch(4)


# --- the cheapest way is chosen -------------------------------------------------------

RAILS = part("Rail", 4, 30, 4, "3/4")
LEGS = part("Leg", 4, 30, 2, "3/2")


@pytest.mark.parametrize(
    ("one", "boards", "way"),
    [
        # a board of 66 x 10 in holds 2 x 2 rails; 4/4 at 4.00 against 8/4 at 20.00
        (RAILS, [board("A", "4/4", 66, 10, 4), board("B", "8/4", 66, 5, 20)], (1, 1, "A")),
        # the same rails planed from 5/4 that is nearly given away
        (RAILS, [board("A", "4/4", 66, 10, 9), board("B", "5/4", 66, 10, 1)], (1, 1, "B")),
        # two rails of 8/4 are four leaves, at half the width
        (RAILS, [board("A", "4/4", 66, 10, 9), board("B", "8/4", 66, 5, 8)], (2, 1, "B")),
        # eight layers of 4/4 at 3.00 against four legs of 8/4 at 12.00
        (LEGS, [board("A", "4/4", 66, 10, 3), board("B", "8/4", 66, 5, 12)], (1, 2, "A")),
        # a part of one piece of wood has no layers
        (replace(LEGS, build="solid"),
         [board("A", "4/4", 66, 10, 3), board("B", "8/4", 66, 5, 12)], (1, 1, "B")),
    ],
    ids=["straight", "planed down", "resawn", "layers", "solid"],
)  # fmt: skip
def test_the_cheapest_way_is_chosen(one, boards, way):
    wish = project([one], boards)
    plan = solve(wish, BRIEF)
    assert plan.status == COMPLETE
    assert made(plan) == {way}
    cheapest = min(wish.tariff.cost(wood) for wood in boards if wood.name == way[2])
    assert plan.totals.cost == Decimal(cheapest) / 100
    assert plan.totals.bound <= plan.totals.cost
    assert verify(wish, plan_from_json(plan_to_json(plan), Unit.INCH)) == ()


def test_one_part_is_made_in_two_ways_where_that_is_cheapest():
    """Two rails from the scrap of 4/4, two leaves from the scrap of 8/4; C would do all."""
    boards = [
        board("A", "4/4", 66, 5, 1), board("B", "8/4", 34, 5, 1),
        board("C", "4/4", 66, 10, 9),
    ]  # fmt: skip
    plan = solve(project([RAILS], boards), BRIEF)
    assert made(plan) == {(1, 1, "A,B"), (2, 1, "A,B")}
    assert sorted(way_counts(plan)) == [("Rail", copy) for copy in (1, 2, 3, 4)]


def test_a_match_forbids_the_cheapest_wood_to_a_panel_in_layers():
    """Layers of a matched copy share one board; neither cheap board holds them all."""
    lid = part("Lid", 1, 30, 7, "3/2", build="auto", match="board")
    wide = replace(SHOP, widest_solid=inch(4))
    # two layers of 7 1/2 in net are 15 1/2 in of staves: two boards of 8 1/2 in, or B
    boards = [
        board("A1", "4/4", 34, 8.5, 1), board("A2", "4/4", 34, 8.5, 1),
        board("B", "8/4", 34, 9, 6),
    ]  # fmt: skip
    free = replace(project([replace(lid, match="none")], boards), shop=wide)
    bound = replace(project([lid], boards), shop=wide)
    assert made(solve(free, BRIEF)) == {(1, 2, "A1,A2")}
    assert made(solve(bound, BRIEF)) == {(1, 1, "B")}


def test_a_book_match_opens_the_leaves_of_one_board():
    """30 x 14 in from 31 x 7 1/2 in of 8/4: nothing else is there."""
    door = part("Door", 1, 30, 14, "3/4", build="panel", match="book")
    plan = solve(project([door], [board("B", "8/4", 40, 9, 9)]), BRIEF)
    (panel,) = plan.panels
    leaves = [stave.leaf for stave in panel.staves]
    faces = {stave.leaf: stave.face for stave in panel.staves}
    assert leaves in ([1] * (len(leaves) // 2) + [2] * (len(leaves) // 2), leaves[::-1])
    assert set(faces) == {1, 2}
    assert faces[1] != faces[2]
    assert not any("no leaf" in note for note in plan.notes)


def test_an_odd_leaf_is_left_to_spare():
    plan = solve(project([replace(RAILS, qty=3)], [board("B", "8/4", 66, 5, 9)]), BRIEF)
    (cut,) = plan.boards
    assert [(piece.leaves, len(piece.copies)) for piece in cut.pieces] == [(2, 2), (2, 1)]


def test_layers_of_a_copy_come_from_one_board_where_they_can():
    """Three layers fit a board, so one copy of three has to mix."""
    boards = [board(name, "4/4", 34, 7.5, 1) for name in ("A", "B")]
    plan = solve(project([replace(LEGS, qty=3)], boards), BRIEF)
    homes: dict[int, set[str]] = {}
    for cut in plan.boards:
        for piece in cut.pieces:
            homes.setdefault(piece.copy, set()).add(cut.board)
    assert sorted(len(names) for names in homes.values()) == [1, 1, 2]


def test_what_was_planned_without_resawing_gets_no_dearer():
    """A choice of ways is taken only if it costs less: with none, 36 rails as before."""
    boards = [board(f"A{n}", "4/4", 66, 5 + n % 3, 4) for n in range(12)]
    dear = board("B", "8/4", 66, 9, 90)
    parts = [replace(RAILS, qty=14), part("Slat", 6, 20, 2, "3/4")]
    without = solve(project(parts, boards), SolveParams(steps=300))
    plan = solve(project(parts, [*boards, dear]), SolveParams(steps=300))
    assert plan.totals.cost <= without.totals.cost
    assert set(way_counts(plan).values()) == {Way()}


def test_without_a_second_way_nothing_is_different():
    wish = project([RAILS], [board("A", "4/4", 66, 10, 4)])
    assert not ways_in(wish)
    assert RULE not in solve(wish, BRIEF).rules
    thick_too = project([RAILS], [board("B", "8/4", 66, 10, 4)])
    assert RULE in solve(thick_too, BRIEF).rules


# --- the bound ------------------------------------------------------------------------


def per_board(wood: Board, length: int, width: int) -> int:
    """How many blanks fit a board, all the same: rows and columns a kerf apart."""
    long = (wood.length - 2 * SHOP.end_trim + SHOP.kerf) // (length + SHOP.kerf)
    wide = (wood.width + SHOP.kerf) // (width + SHOP.kerf)
    return long * wide


@settings(deadline=None, max_examples=25)
@given(
    is_thick=st.booleans(),
    copies=st.integers(1, 6),
    woods=st.lists(
        st.tuples(
            st.sampled_from(["4/4", "8/4"]), st.sampled_from([34, 40, 66, 98]),
            st.sampled_from([3, 5, 8]), st.integers(1, 12),
        ),
        min_size=1, max_size=5,
    ),
)  # fmt: skip
def test_no_bound_is_above_what_trying_every_set_of_boards_finds(is_thick, copies, woods):
    """One part of one size: a set of boards makes it exactly if its places are enough.

    A place on 8/4 is worth two leaves of 3/4 in, or one leg of 1 1/2 in; a place on 4/4 is
    worth one leaf, or one of two layers. A crosscut-first grid of equal blanks is the best
    use of a rectangle that is shorter than two of them turned.
    """
    one = replace(LEGS if is_thick else RAILS, qty=copies)
    boards = [board(f"B{n}", *wood) for n, wood in enumerate(woods)]
    wish = project([one], boards)
    length, width = blanks_for(wish)[0].sizes[0]
    best = None
    for count in range(1, len(boards) + 1):
        for some in combinations(boards, count):
            places = dict.fromkeys(("4/4", "8/4"), 0)
            for wood in some:
                places[wood.thickness.label] += per_board(wood, length, width)
            if is_thick:
                makes = places["8/4"] + places["4/4"] // 2
            else:
                makes = 2 * places["8/4"] + places["4/4"]
            cost = sum(wish.tariff.cost(wood) for wood in some)
            if makes >= copies and (best is None or cost < best):
                best = cost
    every = every_way(wish, ways_in(wish))
    known = outlook(every, stop=lambda: False, seconds=5.0)
    if best is not None:
        assert known.bound <= best + 0.01


def test_the_bound_of_all_ways_is_that_of_the_usual_ones_if_there_are_no_others():
    wish = project([RAILS], [board("A", "4/4", 98, 10, 4), board("C", "4/4", 66, 5, 4)])
    problem = problem_for(wish)
    relaxed = relax(problem, kernels_for(problem), rows_for(problem), stop=lambda: False)
    every = every_way(wish, {})
    again = relax(
        every.problem, kernels_for(every.problem), every.rows(), stop=lambda: False
    )
    assert again.bound == pytest.approx(relaxed.bound)


def test_a_short_plan_has_a_bound_for_what_it_makes():
    """Two leaves are made of five; what five would cost is no bound on that."""
    plan = solve(project([replace(RAILS, qty=5)], [board("B", "8/4", 34, 5, 9)]), BRIEF)
    assert plan.status == SHORT
    assert len(plan.short) == 3
    assert Decimal(0) < plan.totals.bound <= plan.totals.cost


# --- what goes by the plan's ways -----------------------------------------------------


def test_a_plan_tells_its_ways_again():
    boards = [board("A", "4/4", 66, 5, 1), board("B", "8/4", 34, 5, 1)]
    wish = project([RAILS], boards)
    again = as_planned(wish, solve(wish, BRIEF))
    assert sorted(again.ways["Rail"]) == [(Way(1), 2), (Way(2), 2)]
    items = problem_for(again).items
    assert sorted((item.units, item.leaves, item.copies) for item in items) == [
        (1, 2, 2), (2, 1, 2),
    ]  # fmt: skip


def test_a_spare_board_must_be_thick_enough_for_the_leaves():
    boards = [
        board("B", "8/4", 66, 5, 8), board("A", "4/4", 66, 10, 90),
        board("C", "8/4", 66, 5, 9),
    ]  # fmt: skip
    wish = project([RAILS], boards)
    plan = solve(wish, BRIEF)
    spares = spares_for(wish, plan)
    assert made(plan) == {(2, 1, "B")}
    assert spares is not None
    assert spares.losses[0].by == "C"


def test_a_yard_with_other_thickness_is_another_choice_of_yards():
    """Dale sells only 4/4, in which a leg has two layers: it can do without Hill."""
    near = board("B", "8/4", 66, 5, 5)
    far = replace(board("A", "4/4", 66, 10, 9), where="Dale")
    wish = project([LEGS], [near, far])
    plan = solve(wish, BRIEF)
    assert made(plan) == {(1, 1, "B")}
    _, found = compare(wish, plan, BRIEF)
    assert found is not None
    without = next(one for one in found.others if one.yard == "Hill")
    assert not without.cannot
    assert without.yards == ("Dale",)


def test_copies_are_rounded_to_whole_pieces():
    shares = {"Rail": {Way(2): 2.8, Way(1): 4.2}}
    assert mixed(replace(RAILS, qty=7), shares) == ((Way(1), 5), (Way(2), 2))
    assert mixed(RAILS, {}) == ()


# --- what can't be made ---------------------------------------------------------------


def test_a_part_that_is_too_thick_says_which_ways_were_looked_at():
    thin = [board("A", "4/4", 66, 10, 4)]
    wish = project([replace(LEGS, build="solid")], thin)
    (first, *_) = misfits(wish, blanks_for(wish))
    assert "planed down: none of it does, and build 'solid' admits no layers" in first.why
    assert not misfits(project([LEGS], thin), blanks_for(project([LEGS], thin)))


def test_a_plan_file_whose_copies_begin_with_another_is_refused():
    plan = solve(project([replace(RAILS, qty=2)], [board("B", "8/4", 34, 5, 9)]), BRIEF)
    text = plan_to_json(plan)
    (cut,) = plan_from_json(text, Unit.INCH).boards
    assert cut.pieces == plan.boards[0].pieces
    content = json.loads(text)
    content["boards"][0]["pieces"][0]["copies"] = [2, 1]
    with pytest.raises(InputError, match="must begin with the piece's own copy"):
        plan_from_json(json.dumps(content), Unit.INCH)
