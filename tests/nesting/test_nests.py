"""Copies that share a blank: from the part to the plan, its check and its file."""

from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

import pytest

from nesting.drawn import Drawn
from nesting.nests import may_nest, nests_for, ring_of
from nesting.parts import Part, Way
from nesting.planfile import plan_from_json, plan_to_json
from nesting.project import Project
from nesting.solve import SolveParams, solve
from nesting.thickness import ways_in
from nesting.verify import verify
from nesting.way_search import full_nests
from stock.boards import Board, Thickness
from stock.measures import Unit
from stock.shop import default_shop
from stock.yards import Yard
from tests.samples import OAK, inch

SHOP = default_shop(Unit.INCH)
ELL = ((0, 0), (640, 0), (640, 96), (96, 96), (96, 400), (0, 400))


def leg(**changes):
    given = {
        "name": "Leg", "qty": 4, "length": inch(28), "width": inch(2),
        "thickness": inch("3/4"), "species": OAK, "shape": "taper",
        "ends": (inch(2), inch(1)),
    }  # fmt: skip
    return Part(**{**given, **changes})


def bracket(**changes):
    given = {
        "name": "Bracket", "qty": 2, "length": 640, "width": 400, "thickness": inch("3/4"),
        "species": OAK, "shape": "outline", "outline": "bracket.svg", "drawn": Drawn(ELL),
    }  # fmt: skip
    return Part(**{**given, **changes})


def project_with(part, *sizes, **settings):
    """A project of one part and boards (length, width) in inches at 9 per board foot."""
    boards = tuple(
        Board(
            name=f"B{n}", where="yard", species=OAK, length=inch(long), width=inch(wide),
            width2=inch(wide),
            thickness=Thickness(Fraction(1), "4/4"), price=Fraction(9),
        )
        for n, (long, wide) in enumerate(sizes, 1)
    )  # fmt: skip
    return Project(
        name="nests", shop=replace(SHOP, **settings), parts=(part,), boards=boards,
        yards=(Yard(name="yard"),),
    )  # fmt: skip


def planned(project):
    return solve(project, SolveParams(steps=200))


def nested_plan():
    """Four legs; each board is as wide as two that lie head to tail, not side by side."""
    # 2 + 1 + 0.13 + 1/4 = 3.38 in for two nested, 2 (2 + 1/4) + 1/8 = 4.63 in side by side
    project = project_with(leg(), (32, 3.5), (32, 3.5), (32, 3.5), (32, 3.5))
    return project, planned(project)


def test_tapers_and_outlines_may_be_nested_unless_they_need_room_of_their_own():
    assert ring_of(leg()) == ((0, 0), (inch(28), 0), (inch(28), inch(1)), (0, inch(2)))
    assert ring_of(bracket()) == ELL
    assert ring_of(leg(shape="rectangle", ends=None)) is None
    assert may_nest(leg())
    for changes in (
        {"qty": 1}, {"add_length": 1}, {"add_width": 1}, {"end_angle": 5.0},
        {"grain": "width"}, {"build": "panel"}, {"build": "laminate"}, {"match": "board"},
    ):  # fmt: skip
        assert not may_nest(leg(**changes))


def test_a_taper_that_runs_to_a_point_is_a_triangle():
    assert len(ring_of(leg(ends=(0, inch(2))))) == 3


def test_nests_save_wood_and_are_no_wider_than_one_piece_may_be():
    found = nests_for(leg(), SHOP)
    assert [nest.copies for nest in found][:1] == [2]
    for nest in found:
        assert nest.width <= SHOP.widest_solid
    narrow = replace(SHOP, widest_solid=inch(3))
    assert nests_for(leg(), narrow) == ()  # 2 + 1 in and a saw cut is more


def test_a_rectangle_as_an_outline_is_not_nested():
    ring = ((0, 0), (640, 0), (640, 100), (0, 100))
    for nest in nests_for(bracket(drawn=Drawn(ring), width=100, qty=4), SHOP):
        # several in one blank save the allowances of all but one
        assert nest.length * nest.width >= nest.copies * 640 * 100


def test_only_copies_whose_face_is_hidden_lie_face_down():
    for face in ("show", "second"):
        for nest in nests_for(bracket(face=face, qty=4), SHOP):
            assert not any(laid.is_mirrored for laid in nest.places)


def test_a_nest_is_one_of_the_ways_of_a_part():
    project = project_with(leg(), (32, 8))
    ways = ways_in(project)["Leg"]
    assert ways[0] == Way()
    assert Way(nested=2) in ways


