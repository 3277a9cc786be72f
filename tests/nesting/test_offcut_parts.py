"""Parts from offcuts: placed in what is left over, never bought for, checked like others.

The bench of the samples leaves over, worth at 30 s of 36 per hour = 0.30 a cut:

- Y1: a strip of 41 x 6 in, kept for 7.68, and one of 41 x 2 in beside the rail, waste;
- Y2: an end of 14 1/2 x 5 in, of which 1 in is end trim, kept for 2.11, and a strip of
  44 3/8 x 2 5/8 in, kept for 3.39;
- R1: a strip of 49 x 1 1/4 in and an end of 8 7/8 in between the trims, both waste.
"""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import HealthCheck, given, note, settings
from hypothesis import strategies as st

from nesting.arranged import with_panels_arranged
from nesting.leftovers import SECTION, Leftover
from nesting.offcut_parts import with_offcut_parts
from nesting.parts import Part
from nesting.plan import CutBoard, Piece, Plan
from nesting.planfile import plan_from_json, plan_to_json
from nesting.problem import problem_for
from nesting.project import Project
from nesting.solve import SolveParams, solve
from nesting.verify import verify
from nesting.ways import Wish, ways
from stock.boards import Mark
from tests.samples import (
    OAK,
    bench_plan,
    bench_project,
    crosscut,
    inch,
    offcut,
    rip,
    shelf_plan,
    shelf_project,
)
from tests.strategies import projects


def caul(**changes: object) -> Part:
    """A caul of 12 x 2 x 3/4 in: its blank is 1 in longer and 1/4 in wider."""
    part = Part(
        name="Caul", qty=1, length=inch(12), width=inch(2), thickness=inch("3/4"),
        species=OAK, face="hidden", source="offcut",
    )  # fmt: skip
    return replace(part, **changes)


def bench(*parts: Part, **shop: object) -> Project:
    """The sample bench with parts from offcuts added."""
    old = bench_project()
    changed = replace(old.shop, **shop)
    return replace(old, parts=(*old.parts, *parts), shop=changed)


def planned(*parts: Part, **shop: object) -> Plan:
    """The sample plan with these parts placed; it must be sound."""
    project = bench(*parts, **shop)
    plan = with_offcut_parts(project, bench_plan())
    assert [str(violation) for violation in verify(project, plan)] == []
    return plan


def pieces(plan: Plan, part: str = "Caul") -> dict[str, tuple[str, Piece]]:
    """The pieces of a part by name, each with its board."""
    return {
        piece.name: (cut.board, piece)
        for cut in (*plan.boards, *plan.sheets)
        for piece in cut.pieces
        if piece.part == part
    }


def place(plan: Plan, name: str = "Caul 1") -> tuple[str, int, int, int, int]:
    board, piece = pieces(plan, name.rpartition(" ")[0])[name]
    return (board, piece.x, piece.y, piece.length, piece.width)


def board(plan: Plan, name: str) -> CutBoard:
    return next(cut for cut in plan.boards if cut.board == name)


# --- placed by hand -------------------------------------------------------------------


def test_a_caul_goes_where_the_least_kept_wood_is_lost():
    """Its blank of 13 x 2 1/4 in costs least in the end of Y2.

    In the strip of Y1 2 1/4 in and a kerf are lost of 6 in: 41 x 3 5/8 / 144 x 9.00 x
    50 % = 4.64 are kept of 7.68, 3.04 are lost. In the strip of Y2 nothing wide enough is
    kept, 3.39 are lost. In the end of Y2 13 x 2 5/8 in stay beside the caul, which at
    8.40 x 50 % / 144 are 0.99 (0.9953..), so 2.11 - 0.99 = 1.12 are lost. Two cuts each.
    """
    plan = planned(caul())
    assert place(plan) == ("Y2", inch("91/2"), 0, inch(13), inch("9/4"))
    y2 = board(plan, "Y2")
    # 45 1/2 + 13 = 58 1/2 in; 2 1/4 in over the 13 in of the new section
    assert y2.cuts[-2:] == (crosscut(7, 3744, 0, 320), rip(8, 144, 2912, 3744))
    assert y2.offcuts == (
        offcut("", 0, 0, 56, 320),
        offcut("Y2 offcut 1", 64, 152, 2840, 168, "3.39"),
        offcut("Y2 offcut 2", 2912, 152, 832, 168, "0.99"),
        offcut("", 3752, 0, 88, 320),
    )
    # credit 13.18 - 1.12; two cuts more are 0.60; cost 105.70 + 1.12 + 0.60
    totals = plan.totals
    assert totals.credit == Decimal("12.06")
    assert totals.sawing == Decimal("5.40")
    assert totals.cost == Decimal("107.42")
    assert totals.to_pay == bench_plan().totals.to_pay
    assert plan.status == "complete"


