"""Goes: no more joints than the glue stays open for, every joint once, narrow if it can."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

from hypothesis import given
from hypothesis import strategies as st

from reports.goes import (
    MANY,
    even_split,
    goes_for,
    most_joints,
    parts_for_planer,
    stages,
)
from stock.measures import Unit
from stock.shop import Shop, default_shop
from tests.reports.test_glueups import panel
from tests.samples import inch

SHOP = default_shop(Unit.INCH)


def hasty(joints: int, planer: int = 15) -> Shop:
    """A shop whose glue stays open for so many joints of 20 s."""
    return replace(SHOP, open_time=Fraction(joints * 20, 60), planer_width=inch(planer))


def test_the_open_time_is_shared_by_the_joints():
    assert most_joints(SHOP) == 30  # 10 min at 20 s
    assert most_joints(replace(SHOP, spread_time=Fraction(45))) == 13  # 600 / 45 = 13.3
    assert most_joints(replace(SHOP, spread_time=Fraction(0))) == MANY


def test_a_panel_is_glued_in_one_go_if_the_glue_stays_open():
    top = panel(inch(48), [inch(4)] * 4)
    (go,) = goes_for(top, hasty(3), "Top 1")
    assert (go.name, go.staves, go.joints, go.after) == ("Top 1", (1, 4), 3, ())


def test_no_goes_help_if_not_one_joint_can_be_spread():
    (go,) = goes_for(panel(inch(48), [inch(4)] * 4), hasty(0), "Top 1")
    assert go.joints == 3


def test_halves_first_then_the_joint_between_them():
    # six staves of 4 in are 24 in; three joints a go: 3 + 3 staves, each half 12 in wide
    top = panel(inch(48), [inch(4)] * 6)
    goes = goes_for(top, hasty(3), "Top 1")
    assert [(go.name, go.joints, go.panel.net_width) for go in goes] == [
        ("Top 1, staves 1 to 3", 2, inch(12)),
        ("Top 1, staves 4 to 6", 2, inch(12)),
        ("Top 1", 1, inch(24)),
    ]
    assert goes[2].after == ("Top 1, staves 1 to 3", "Top 1, staves 4 to 6")
    assert [s.net_width for s in goes[2].panel.staves] == [inch(12), inch(12)]


def test_sub_assemblies_pass_the_planer_if_they_can():
    # halves of 12 in are too wide for a planer of 10, thirds of 8 pass
    top = panel(inch(48), [inch(4)] * 6)
    narrow = goes_for(top, hasty(3, planer=10), "Top 1")
    assert [go.panel.net_width for go in narrow[:-1]] == [inch(8)] * 3
    # no runs pass a planer of 3 in: the fewest runs then
    assert len(goes_for(top, hasty(3, planer=3), "Top 1")) == 3


def test_a_single_stave_waits_for_its_neighbours():
    # widths 2, 2, 8 and one joint a go: the two narrow ones first, then the wide one
    goes = goes_for(panel(inch(48), [inch(2), inch(2), inch(8)]), hasty(1), "Top 1")
    assert [go.staves for go in goes] == [(1, 2), (1, 3)]
    assert goes[1].after == ("Top 1, staves 1 to 2",)


def test_many_staves_take_more_than_two_stages():
    # one joint a go: 9 staves -> 5 -> 3 -> 2 -> 1 pieces
    found = stages([64] * 9, 1, inch(15))
    assert [len(spans) for spans in found] == [5, 3, 2, 1]


def test_runs_for_the_planer_are_as_few_as_fit():
    top = panel(inch(60), [inch(3), inch(3), inch(4), inch(4), inch(3)])  # 17 in
    assert parts_for_planer(top, inch(15)) == ((1, 3), (4, 5))  # 10 and 7 in
    assert parts_for_planer(top, inch(17)) == ((1, 5),)
    assert parts_for_planer(top, inch(3)) == ()  # a stave of 4 in passes it nowhere


@given(widths=st.lists(st.integers(1, 400), min_size=1, max_size=9), data=st.data())
def test_no_way_to_part_staves_has_a_narrower_widest_run(widths, data):
    count = data.draw(st.integers(1, len(widths)))
    spans = even_split(tuple(widths), count, len(widths))
    widest = max(sum(widths[a:b]) for a, b in spans)

    def least(start: int, runs: int) -> int:
        if runs == 1:
            return sum(widths[start:])
        return min(
            max(sum(widths[start:end]), least(end, runs - 1))
            for end in range(start + 1, len(widths) - runs + 2)
        )

    assert widest == least(0, count)


@given(
    widths=st.lists(st.integers(64, 640), min_size=2, max_size=25),
    joints=st.integers(1, 6),
    planer=st.integers(3, 20),
)
def test_every_joint_is_glued_once_and_no_go_has_too_many(widths, joints, planer):
    top = panel(inch(48), widths)
    goes = goes_for(top, hasty(joints, planer), "Top 1")
    assert all(1 <= go.joints <= joints for go in goes)
    assert sum(go.joints for go in goes) == len(widths) - 1
    assert goes[-1].staves == (1, len(widths))
    done: set[str] = set()
    for go in goes:
        first, last = go.staves
        assert go.panel.net_width == sum(widths[first - 1 : last])
        assert done.issuperset(go.after)
        done.add(go.name)
    assert len(done) == len(goes)