def test_what_fills_no_nest_has_blanks_of_its_own():
    assert full_nests({Way(nested=2): 5}) == ((Way(), 1), (Way(nested=2), 4))
    assert full_nests({Way(nested=3): 2, Way(): 1}) == ((Way(), 3),)
    assert full_nests({Way(leaves=2): 3}) == ((Way(leaves=2), 3),)


def test_a_plan_nests_where_that_takes_fewer_boards():
    project, plan = nested_plan()
    assert plan.status == "complete"
    assert len(plan.boards) == 2
    assert not verify(project, plan)
    pieces = [piece for board in plan.boards for piece in board.pieces]
    assert sorted(copy for piece in pieces for copy in piece.copies) == [1, 2, 3, 4]
    assert all(len(piece.nest) == 2 for piece in pieces)
    # two boards of 32 x 3 1/2 in: 0.778 board feet each at 9
    assert plan.totals.bound <= plan.totals.cost == 2 * Decimal("7.00")


def test_a_plan_does_not_nest_where_that_gains_nothing():
    project = project_with(leg(qty=2), (32, 4.75), (32, 2.5), (32, 2.5))
    plan = planned(project)
    # two narrow boards cost 10.00, the wide one 9.50 and holds both either way
    assert plan.status == "complete"
    assert [board.board for board in plan.boards] == ["B1"]
    assert not verify(project, plan)


def test_a_nest_that_no_board_holds_does_no_harm():
    project = project_with(leg(qty=2), (32, 2.5), (32, 2.5))
    plan = planned(project)
    assert plan.status == "complete"
    assert not verify(project, plan)


def test_an_odd_copy_has_a_blank_of_its_own():
    project = project_with(leg(qty=3), (32, 3.5), (32, 2.5), (32, 2.5))
    plan = planned(project)
    assert plan.status == "complete"
    assert not verify(project, plan)
    pieces = [piece for board in plan.boards for piece in board.pieces]
    assert sorted(len(piece.copies) for piece in pieces) == [1, 2]


def test_brackets_are_nested_by_their_outline():
    # two alone: 2 (6.25 + 1/4) in of a board's width, or 2 (10 + 1) in of its length
    project = project_with(bracket(), (16, 7.75), (24, 7.75))
    plan = planned(project)
    assert plan.status == "complete"
    assert not verify(project, plan)
    assert [board.board for board in plan.boards] == ["B1"]


def test_a_plan_file_keeps_its_nests():
    project, plan = nested_plan()
    again = plan_from_json(plan_to_json(plan), Unit.INCH)
    assert [b.pieces for b in again.boards] == [b.pieces for b in plan.boards]
    assert not verify(project, again)


# --- the verifier ---------------------------------------------------------------------


def broken(change, piece_change=None):
    """The nested plan with the places of its first piece changed."""
    project, plan = nested_plan()
    board = plan.boards[0]
    piece = replace(board.pieces[0], nest=change(board.pieces[0].nest))
    if piece_change:
        piece = piece_change(piece)
    boards = (replace(board, pieces=(piece, *board.pieces[1:])), *plan.boards[1:])
    return project, replace(plan, boards=boards)


def moved(nest, **changes):
    return (nest[0], replace(nest[1], **changes))


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (lambda nest: moved(nest, y=nest[1].y - 1), "not a saw cut apart"),
        (lambda nest: moved(nest, turned=not nest[1].turned), "not a saw cut apart"),
        (lambda nest: moved(nest, y=inch(3)), "reaches beyond it"),
        (lambda nest: moved(nest, x=inch(1) + 8), "reaches beyond it"),
        (lambda nest: moved(nest, mirrored=True), "lies face down"),
        (lambda nest: moved(nest, copy=9), "does not hold the copies"),
        (lambda nest: nest[:1], "does not hold the copies"),
        (lambda nest: moved(nest, y=nest[1].y + 12), "rip allowance"),
        (lambda nest: moved(nest, x=nest[1].x + 20), "crosscut allowance"),
    ],
)
def test_a_nest_without_room_is_refused(change, says):
    project, plan = broken(change)
    found = [one for one in verify(project, plan) if one.rule == "nests"]
    assert any(says in one.text for one in found)


def test_only_a_part_with_an_outline_may_hold_a_nest():
    project, plan = nested_plan()
    for changes, says in [
        ({"shape": "rectangle", "ends": None}, "no outline"),
        ({"add_length": 1}, "leave no room"),
    ]:
        (part,) = project.parts
        other = replace(project, parts=(replace(part, **changes),))
        found = [one.text for one in verify(other, plan) if one.rule == "nests"]
        assert any(says in text for text in found)
