"""Widths made to agree: fewer settings of the fence, and nothing is the worse for it."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import HealthCheck, given, note, settings
from hypothesis import strategies as st

import nesting.solve
from nesting.agreeing import with_widths_agreed
from nesting.agreeing_widths import Patience
from nesting.parts import Part
from nesting.plan import CutBoard, PanelPlan, PanelStave, Piece, Plan, RipCount
from nesting.planfile import plan_from_json, plan_to_json
from nesting.project import Project
from nesting.set_ups import fence_settings, rip_settings
from nesting.solve import SolveParams, solve
from nesting.totals import totals_for
from nesting.verify import verify
from stock.boards import Board, Mark
from stock.measures import Unit
from stock.shop import default_shop
from tests.benchmark.generated import Size, project_of
from tests.samples import OAK, QUARTERS_4, crosscut, inch, offcut, rip
from tests.strategies import projects

PATIENCE = Patience(seconds=2.0, work=1.0)
QUICK = SolveParams(seconds=0.6, seed=1)
few = settings(max_examples=10, deadline=None, suppress_health_check=[HealthCheck.too_slow])


# --- a shelf from two boards, worked by hand ------------------------------------------


def shelf() -> Project:
    """A shelf of 40 x 13 in glued up from two boards of the rack, 48 in long.

    Net width needed: 13 + 1/2 = 13 1/2 in, a joint takes 1/8 in of each stave.
    """
    part = Part(
        name="Shelf", qty=1, length=inch(40), width=inch(13), thickness=inch("3/4"),
        species=OAK, build="panel", row=2,
    )  # fmt: skip
    boards = tuple(
        Board(
            name=name, species=OAK, thickness=QUARTERS_4, length=inch(48), width=width,
            width2=width, price=Fraction(8),
        )
        for name, width in (("A", inch("39/4")), ("B", inch(6)))
    )  # fmt: skip
    return Project(name="Shelf", shop=default_shop(Unit.INCH), parts=(part,), boards=boards)


def cut_from(board: str, width: int, *widths: int) -> CutBoard:
    """A board of 48 in, cut to one section of 41 in with strips of these widths.

    Its price at 8.00 a board foot, of which 30 %: A 48 x 9 3/4 / 144 = 3 1/4 board feet,
    7.80; B 2 board feet, 4.80.
    """
    pieces, cuts, y = [], [crosscut(1, 56, 0, width), crosscut(2, 2688, 0, width)], 0
    for wide in widths:
        number = 1 + len(pieces) + 2 * (board == "B")
        pieces.append(
            Piece(
                name=f"Shelf 1.{number}", part="Shelf", copy=1, role="stave",
                x=64, y=y, length=2624, width=wide,
            )
        )  # fmt: skip
        if y + wide < width:  # else the board ends there
            cuts.append(rip(len(cuts) + 1, y + wide, 64, 2688))
        y += wide + 8
    feet = Fraction(48 * width, 144 * 64)
    return CutBoard(
        board=board, where="rack", bought=False, pay=Decimal(0), board_feet=feet,
        cost=Decimal(f"{float(feet * 8 * 3 / 10):.2f}"),
        length=inch(48), width=width, width2=width, pieces=tuple(pieces), cuts=tuple(cuts),
        offcuts=(
            offcut("", 0, 0, 56, width),
            *([offcut("", 64, y, 2624, width - y)] if y < width else []),
            offcut("", 2696, 0, 376, width),
        ),
    )  # fmt: skip


def shelf_plan(a: tuple[int, int], b: int) -> Plan:
    """The plan with these widths of staves: two from A, the third from B."""
    boards = (cut_from("A", inch("39/4"), *a), cut_from("B", inch(6), b))
    staves = tuple(
        PanelStave(piece=p.name, board=cut.board, width=p.width, net_width=p.width - 8)
        for cut in boards
        for p in cut.pieces
    )
    panel = PanelPlan(
        part="Shelf", copy=1, net_width=sum(s.net_width for s in staves), need=864,
        length=2624, staves=staves,
    )  # fmt: skip
    totals = totals_for(shelf(), boards, (), (Decimal(0), "none"), 0.0)
    return Plan(
        project="Shelf", unit="in", status="complete", boards=boards, panels=(panel,),
        totals=totals,
    )  # fmt: skip


def widths(plan: Plan) -> list[int]:
    return [piece.width for cut in plan.boards for piece in cut.pieces]


def test_three_settings_become_one_where_the_panel_lets_them():
    # Rough widths 4 7/8, 4 1/2 and 4 1/2 + 1/16 in are net 4 3/4, 4 3/8, 4 7/16: together
    # 13 9/16, 1/16 more than needed. A holds 9 3/4 - 1/8 of kerf = 9 5/8 in. All three at
    # 4 5/8 are net 4 1/2 each, 13 1/2 in all, and 9 1/4 of A: one setting does.
    before = shelf_plan((inch("39/8"), inch("9/2")), inch("73/16"))
    assert verify(shelf(), before) == ()
    after = with_widths_agreed(shelf(), before, PATIENCE)
    assert widths(after) == [inch("37/8")] * 3
    assert after.rips == RipCount(settings=1, before=3)
    assert after.panels[0].net_width == inch("27/2")
    assert verify(shelf(), after) == ()
    assert after.totals.cost == before.totals.cost == Decimal("12.60")


def test_the_last_strip_of_a_board_that_is_used_up_takes_what_the_others_leave():
    # 5 + 1/8 + 4 5/8 is all of A: the fence is set for its first only, and for B at 4 1/4.
    # The panel has nothing to spare (13 7/8 less 3/8 is 13 1/2), so B stays; A's first
    # comes down to 4 1/4 and its last gets 3/4 wider.
    before = shelf_plan((inch(5), inch("37/8")), inch("17/4"))
    assert verify(shelf(), before) == ()
    after = with_widths_agreed(shelf(), before, PATIENCE)
    assert widths(after) == [inch("17/4"), inch("43/8"), inch("17/4")]
    assert after.rips == RipCount(settings=1, before=2)
    assert verify(shelf(), after) == ()


def test_a_stave_never_gets_narrower_than_the_shop_allows():
    # With staves of 4 11/16 in at least, rough, three equal ones of 4 5/8 are too narrow.
    least = replace(shelf().shop, narrowest_stave=inch("73/16"))
    project = replace(shelf(), shop=least)
    before = shelf_plan((inch("39/8"), inch("75/16")), inch("19/4"))
    after = with_widths_agreed(project, before, PATIENCE)
    assert min(widths(after)) >= inch("75/16")
    assert verify(project, after) == ()


def marked(**place: int) -> Project:
    """The shelf with a knot on board A."""
    project = shelf()
    knot = Mark(kind="knot", start=inch(20), end=inch(21), **place)
    one, other = project.boards
    return replace(project, boards=(replace(one, marks=(knot,)), other))


def test_strips_do_not_grow_into_a_mark_above_them():
    # A's strips 4 3/8 and 4 1/8 end at 8 5/8, B's is 5 3/8: 13 7/8 rough, all of it needed.
    # One setting would be 4 5/8 thrice, up to 9 3/8 of A: not beyond a knot from 9 in on.
    before = shelf_plan((inch("35/8"), inch("33/8")), inch("43/8"))
    assert verify(marked(low=inch("75/8"), high=inch("77/8")), before) == ()
    free = with_widths_agreed(marked(low=inch("75/8"), high=inch("77/8")), before, PATIENCE)
    assert (free.rips.settings, widths(free)) == (1, [inch("37/8")] * 3)
    project = marked(low=inch(9), high=inch("37/4"))
    assert verify(project, before) == ()
    after = with_widths_agreed(project, before, PATIENCE)
    assert verify(project, after) == ()
    assert after.rips.settings > 1
    assert sum(widths(after)[:2]) + inch("1/8") <= inch(9)


def test_strips_that_hold_a_mark_stay_as_they_are():
    sound = replace(shelf().parts[0], face="hidden")
    project = marked(low=inch(1), high=inch(2))
    project = replace(project, parts=(sound,))
    worm = replace(project.boards[0].marks[0], kind="worm")
    boards = (replace(project.boards[0], marks=(worm,)), project.boards[1])
    project = replace(project, boards=boards)
    before = shelf_plan((inch("39/8"), inch("9/2")), inch("73/16"))
    assert verify(project, before) == ()
    after = with_widths_agreed(project, before, PATIENCE)
    assert widths(after)[:2] == widths(before)[:2]


@pytest.mark.parametrize("match", ["book", "slip"])
def test_leaves_that_match_keep_their_widths(match):
    project = shelf()
    project = replace(project, parts=(replace(project.parts[0], match=match),))
    before = shelf_plan((inch("39/8"), inch("9/2")), inch("73/16"))
    after = with_widths_agreed(project, before, PATIENCE)
    assert after == replace(before, rips=RipCount(settings=3, before=3))


def test_widths_agree_with_what_other_parts_ask_for():
    # a strip that is a solid part keeps its width, and staves come to it if they can
    project = shelf()
    rail = Part(
        name="Rail", qty=1, length=inch(40), width=inch("35/8"), thickness=inch("3/4"),
        species=OAK, build="solid", row=3,
    )  # fmt: skip
    board = Board(
        name="C", species=OAK, thickness=QUARTERS_4, length=inch(48), width=inch(6),
        width2=inch(6), price=Fraction(8),
    )  # fmt: skip
    plan = shelf_plan((inch("39/8"), inch("9/2")), inch("73/16"))
    cut = cut_from("B", inch(6), inch("37/8"))
    rails = tuple(replace(p, name="Rail 1", part="Rail", role="solid") for p in cut.pieces)
    boards = (*plan.boards, replace(cut, board="C", pieces=rails))
    both = replace(project, parts=(*project.parts, rail), boards=(*project.boards, board))
    plan = replace(plan, boards=boards)
    plan = replace(plan, totals=totals_for(both, boards, (), (Decimal(0), "none"), 0.0))
    assert verify(both, plan) == ()
    after = with_widths_agreed(both, plan, PATIENCE)
    assert (after.rips, widths(after)) == (RipCount(settings=1, before=4), [296] * 4)


def test_how_often_the_fence_is_set_comes_back_from_the_plan_file():
    before = shelf_plan((inch("39/8"), inch("9/2")), inch("73/16"))
    after = with_widths_agreed(shelf(), before, PATIENCE)
    assert plan_from_json(plan_to_json(after), Unit.INCH).rips == after.rips
    assert plan_from_json(plan_to_json(before), Unit.INCH).rips is None


# --- any plan -------------------------------------------------------------------------


@st.composite
def paneled(draw: st.DrawFn) -> Project:
    """A small project of our own making, half of its parts panels."""
    size = Size(parts=4, panels=4, boards=8, most=2)
    project = project_of(size, draw(st.integers(1, 500)), marks=draw(st.booleans()))
    step = draw(st.sampled_from([inch("1/16"), inch("1/8"), inch("1/32")]))
    return replace(project, shop=replace(project.shop, saw_step=step))


@few
@given(paneled() | projects())
def test_nothing_is_the_worse_for_widths_that_agree(project):
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(nesting.solve, "with_widths_agreed", lambda _, plan, __: plan)
        before = solve(project, QUICK)
    note(plan_to_json(before))
    after = with_widths_agreed(project, before, PATIENCE)
    assert [str(violation) for violation in verify(project, after)] == []
    kerf = project.shop.kerf
    assert fence_settings(after.boards, kerf) <= fence_settings(before.boards, kerf)
    assert after.rips.settings == fence_settings(after.boards, kerf)
    assert after.totals.cost <= before.totals.cost
    assert after.totals.credit >= before.totals.credit
    assert kept(after) >= kept(before)
    for one, other in zip(after.boards, before.boards, strict=True):
        assert len(one.cuts) == len(other.cuts)
        assert [(p.name, p.x, p.length) for p in one.pieces] == [
            (p.name, p.x, p.length) for p in other.pieces
        ]
    for new, old in zip(after.panels, before.panels, strict=True):
        assert old.need <= new.net_width <= old.net_width
        assert [s.piece for s in new.staves] == [s.piece for s in old.staves]
    step = max(1, project.shop.saw_step)
    changed = set(_settings(after, kerf)) - set(_settings(before, kerf))
    assert all(setting % step == 0 for setting in changed)


def kept(plan: Plan) -> int:
    """How many offcuts go back to the rack."""
    return sum(offcut.keep for cut in plan.boards for offcut in cut.offcuts)


def _settings(plan: Plan, kerf: int) -> list[int]:
    return [setting for cut in plan.boards for setting, _ in rip_settings(cut, kerf)]
