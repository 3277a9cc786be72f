"""Cauls: safe sizes, cut from clear offcuts once, waste first, used batch after batch."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from itertools import combinations

from hypothesis import given
from hypothesis import strategies as st

from nesting.offcut_parts import with_offcut_parts
from nesting.parts import Part
from nesting.plan import Plan
from nesting.project import Project
from reports.cauls import (
    Cauls,
    caul_length,
    caul_pairs,
    caul_width,
    cauls_for,
    shortest_caul,
)
from stock.boards import Thickness
from stock.measures import Unit
from stock.shop import default_shop
from tests.reports.test_glueups import panel
from tests.samples import OAK, bench_plan, bench_project, inch, offcut

SHOP = default_shop(Unit.INCH)


def with_offcuts(*offcuts) -> Plan:
    """The bench's plan, Y1 leaving only these offcuts and the other boards none."""
    first, *rest = bench_plan().boards
    boards = (
        replace(first, offcuts=offcuts),
        *(replace(one, offcuts=()) for one in rest),
    )
    return replace(bench_plan(), boards=boards)


def found(plan: Plan, *batches, project: Project | None = None) -> Cauls:
    return cauls_for(project or bench_project(), plan, batches)


def test_pairs_stand_near_the_ends_and_two_feet_apart_at_most():
    # ceil((61 - 4) / 24) + 1 = 4; 26 in: ceil(22 / 24) + 1 = 2; never fewer than two
    assert caul_pairs(inch(61), Unit.INCH) == 4
    assert caul_pairs(inch(26), Unit.INCH) == 2
    assert caul_pairs(inch(6), Unit.INCH) == 2


def test_a_narrow_panel_gets_cauls_that_stand_over():
    assert caul_length(panel(inch(20), [inch(4)] * 2), SHOP) == inch(12)  # not 8
    assert caul_length(panel(inch(20), [inch(4)] * 5), SHOP) == inch(20)
    low = replace(SHOP, shortest_machined=inch(4))
    assert shortest_caul(low) == inch(12)  # no setting makes it less
    assert shortest_caul(replace(SHOP, shortest_machined=inch(18))) == inch(18)


def test_an_offcut_is_ripped_and_crosscut_into_cauls():
    # Two pairs of 16 in. The offcut of 33 x 4 1/8 in holds (4 1/8 + 1/8) / (2 + 1/8) = 2
    # strips of 2 in, and each of them 16 + 1/8 + 16 = 32 1/8 <= 33 in: four cauls.
    plan = with_offcuts(offcut("", inch(2), inch(1), inch(33), inch("33/8")))
    cauls = found(plan, [panel(inch(24), [inch(4)] * 4)])
    assert cauls.wanted == ()
    assert [(one.box, one.cauls, one.is_ripped) for one in cauls.strips] == [
        ((inch(2), inch(1), inch(33), inch(2)), (inch(16),) * 2, True),
        ((inch(2), inch("25/8"), inch(33), inch(2)), (inch(16),) * 2, True),
    ]


def test_a_narrow_offcut_is_taken_as_it_is():
    # 4 1/16 in hold one strip only: nothing is ripped off
    plan = with_offcuts(offcut("", inch(2), inch(6), inch(80), inch("65/16")))
    cauls = found(plan, [panel(inch(24), [inch(4)] * 4)])
    assert [(one.box[3], one.is_ripped) for one in cauls.strips] == [(inch("65/16"), False)]


def test_too_short_too_narrow_or_unsound_wood_gives_none():
    # Y1 has a knot from 60 to 62 in, 1/2 to 1 3/4 in from its lower edge
    plan = with_offcuts(
        offcut("", inch(2), 0, inch("47/4"), inch(6)),
        offcut("", inch(2), inch(6), inch(40), inch("31/16")),
        offcut("", inch(50), 0, inch(30), inch(3)),
    )
    cauls = found(plan, [panel(inch(24), [inch(5)] * 2)])
    assert cauls.strips == ()
    assert cauls.wanted == ((inch(12), 4),)


def test_a_knot_spoils_the_strip_that_it_lies_in_only():
    # 6 3/8 in hold three strips, at 0, 2 1/8 and 4 1/4 in; the knot ends at 1 3/4 in
    plan = with_offcuts(offcut("", inch(50), 0, inch(18), inch("51/8")))
    cauls = found(plan, [panel(inch(24), [inch(4)] * 4)])
    assert [one.box[1] for one in cauls.strips] == [inch("17/8"), inch("17/4")]
    assert cauls.wanted == ((inch(16), 2),)


