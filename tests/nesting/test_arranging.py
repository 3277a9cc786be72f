"""Arranging staves: against all orders and ways to lie, and never worse than greedy."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import combinations, pairwise, permutations, product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nesting.arrange import Effort, arrange
from nesting.arranging import (
    BARK,
    HEART,
    POINT,
    Demand,
    Placed,
    Stave,
    Taste,
    may_hold,
    ways_to_lie,
)
from nesting.arranging_costs import (
    edges_ok,
    joint_ok,
    joint_terms,
    mix_terms,
    order_terms,
    panel_terms,
    set_terms,
)
from nesting.arranging_tables import BARRED, Tables
from tests.benchmark.matching import instance

INCH = 64
TASTE = Taste(inch=INCH, joint_from_edge=INCH, edge_stave=3 * INCH)
QUICK = Effort(seconds=20, rounds=12, idle=6)


def stave(name: str, **fields: object) -> Stave:
    """A stave 4 in wide when jointed, 30 in long, of plain wood from a board of its own."""
    usual: dict[str, object] = {
        "name": name, "board": name, "length": 30 * INCH, "net": 4 * INCH,
        "sawing": "plain", "tone": 3, "serves": frozenset({"Door"}),
    }  # fmt: skip
    fields = {**usual, **fields}
    return Stave(width=int(str(fields["net"])) + 8, **fields)  # type: ignore[arg-type]


def door(**fields: object) -> Demand:
    """A door of two staves or so: 7 in net."""
    usual: dict[str, object] = {
        "name": "Door 1", "part": "Door", "need": 7 * INCH, "finished": 7 * INCH - 32,
        "high": 7 * INCH,
    }  # fmt: skip
    return Demand(**{**usual, **fields})  # type: ignore[arg-type]


# --- against every order and every way to lie -----------------------------------------


def every_panel(demand: Demand, staves: Sequence[Stave], spare: bool) -> Iterator[
    tuple[frozenset[int], int]
]:  # fmt: skip
    """Every choice of staves that makes a panel, and the least it counts."""
    for count in range(1, len(staves) + 1):
        for chosen in combinations(range(len(staves)), count):
            own = [staves[s] for s in chosen]
            if not may_hold(demand, own, spare=spare):
                continue
            costs = [
                sum(terms.values())
                for order in permutations(own)
                for lain in product(*(ways_to_lie(one, demand) for one in order))
                if (terms := panel_terms(demand, lain, TASTE)) is not None
            ]
            if costs:
                yield frozenset(chosen), min(costs)


def least(demands: Sequence[Demand], staves: Sequence[Stave], uses_all: bool) -> int | None:
    """What the best arrangement counts, by trying all of them."""
    lists = [list(every_panel(one, staves, uses_all)) for one in demands]
    best = None
    for panels in product(*lists):
        used = [s for mix, _ in panels for s in mix]
        if len(set(used)) < len(used) or (uses_all and len(used) < len(staves)):
            continue
        cost = sum(cost for _, cost in panels)
        for name in {one.set for one in demands if one.set}:
            mates = [
                [staves[s] for s in mix]
                for one, (mix, _) in zip(demands, panels, strict=True)
                if one.set == name
            ]
            cost += sum(set_terms(mates, TASTE).values())
        best = cost if best is None else min(best, cost)
    return best


logs = st.sampled_from(["", "oak log", "ash log"])
boards = st.builds(
    lambda log, order, sawing, tone, figure: {
        "log": log, "order": order, "sawing": sawing, "tone": tone, "figure": figure
    },
    logs, st.none() | st.integers(1, 3),
    st.sampled_from(["plain", "rift", "quarter", None]),
    st.none() | st.integers(1, 5), st.sampled_from([(), ("fleck",)]),
)  # fmt: skip


@st.composite
def woods(draw: st.DrawFn, least_staves: int, most: int) -> tuple[Stave, ...]:
    """Some staves of two or three boards."""
    kinds = draw(st.lists(boards, min_size=2, max_size=3))
    found = []
    for number in range(draw(st.integers(least_staves, most))):
        home = draw(st.integers(0, len(kinds) - 1))
        net = draw(st.integers(5, 14)) * INCH // 2
        edge = st.tuples(st.integers(0, 30 * INCH), st.sampled_from(["low", "high"]))
        found.append(
            stave(
                f"s{number}", board=f"b{home}", net=net, y=draw(st.integers(0, 3)) * 264,
                knots=tuple(draw(st.lists(edge, max_size=1))),
                up=draw(st.sampled_from([None, None, BARK, HEART])),
                is_blind=draw(st.booleans()), **kinds[home],
            )
        )  # fmt: skip
    return tuple(found)


wishes = st.builds(
    lambda match, ring, face, sawing, figure: {
        "match": match, "ring": ring, "face": face, "sawing": sawing, "figure": figure
    },
    st.sampled_from(["none", "none", "board", "flitch", "book", "slip"]),
    st.sampled_from(["alternate", "same", "any"]),
    st.sampled_from(["show", "second", "hidden"]),
    st.sampled_from([(), ("quarter", "rift")]), st.sampled_from([None, "fleck"]),
)  # fmt: skip


@settings(deadline=None, max_examples=60)
@given(
    wood=woods(3, 6),
    wish=st.lists(wishes, min_size=2, max_size=2),
    is_alike=st.booleans(),
    of_set=st.booleans(),
)
def test_a_proven_arrangement_is_the_best_of_all_orders_and_ways(
    wood, wish, is_alike, of_set
):
    name = "doors" if of_set else None
    demands = [
        door(name=f"Door {at}", set=name, **wish[0 if is_alike else at]) for at in (0, 1)
    ]
    found = arrange(demands, wood, TASTE, effort=QUICK)
    best = least(demands, wood, uses_all=False)
    if best is None:
        assert None in found.panels
    else:
        assert (found.cost, found.is_proven) == (best, True)


@settings(deadline=None, max_examples=40)
@given(wood=woods(4, 5), wish=wishes, cut=st.integers(1, 3))
def test_a_layout_that_must_use_all_staves_is_proven_too(wood, wish, cut):
    """Every stave stays in one of the two panels, however many there are to spare."""
    demands = [door(name=f"Door {at}", set="doors", **wish) for at in (0, 1)]
    layout = (range(cut), range(cut, len(wood)))
    whole = all(
        any(
            panel_terms(one, lain, TASTE) is not None
            for order in permutations(wood[s] for s in part)
            for lain in product(*(ways_to_lie(each, one) for each in order))
        )
        and may_hold(one, [wood[s] for s in part], spare=True)
        for one, part in zip(demands, layout, strict=True)
    )
    if not whole:
        return
    found = arrange(demands, wood, TASTE, given=layout, effort=QUICK)
    used = sorted(one.stave.name for panel in found.panels for one in panel or ())
    assert used == sorted(one.name for one in wood)
    assert found.cost <= found.first
    assert (found.cost, found.is_proven) == (least(demands, wood, uses_all=True), True)


# --- larger ---------------------------------------------------------------------------


@pytest.mark.parametrize("size", [(2, 3, 18), (4, 3, 18), (4, 4, 33), (6, 4, 40)])
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_it_is_never_worse_than_greedy(size, seed):
    demands, wood = instance(*size, seed)
    found = arrange(demands, wood, TASTE, effort=replace(QUICK, mixes=3000))
    assert found.first is not None
    assert found.cost <= found.first
    names = [one.stave.name for panel in found.panels for one in panel or ()]
    assert len(names) == len(set(names))
    for demand, panel in zip(demands, found.panels, strict=True):
        assert may_hold(demand, [one.stave for one in panel])


def test_what_is_not_proven_is_not_called_so():
    demands, wood = instance(4, 4, 33, 1)
    found = arrange(demands, wood, TASTE, effort=replace(QUICK, mixes=100))
    assert not found.is_proven


def test_same_staves_and_seed_same_arrangement():
    demands, wood = instance(4, 3, 18, 2)
    first, again = (arrange(demands, wood, TASTE, effort=QUICK) for _ in range(2))
    assert first == again


def test_it_can_be_stopped_and_has_the_layout_it_started_from():
    demands, wood = instance(4, 4, 33, 1)
    found = arrange(demands, wood, TASTE, effort=QUICK, should_stop=lambda: True)
    assert found.cost <= found.first


def test_a_layout_that_breaks_a_rule_is_kept_as_it_is():
    """Two staves of 4 in for a door of 9 in net: nothing else can be made of them."""
    wood = (stave("a"), stave("b"))
    found = arrange([door(need=9 * INCH)], wood, TASTE, given=[(0, 1)], effort=QUICK)
    assert {one.stave.name for one in found.panels[0]} == {"a", "b"}
    assert (found.first, found.is_proven) == (None, False)


@settings(deadline=None, max_examples=60)
@given(wood=woods(2, 4), wish=wishes)
def test_arrays_and_words_count_alike(wood, wish):
    demand = door(**wish)
    tables = Tables(demand, wood, TASTE)
    cost = int(tables.costs(np.arange(len(wood))[None, :])[0])
    costs = [
        sum(terms.values())
        for order in permutations(wood)
        for lain in product(*(ways_to_lie(one, demand) for one in order))
        if (terms := panel_terms(demand, lain, TASTE)) is not None
    ]
    assert cost == min(costs) if costs else cost >= BARRED
    if costs:
        placed = tables.best(range(len(wood)))[1]
        assert sum(panel_terms(demand, placed, TASTE).values()) == cost


def test_a_long_row_is_improved_stave_by_stave():
    """Eight staves of tones 1 to 4: from light to dark they take 3 steps."""
    wood = [stave(f"s{n}", tone=1 + n % 4, sawing="quarter") for n in range(8)]
    _, placed = Tables(door(need=30 * INCH), wood, TASTE).best(range(8))
    tones = [one.stave.tone for one in placed]
    assert sum(abs(a - b) for a, b in pairwise(tones)) == 3


@pytest.mark.parametrize("match", ["none", "book"])
def test_a_long_row_keeps_its_rules_wherever_it_starts_from(match):
    """Two boards by turns, and only the 4th and 5th of nine are wide enough outside."""
    wood = [
        stave(
            f"s{n}", board=f"b{n % 2}", log="L", order=1 + n % 2,
            net=(4 if n in (3, 4) else 2) * INCH,
        )
        for n in range(9)
    ]  # fmt: skip
    demand = door(need=20 * INCH, finished=20 * INCH, match=match)
    cost, placed = Tables(demand, wood, TASTE).best(range(9))
    assert sum(panel_terms(demand, placed, TASTE).values()) == cost


# --- what counts ----------------------------------------------------------------------


def joint(one: Placed, other: Placed, **wish: object) -> dict[str, int]:
    terms = joint_terms(door(**wish), one, other, TASTE)
    return {name: points // POINT for name, points in terms.items() if points}


def test_a_joint_counts_kinship_and_tone():
    """Strangers 30, one log 14 + 2 a step, one board 5; a step of tone 6 (our choice)."""
    a = Placed(stave("a", log="L", order=2, sawing="quarter"))
    b = Placed(stave("b", log="L", order=5, sawing="quarter", tone=4))
    assert joint(a, b) == {"joints": 14 + 2 * 3 + 6}
    assert joint(a, Placed(replace(b.stave, log=""))) == {"joints": 30 + 6}
    assert joint(a, Placed(replace(b.stave, board="a"))) == {"joints": 5 + 6}
    assert joint(a, Placed(replace(b.stave, tone=None))) == {"joints": 20}
    unknown = Placed(replace(b.stave, order=None, tone=3))
    assert joint(a, unknown) == {"joints": 14 + 2 * 3}


def test_neighbours_on_the_board_count_nothing_if_the_sawn_edges_meet():
    """On the drawing y goes up and panels are listed from the top: the higher one first."""
    low = stave("low", board="B", sawing="quarter", y=0)
    high = stave("high", board="B", sawing="quarter", y=264 + 8)
    assert joint(Placed(high), Placed(low)) == {}
    assert joint(Placed(low), Placed(high)) == {"joints": 5}
    assert joint(Placed(low, turned=True), Placed(high, turned=True)) == {}
    assert joint(Placed(high, turned=True), Placed(low)) == {"joints": 5, "planing": 1}


def test_rings_follow_the_habit_where_they_lie_flat():
    flat = stave("a"), stave("b")
    up, down = Placed(flat[0], face=BARK), Placed(flat[1], turned=True, face=HEART)
    assert "rings" not in joint(up, down)
    assert joint(up, down, ring="same")["rings"] == 8
    assert joint(up, replace(down, face=BARK))["rings"] == 8
    quarter = Placed(stave("c", sawing="quarter"), face=BARK)
    assert "rings" not in joint(up, quarter)


def test_a_stave_turned_over_is_turned_end_for_end_to_plane_the_same_way():
    one, other = Placed(stave("a"), face=BARK), Placed(stave("b"), face=HEART)
    assert joint(one, other)["planing"] == 1
    assert "planing" not in joint(one, replace(other, turned=True))


def test_knots_beside_each_other_at_a_joint_count():
    """Both 10 in from the left end; turned end for end the second is 20 in from it."""
    one = stave("a", sawing="rift", knots=((10 * INCH, "low"),))
    other = stave("b", sawing="rift", knots=((11 * INCH, "high"), (20 * INCH, "low")))
    assert joint(Placed(one), Placed(other))["knots"] == 12
    assert joint(Placed(one), Placed(other, turned=True))["knots"] == 12
    clear = replace(other, knots=((11 * INCH, "low"),))
    assert "knots" not in joint(Placed(one), Placed(clear))


@pytest.mark.parametrize(
    ("match", "faces", "orders", "turned", "allowed"),
    [
        ("book", (BARK, HEART), (3, 4), (False, False), True),
        ("book", (BARK, BARK), (3, 4), (False, False), False),
        ("book", (BARK, HEART), (3, 5), (False, False), False),
        ("book", (BARK, HEART), (3, 4), (False, True), False),
        ("book", (BARK, HEART), (None, 4), (False, False), False),
        ("slip", (BARK, BARK), (3, 4), (True, True), True),
        ("slip", (BARK, HEART), (3, 4), (False, False), False),
        ("flitch", (BARK, BARK), (3, 9), (False, True), True),
    ],
)
def test_leaves_of_a_book_are_opened_and_those_of_a_slip_pushed_aside(
    match, faces, orders, turned, allowed
):
    one, other = (
        Placed(stave(f"s{at}", log="L", order=orders[at]), turned[at], faces[at])
        for at in (0, 1)
    )
    assert joint_ok(door(match=match), one, other) == allowed


def test_a_narrow_stave_goes_inside_if_two_are_wide_enough_for_the_edges():
    """The setting asks for 3 in at the edges; no order of two narrow staves has that."""
    wide, slim = 3 * INCH, 5 * INCH // 2
    assert edges_ok(door(), (wide, slim, wide), TASTE)
    assert not edges_ok(door(), (slim, wide, wide), TASTE)
    assert edges_ok(door(), (slim, wide, slim), TASTE)  # no order of these keeps 3 in
    assert order_terms(door(), (slim, wide, slim), TASTE)["edges"] == 2 * 15 * POINT
    assert order_terms(door(), (wide, slim, wide), TASTE) == {"widths": 0, "edges": 0}
    assert order_terms(door(), (wide, slim), TASTE)["widths"] == POINT  # 1/2 in at 2


def test_a_joint_keeps_its_distance_from_the_finished_edge():
    """A blank of 9 in for 6 1/2 in loses 1 1/4 in a side: outer staves have 2 1/4 in."""
    taste = replace(TASTE, edge_stave=0)
    wide, slim = 7 * INCH // 2, 2 * INCH
    assert not edges_ok(door(), (slim, wide, wide), taste)
    assert edges_ok(door(), (wide, slim, wide), taste)
    assert edges_ok(door(), (wide, 9 * INCH // 4, 13 * INCH // 4), taste)


def test_a_mix_counts_boards_logs_tone_and_what_is_missing():
    """40 a board, 25 a log, 10 a step of tone, 30 without the figure, 15 a sawing."""
    mix = [stave("a", log="L"), stave("b", log="L", tone=5), stave("c", sawing="rift")]
    terms = mix_terms(door(figure="fleck", sawing=("rift",)), mix, TASTE)
    assert {name: points // POINT for name, points in terms.items()} == {
        "boards": 80, "flitches": 25, "tone": 20, "sawing": 15 * (1 + 2), "figure": 90,
        "best faces": 9 - 1, "trimmed": 3 * (12 - 7), "leaves": 0,
    }  # fmt: skip
    hidden = mix_terms(door(face="hidden", match="slip"), [mix[0]] * 2, TASTE)
    assert (hidden["best faces"], hidden["leaves"]) == (0, 60 * POINT)


def test_a_set_counts_logs_tone_and_how_many_staves():
    panels = [[stave("a", tone=2), stave("b", tone=None)], [stave("c", tone=4)]]
    assert set_terms(panels, TASTE) == {
        "set flitches": 2 * 20 * POINT,
        "set tone": 2 * 8 * POINT,
        "set staves": 10 * POINT,
    }
    assert sum(set_terms(panels[:1], TASTE).values()) == 0


def test_the_best_faces_go_where_they_are_seen():
    wood = [stave(f"s{n}", net=8 * INCH, figure=("fleck",) * (n % 2)) for n in range(2)]
    wood = [replace(one, serves=frozenset({"Door", "Back"})) for one in wood]
    wide = {"need": 7 * INCH, "single": 9 * INCH}
    demands = [door(**wide, face="hidden", part="Back"), door(**wide)]
    found = arrange(demands, wood, TASTE, effort=QUICK)
    assert [panel[0].stave.name for panel in found.panels] == ["s0", "s1"]