def test_waste_goes_before_wood_that_is_kept():
    """13 x 1 3/4 in fit in the waste of 41 x 2 in beside the rail: nothing is lost.

    Its knot ends 62 in from the butt, so at the far end, 91 1/8 - 13 = 78 1/8 in from the
    butt, one crosscut does.
    """
    plan = planned(caul(width=inch("3/2")))
    assert place(plan) == ("Y1", 5000, 0, inch(13), inch("7/4"))
    assert board(plan, "Y1").cuts[-2:] == (
        rip(8, 112, 3208, 5832),
        crosscut(9, 4992, 0, 112),
    )
    assert plan.totals.credit == bench_plan().totals.credit


def test_a_short_piece_stays_in_its_strip_until_planed():
    """9 x 1 3/4 in, to be planed in 12 in: the strip of 41 in is cut after planing."""
    plan = planned(caul(length=inch(8), width=inch("3/2"), qty=2))
    y1 = board(plan, "Y1")
    assert [cut.after_planing for cut in y1.cuts[-3:]] == [False, True, True]
    assert y1.gangs == (("Caul 1", "Caul 2"),)


def test_wood_of_a_gang_is_only_crosscut_for_more_pieces():
    """What is left of a planed length was planed at its full width and stays that wide."""
    problem = problem_for(bench(caul(length=inch(8), width=inch("3/2"))), "offcut")
    one = next(one for one in problem.bins if one.name == "Y1")
    planed = (inch(70), 0, inch(20), inch(4))
    left = Leftover(inch(75), 0, inch(15), inch(4), stage=SECTION, planed=planed)
    wish = Wish(item=0, sizes=problem.items[0].sizes, shortest=problem.shortest)
    found = list(ways(one, problem.items, problem.kerf, left, wish))
    assert found
    assert {way.box[3] for way in found} == {inch(4)}
    cuts = [cut for way in found for cut in way.cuts]
    assert {(cut.kind, cut.after_planing) for cut in cuts} == {("crosscut", True)}


def test_a_short_piece_is_put_where_the_planer_gets_wood_long_enough():
    """9 x 4 1/4 in: the end of Y2, 13 1/2 x 5 in between the trims, will do for 12 in.

    If the planer asks for 41 in, only the strip of Y1 is long enough.
    """
    low = caul(length=inch(8), width=inch(4))
    assert place(planned(low))[0] == "Y2"
    plan = planned(low, shortest_machined=inch(41))
    assert place(plan)[0] == "Y1"
    (missing,) = planned(replace(low, width=inch(6)), shortest_machined=inch(41)).not_made
    assert (missing.part, missing.copy) == ("Caul", 1)


def test_pieces_lie_beside_marks_that_their_face_forbids():
    """A split over the lower 1 in of Y2's end: of the 4 in above it 2 1/4 in are taken."""
    project = bench(caul())
    split = Mark(kind="split", start=inch(46), end=inch(60), low=0, high=inch(1))
    boards = tuple(
        replace(one, marks=(split,)) if one.name == "Y2" else one for one in project.boards
    )
    project = replace(project, boards=boards)
    y2 = board(bench_plan(), "Y2")
    # the end can't be kept with the split in it; its 2.11 are lost from the sample's credit
    waste = replace(y2.offcuts[0], keep=False, credit=Decimal(0))
    old = bench_plan()
    bare = replace(y2, offcuts=(waste, *y2.offcuts[1:]))
    old = replace(old, boards=(old.boards[0], bare, old.boards[2]))
    plan = with_offcut_parts(project, old)
    assert [str(violation) for violation in verify(project, plan)] == []
    name, x, y, length, width = place(plan)
    assert (name, length, width) == ("Y2", inch(13), inch("9/4"))
    assert y >= inch(1)
    assert not split.touches(x, y, length, width)


@pytest.mark.parametrize(
    "changes",
    [
        {"species": "ash"},
        {"thickness": inch("7/8")},  # 4/4 dresses to 13/16 in
        {"sawing": ("quarter",)},
        {"figure": "fleck"},
        {"length": inch(45)},
        {"width": inch(6), "build": "solid"},
    ],
)
def test_what_no_leftover_serves_is_not_made_and_says_why(changes):
    plan = planned(caul(**changes))
    assert pieces(plan) == {}
    (missing,) = plan.not_made
    assert (missing.part, missing.copy) == ("Caul", 1)
    assert "serves it" in missing.why or "does not hold a blank" in missing.why
    assert plan.status == "complete"
    assert plan.short == ()


def test_the_reason_names_the_blank():
    """45 + 1 in long, 2 1/4 in wide; the strip of Y2 is 44 3/8 in long."""
    (missing,) = planned(caul(length=inch(45))).not_made
    assert missing.why == (
        "what is left over does not hold a blank of 46 x 2 1/4 in beside the rest"
    )


def test_a_wide_caul_is_glued_up_from_leftover_staves():
    """10 + 1/2 in wide: two staves of 5 1/4 + 1/8 in, 13 in long, from the strip of Y1.

    The strip holds one beside the other only along its length: 41 in are 3 x 13 in.
    """
    plan = planned(caul(width=inch(10)))
    staves = pieces(plan)
    assert sorted(staves) == ["Caul 1.1", "Caul 1.2"]
    assert {home for home, _ in staves.values()} == {"Y1"}
    assert {piece.width for _, piece in staves.values()} == {inch("43/8")}
    (panel,) = [panel for panel in plan.panels if panel.part == "Caul"]
    assert panel.net_width == inch("21/2")