def test_the_trimmed_ends_of_a_board_give_none():
    # 12 1/2 in from the butt end, of which 1 in is trimmed off: 11 1/2 are too short
    plan = with_offcuts(offcut("", 0, 0, inch("25/2"), inch(6)))
    assert found(plan, [panel(inch(24), [inch(5)] * 2)]).strips == ()


def test_thin_boards_give_none():
    plan = with_offcuts(offcut("", inch(2), inch(6), inch(80), inch(3)))
    project = bench_project()
    thin = tuple(
        replace(board, thickness=Thickness(Fraction(1, 2))) for board in project.boards
    )
    panels = [panel(inch(24), [inch(4)] * 4)]
    assert found(plan, panels).strips
    assert not found(plan, panels, project=replace(project, boards=thin)).strips


def test_waste_goes_before_offcuts_to_keep():
    waste = offcut("", inch(2), inch(6), inch(55), inch(2))
    kept = offcut("Y1 offcut 1", inch(2), inch(3), inch(60), inch(2), "3.00")
    plan = with_offcuts(kept, waste)
    cauls = found(plan, [panel(inch(24), [inch(4)] * 4)])
    # the waste gives 16, 16, 16 (48 1/4 in), the kept offcut the last one
    assert [(one.name, len(one.cauls)) for one in cauls.strips] == [
        ("", 3),
        ("Y1 offcut 1", 1),
    ]


def test_the_same_cauls_serve_batch_after_batch():
    plan = with_offcuts(offcut("", inch(2), inch(6), inch(80), inch(3)))
    top, lid = panel(inch(24), [inch(4)] * 4), panel(inch(24), [inch(4)] * 3)
    one_by_one = found(plan, [lid], [top], [lid])
    assert sum(len(strip.cauls) for strip in one_by_one.strips) == 4  # 16 in, for all
    assert one_by_one.wanted == ()
    # together they need eight; 80 in hold four of 16 and one of 12 (76 1/2 in)
    together = found(plan, [top, lid])
    assert sum(len(strip.cauls) for strip in together.strips) == 5
    assert together.wanted == ((inch(12), 3),)


def test_cauls_that_are_parts_of_the_project_serve_first():
    caul = Part(
        name="Caul", qty=2, length=inch(15), width=inch(2), thickness=inch("3/4"),
        species=OAK, face="hidden", source="offcut",
    )  # fmt: skip
    old = bench_project()
    project = replace(old, parts=(*old.parts, caul))
    plan = with_offcut_parts(project, bench_plan())
    assert plan.not_made == ()
    cauls = found(plan, [panel(inch(24), [inch(5)] * 3)], project=project)
    assert cauls.made == 2
    assert sum(len(strip.cauls) for strip in cauls.strips) == 2


def test_one_piece_of_wood_needs_no_cauls():
    assert found(bench_plan(), [panel(inch(24), [inch(5)])]) == Cauls(
        strips=(), made=0, wanted=()
    )


@given(
    st.lists(
        st.lists(st.tuples(st.integers(10, 50), st.integers(2, 6)), min_size=1, max_size=3),
        max_size=3,
    )
)
def test_no_wood_is_used_twice_and_every_batch_has_its_cauls(sizes):
    batches = [
        [panel(inch(length), [inch(4)] * staves) for length, staves in batch]
        for batch in sizes
    ]
    plan, project = bench_plan(), bench_project()
    cauls = cauls_for(project, plan, batches)
    kerf, boards = project.shop.kerf, {cut.board: cut for cut in plan.boards}
    for strip in cauls.strips:
        x, y, long, wide = strip.box
        assert sum(strip.cauls) + kerf * (len(strip.cauls) - 1) <= long
        assert min(strip.cauls) >= shortest_caul(project.shop)
        assert wide >= caul_width(Unit.INCH)
        source = boards[strip.board].offcuts[strip.offcut]
        assert source.x <= x
        assert x + long <= source.x + source.length
        assert source.y <= y
        assert y + wide <= source.y + source.width
    for one, other in combinations(cauls.strips, 2):
        if (one.board, one.offcut) == (other.board, other.offcut):
            assert abs(one.box[1] - other.box[1]) >= caul_width(Unit.INCH) + kerf
    lengths = [length for strip in cauls.strips for length in strip.cauls]
    lengths += [length for length, count in cauls.wanted for _ in range(count)]
    for batch in batches:
        needs = sorted(
            caul_length(one, project.shop)
            for one in batch
            for _ in range(2 * caul_pairs(one.length, Unit.INCH))
        )
        best = sorted(lengths, reverse=True)[: len(needs)]
        assert len(best) == len(needs)
        assert all(a >= b for a, b in zip(best, reversed(needs), strict=True))
