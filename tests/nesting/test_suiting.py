"""Plans that suit the eye: sets out of one log or near in tone, panels that match.

All wood here is invented: a set of four doors, boards of one log at a yard, loose boards
of other tones that are cheaper.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction
from functools import cache
from statistics import mean

import pytest

from nesting.arranged import with_panels_arranged
from nesting.parts import Part
from nesting.plan import NOT_ALIKE, ONE_FLITCH, ONE_STEP, Plan
from nesting.problem import pairs_of, problem_for
from nesting.project import Project
from nesting.sets_alike import likeness_in, sets_of
from nesting.solve import SolveParams, solve
from nesting.suiting import alikeness, match_cost
from nesting.verify import verify
from reports.matching import panel_words, set_words
from reports.summary import summary
from stock.boards import Board, Mark
from stock.measures import Unit
from stock.shop import default_shop
from stock.yards import Yard
from tests.samples import OAK, QUARTERS_4, inch

STEPS = SolveParams(steps=300)


def door(**fields: object) -> Part:
    """Four doors of 30 x 14 in: 14 1/2 in net of staves 31 in long, three of them."""
    usual: dict[str, object] = {
        "name": "Door", "qty": 4, "length": inch(30), "width": inch(14),
        "thickness": inch("3/4"), "species": OAK, "build": "panel", "set": "doors",
    }  # fmt: skip
    return Part(**{**usual, **fields})  # type: ignore[arg-type]


def board(name: str, price: str, tone: int | None, **fields: object) -> Board:
    """66 x 10 1/2 in: two sections of two staves of 5 1/8 in; three boards make 4 doors."""
    usual: dict[str, object] = {
        "name": name, "where": "Lane mill", "species": OAK, "thickness": QUARTERS_4,
        "length": inch(66), "width": inch("21/2"), "width2": inch("21/2"),
        "sawing": "plain", "price": Fraction(price), "tone": tone,
    }  # fmt: skip
    return Board(**{**usual, **fields})  # type: ignore[arg-type]


def log(count: int, price: str = "9.00", name: str = "Oak Lane") -> list[Board]:
    """Boards of one log, in the order of sawing."""
    return [
        board(f"{name[0]}{n}", price, 3, flitch=name, order=n) for n in range(1, count + 1)
    ]


def loose(*tones: int | None, price: str = "8.50") -> list[Board]:
    return [board(f"L{n}", price, tone) for n, tone in enumerate(tones, 1)]


def project(boards: list[Board], *parts: Part, **settings: object) -> Project:
    shop = replace(default_shop(Unit.INCH), **settings)
    return Project(
        name="doors", shop=shop, parts=parts or (door(),), boards=tuple(boards),
        yards=(Yard(name="Lane mill"),),
    )  # fmt: skip


def orders(wood: Project, plan: Plan) -> list[list[int]]:
    """Per panel, the places in the order of sawing that its staves come from."""
    return [
        [wood.board(stave.board).order or 0 for stave in panel.staves]
        for panel in plan.panels
    ]


# --- a set of four matching panels ----------------------------------------------------


def test_four_doors_come_out_of_one_flitch_in_the_order_of_sawing():
    """Three loose boards at 8.50 would do; three of the log cost 0.50 a foot more.

    A board is 66 x 10.5 / 144 = 4.8125 board feet: 3 x 4.8125 x 0.50 = 7.22 more, which
    is 6 % of 3 x 4.8125 x 8.50 = 122.72; 10 % are allowed.
    """
    wood = project([*log(4), *loose(2, 4, 5)])
    plan = solve(wood, STEPS)
    (one,) = plan.sets
    assert (one.name, one.likeness, one.source) == ("doors", ONE_FLITCH, "flitch Oak Lane")
    assert Decimal(0) < one.extra_cost <= Decimal("12.27")
    places = orders(wood, plan)
    assert [panel.copy for panel in plan.panels] == [1, 2, 3, 4]
    assert [mean(panel) for panel in places] == sorted(mean(panel) for panel in places)
    used = sorted({place for panel in places for place in panel})
    for panel in places:  # one board, or two with none of the plan between, in order
        assert panel == sorted(panel)
        assert used.index(panel[-1]) - used.index(panel[0]) <= 1
    assert plan.totals.bound <= plan.totals.cost - one.extra_cost
    assert "doors: one flitch: flitch Oak Lane" in summary(wood, plan)


def test_a_flitch_that_is_too_small_falls_back_to_one_step_of_tone_and_says_so():
    """Two boards of the log give 8 of 12 staves; three others are of tones 3 and 4."""
    wood = project([*log(2), *loose(2, 4, 5, 1), board("T", "9.40", 4)])
    plan = solve(wood, STEPS)
    (one,) = plan.sets
    assert one.likeness == ONE_STEP
    assert "one flitch: no such wood is enough" in one.why
    assert set(dict(one.match_cost)) <= {"set flitches", "set tone", "set staves"}
    assert dict(one.match_cost)["set flitches"] > 0
    tones = {wood.board(cut.board).tone for cut in plan.boards}
    assert max(tones) - min(tones) <= 1
    assert f"doors: one step of tone: {one.source}" in summary(wood, plan)


def test_without_a_premium_a_set_costs_nothing_and_the_plan_says_what_it_would():
    wood = project([*log(4, "9.40"), *loose(1, 3, 5)], set_premium=Fraction(0))
    plan = solve(wood, STEPS)
    (one,) = plan.sets
    assert (one.likeness, one.extra_cost) == (NOT_ALIKE, Decimal(0))
    assert "one flitch: the cheapest plan found costs" in one.why
    assert one.why in set_words(one)


def test_a_set_that_is_alike_already_takes_no_search():
    wood = project([*log(4, "8.00"), *loose(2, 4, 5)])
    plan = solve(wood, STEPS)
    assert (plan.sets[0].likeness, plan.sets[0].extra_cost) == (ONE_FLITCH, Decimal(0))


def test_solid_parts_are_sets_too_and_single_pieces_are_none():
    rail = Part(
        name="Rail", qty=2, length=inch(30), width=inch(4), thickness=inch("3/4"),
        species=OAK, build="solid", set="rails",
    )  # fmt: skip
    wood = project(
        loose(3, 3), rail, door(qty=1), replace(rail, name="Stop", source="offcut")
    )
    assert sets_of(wood) == {"rails": ("Rail",)}
    plan = solve(wood, STEPS)
    assert [one.name for one in plan.sets] == ["rails"]


def test_alikeness_is_told_by_the_boards_that_are_cut():
    wood = project([*log(4, "8.00"), *loose(2)])
    plan = solve(wood, STEPS)
    assert likeness_in(wood, plan, ("Door",))[0] == ONE_FLITCH
    assert alikeness(plan) == 2
    pale = tuple(
        replace(one, flitch=None, tone=2 if one.name == plan.boards[0].board else 3)
        for one in wood.boards
    )
    other = replace(wood, boards=pale)
    assert likeness_in(other, plan, ("Door",)) == (ONE_STEP, "tone 2 and 3")
    dark = tuple(replace(one, tone=None) if one.tone == 2 else one for one in pale)
    found, source = likeness_in(replace(wood, boards=dark), plan, ("Door",))
    assert (found, source.endswith("tone 3 and not known")) == (NOT_ALIKE, True)


# --- book and slip --------------------------------------------------------------------


@pytest.mark.parametrize("match", ["book", "slip"])
def test_leaves_are_neighbours_in_the_order_of_sawing(match):
    """Boards of 7 in: a door of 11 1/2 in net may be of both boards of a pair."""
    slim = [replace(one, width=inch(7), width2=inch(7), length=inch(100)) for one in log(5)]
    part = door(qty=4, width=inch(11), match=match, set=None)
    wood = project(slim, part, widest_stave=inch("13/2"))
    plan = solve(wood, STEPS)
    assert plan.status == "complete"
    assert any(len(set(places)) == 2 for places in orders(wood, plan))
    for panel, places in zip(plan.panels, orders(wood, plan), strict=True):
        faces = [stave.face for stave in panel.staves]
        leaves = {stave.board: stave.face for stave in panel.staves}
        assert all(leaves[stave.board] == stave.face for stave in panel.staves)
        assert set(places) <= {1, 2} or set(places) <= {3, 4}
        assert places == sorted(places)
        name = f"Door {panel.copy}: all staves come from one board"
        assert any(name in note for note in plan.notes) == (len(leaves) == 1)
        if len(leaves) == 1:
            continue
        assert (len(set(faces)) == 2) == (match == "book")
        assert len({stave.turned for stave in panel.staves}) == 1


def test_boards_of_a_log_are_paired_as_they_were_sawn():
    """1 with 2; 4 has no neighbour left; 6 with 7; another species is another board."""
    boards = [*log(2), board("O4", "9", 3, flitch="Oak Lane", order=4), *loose(3)]
    boards += [board(f"O{n}", "9", 3, flitch="Oak Lane", order=n) for n in (7, 6)]
    boards.append(board("A5", "9", 3, flitch="Oak Lane", order=5, species="ash"))
    pairs = pairs_of(boards)
    assert {name: pairs.get(name) for name in ("O4", "L1", "A5")} == {
        "O4": None,
        "L1": None,
        "A5": None,
    }
    assert pairs["O1"] == pairs["O2"] != pairs["O6"] == pairs["O7"]
    strangers = [replace(one, order=None) for one in log(3)]
    alone = problem_for(project(strangers, door(match="book")))
    assert {one.log for one in alone.bins} == {"board O1", "board O2", "board O3"}
    plain = problem_for(project(boards, door()))
    assert {one.log for one in plain.bins if one.name[0] == "O"} == {"flitch Oak Lane"}


# --- better figure for a little more --------------------------------------------------


def bench(**settings: object) -> Project:
    """A top of two staves; the wood of one log is a little dearer than two odd boards."""
    top = door(name="Top", qty=1, width=inch(11), set=None)
    short = {"length": inch(36), "width": inch(7), "width2": inch(7)}
    boards = [
        replace(one, **short) for one in [*log(2, "9.20"), *loose(1, 5, price="9.00")]
    ]
    return project(boards, top, **settings)


def test_a_better_match_may_cost_its_share_of_the_figure_premium():
    plan = solve(bench(), STEPS)
    assert {stave.board for stave in plan.panels[0].staves} == {"O1", "O2"}
    assert any("staves of one log each" in note for note in plan.notes)
    cheap = solve(bench(figure_premium=Fraction(0)), STEPS)
    assert {stave.board for stave in cheap.panels[0].staves} == {"L1", "L2"}
    assert cheap.totals.cost < plan.totals.cost
    assert match_cost(plan) < match_cost(cheap)
    assert "points: " in panel_words(plan.panels[0])


# --- the plan's own panels ------------------------------------------------------------


def unarranged(plan: Plan) -> Plan:
    """The plan with staves in the order of its boards, all as sawn."""
    panels = tuple(
        replace(
            panel,
            match_cost=(),
            staves=tuple(
                replace(stave, turned=False, face=None)
                for stave in sorted(panel.staves, key=lambda one: (one.board, one.piece))
            ),
        )
        for panel in plan.panels
    )
    return replace(plan, panels=panels)


def boxes(plan: Plan) -> Counter[tuple[object, ...]]:
    return Counter(
        (cut.board, piece.x, piece.y, piece.length, piece.width, piece.role)
        for cut in plan.boards
        for piece in cut.pieces
    )


@cache
def planned() -> Plan:
    """A plan of doors from boards of five kinds."""
    wood = project([*log(2), *loose(2, 4, 5)], set_premium=Fraction(0))
    return solve(wood, STEPS)


@pytest.mark.parametrize("ring", ["alternate", "same", "any"])
def test_arranging_changes_no_cut_and_no_money(ring):
    wood = project([*log(2), *loose(2, 4, 5)], ring=ring)
    plan = unarranged(planned())
    found = with_panels_arranged(wood, plan, is_steady=True)
    assert verify(wood, found) == ()
    assert boxes(found) == boxes(plan)
    assert found.totals == plan.totals
    assert [cut.cuts for cut in found.boards] == [cut.cuts for cut in plan.boards]
    assert all(panel.match_cost for panel in found.panels)


def test_what_a_part_must_show_stays_where_it_is_asked_for():
    """A back may have the sound knots of R, the door may not: their staves stay apart."""
    knots = tuple(
        Mark(kind="sound knot", start=inch(at), end=inch(at + 1), low=low, high=low + 64)
        for at in (20, 50)
        for low in (inch(2), inch(7))
    )
    boards = [*log(2), board("R", "1.00", 3, where="rack", marks=knots)]
    back = door(name="Back", qty=1, face="second", set=None)
    wood = project(boards, door(qty=1, set=None), back)
    plan = solve(wood, STEPS)
    staves = {panel.part: {one.board for one in panel.staves} for panel in plan.panels}
    assert "R" in staves["Back"]
    assert "R" not in staves["Door"]


def test_a_better_face_that_must_be_up_leaves_the_side_open():
    """Which side of the board its better face is, no table says."""
    stain = Mark(
        kind="stain", start=inch(5), end=inch(60), low=inch(1), high=inch(9), face="one"
    )
    wood = project([board(f"S{n}", "9", 3, marks=(stain,)) for n in range(3)])
    plan = solve(wood, STEPS)
    assert plan.panels
    assert {stave.face for panel in plan.panels for stave in panel.staves} == {None}