def test_sheet_goods_give_parts_from_their_leftovers_too():
    old = shelf_project()
    sheet = old.sheets[0]
    plate = Part(
        name="Template", qty=1, length=inch(8), width=inch(5), thickness=64,
        species=sheet.name, source="offcut",
    )  # fmt: skip
    plate = replace(plate, thickness=shelf_project().part("End").thickness)
    project = replace(old, parts=(*old.parts, plate))
    plan = with_offcut_parts(project, shelf_plan())
    assert [str(violation) for violation in verify(project, plan)] == []
    assert place(plan, "Template 1")[0] == "birch ply 1"


def test_without_parts_from_offcuts_a_plan_stays_as_it_is():
    assert with_offcut_parts(bench_project(), bench_plan()) == bench_plan()


def test_the_largest_part_is_placed_first():
    """Only the strip of Y2, 44 3/8 in, holds a blank of 42 in or of 44 in; it holds one."""
    less = caul(name="Less", length=inch(41))
    plan = planned(less, caul(name="Long", length=inch(43)))
    assert place(plan, "Long 1")[0] == "Y2"
    assert [one.part for one in plan.not_made] == ["Less"]
    assert place(planned(less), "Less 1")[0] == "Y2"


# --- broken by hand -------------------------------------------------------------------


def broken(change: object) -> set[str]:
    """The rules that a plan breaks once the caul on Y2 is changed."""
    project = bench(caul())
    plan = with_offcut_parts(project, bench_plan())
    y2 = board(plan, "Y2")
    assert y2.pieces[-1].name == "Caul 1"
    changed = replace(plan, boards=(plan.boards[0], change(y2), plan.boards[2]))
    return {violation.rule for violation in verify(project, changed)}


def moved(cut: CutBoard, **changes: object) -> CutBoard:
    return replace(cut, pieces=(*cut.pieces[:-1], replace(cut.pieces[-1], **changes)))


def test_a_caul_that_is_one_too_many_is_caught():
    assert "copies" in broken(
        lambda cut: replace(
            cut,
            pieces=(
                *cut.pieces,
                replace(cut.pieces[-1], name="Caul more", y=152),  # where wood is left
            ),
        )
    )


def test_a_caul_without_its_last_cut_is_caught():
    assert broken(lambda cut: replace(cut, cuts=cut.cuts[:-1])) == {
        "pieces", "offcuts", "sums", "total cost",
    }  # fmt: skip


def test_a_caul_over_the_end_trim_is_caught():
    assert broken(lambda cut: moved(cut, x=2945)) == {"end trim"}


def test_a_caul_cut_too_small_is_caught():
    assert "width" in broken(lambda cut: moved(cut, width=143))


def test_an_offcut_kept_where_the_caul_lies_is_caught():
    assert "offcuts" in broken(
        lambda cut: replace(cut, offcuts=(offcut("end", 2912, 0, 832, 320, "1.89"),))
    )


# --- for any project ------------------------------------------------------------------


@st.composite
def with_cauls(draw: st.DrawFn) -> Project:
    """A project in which about half of the parts come from offcuts."""
    project = draw(projects())
    sources = draw(
        st.lists(
            st.sampled_from(["stock", "offcut"]),
            min_size=len(project.parts), max_size=len(project.parts),
        )
    )  # fmt: skip
    parts = tuple(
        replace(part, source=source, length=part.length // 2 if source == "offcut" else
                part.length)
        for part, source in zip(project.parts, sources, strict=True)
    )  # fmt: skip
    return replace(project, parts=parts)


@settings(max_examples=15, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(with_cauls())
def test_parts_from_offcuts_cost_no_more_than_lost_credit_and_their_cuts(project):
    """Against the plan of the same project without them, whatever its unit and prices."""
    stock = tuple(part for part in project.parts if part.source == "stock")
    if not stock:
        return
    before = solve(replace(project, parts=stock), SolveParams(seconds=0.3))
    after = with_panels_arranged(project, with_offcut_parts(project, before))
    note(plan_to_json(after))
    assert [str(violation) for violation in verify(project, after)] == []
    lost = before.totals.credit - after.totals.credit
    cuts = after.totals.sawing - before.totals.sawing
    assert after.totals.cost == before.totals.cost + lost + cuts
    assert after.totals.to_pay == before.totals.to_pay
    assert after.status == before.status
    assert {b.board for b in after.boards} == {b.board for b in before.boards}
    made = {(p.part, p.copy) for b in (*after.boards, *after.sheets) for p in b.pieces}
    missing = [(one.part, one.copy) for one in after.not_made]
    for part in project.parts:
        for copy in range(1, part.copies + 1):
            key = (part.name, copy)
            if part.source == "offcut":
                assert (key in made) + missing.count(key) == 1
    assert plan_from_json(plan_to_json(after), project.unit).not_made == after.not_made
