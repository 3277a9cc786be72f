"""The verifier: sound plans pass, and each rule is caught alone when it is broken."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nesting.plan import CutBoard, Nested, Plan, SetPlan, Shortage, WindowPiece
from nesting.planfile import plan_to_json
from nesting.project import Project
from nesting.verify import RULES, verify, verify_file
from nesting.verify_ledger import Ledger
from nesting.verify_rules import case_for
from stock.boards import Mark
from stock.yards import Yard
from tests.resawn_sample import resawn_plan, resawn_project
from tests.samples import (
    bench_plan,
    bench_project,
    block_plan,
    block_project,
    inch,
    offcut,
    shelf_plan,
    shelf_project,
)

Case = tuple[Project, Plan]

SAMPLES: dict[str, Case] = {
    "bench": (bench_project(), bench_plan()),
    "block": (block_project(), block_plan()),
    "shelf": (shelf_project(), shelf_plan()),
    "leaves": (resawn_project(), resawn_plan()),
}


def rules(case: Case) -> set[str]:
    return {violation.rule for violation in verify(*case)}


# --- ways to change a sample ----------------------------------------------------------


def part(name: str, sample: str = "bench", **changes: object) -> Case:
    """The sample with one part of its project changed."""
    project, plan = SAMPLES[sample]
    parts = tuple(
        replace(one, **changes) if one.name == name else one for one in project.parts
    )
    return replace(project, parts=parts), plan


def board(name: str, sample: str = "bench", **changes: object) -> Case:
    """The sample with one board of its project changed."""
    project, plan = SAMPLES[sample]
    boards = tuple(
        replace(one, **changes) if one.name == name else one for one in project.boards
    )
    return replace(project, boards=boards), plan


def shop(sample: str = "bench", **changes: object) -> Case:
    """The sample with settings of the shop changed."""
    project, plan = SAMPLES[sample]
    return replace(project, shop=replace(project.shop, **changes)), plan


def plan(sample: str = "bench", **changes: object) -> Case:
    """The sample with its plan changed."""
    project, old = SAMPLES[sample]
    return project, replace(old, **changes)


def from_rail() -> Case:
    """The bench with a slip of 12 x 1/2 in that a window of its rail is said to give."""
    project, old = SAMPLES["bench"]
    slip = replace(
        project.part("Rail"), name="Slip", length=inch(12), width=inch("1/2"),
        source="offcut",
    )  # fmt: skip
    given = WindowPiece(
        name="Slip 1", part="Slip", copy=1, host="Rail", host_copy=1, x=64, y=64,
        length=inch(13), width=inch("3/4"),
    )  # fmt: skip
    added = replace(project, parts=(*project.parts, slip))
    return added, replace(old, from_windows=(given,))


def totals(sample: str = "bench", **changes: object) -> Case:
    """The sample with sums of its plan changed."""
    return plan(sample, totals=replace(SAMPLES[sample][1].totals, **changes))


def cut_board(
    name: str, change: Callable[[CutBoard], CutBoard], sample: str = "bench"
) -> Case:
    """The sample with one board or sheet of its plan changed."""
    old = SAMPLES[sample][1]
    changed = {
        field: tuple(
            change(one) if one.board == name else one for one in getattr(old, field)
        )
        for field in ("boards", "sheets")
    }
    return plan(sample, **changed)


def record(name: str, sample: str = "bench", **changes: object) -> Case:
    """The sample with something recorded about a board changed."""
    return cut_board(name, lambda one: replace(one, **changes), sample)


def piece(name: str, sample: str = "bench", **changes: object) -> Case:
    """The sample with one piece of its plan changed."""
    home = next(
        one.board
        for one in (*SAMPLES[sample][1].boards, *SAMPLES[sample][1].sheets)
        if any(piece.name == name for piece in one.pieces)
    )
    return cut_board(home, lambda one: nth(one, "pieces", name, **changes), sample)


def nth(one: CutBoard, field: str, key: str | int, **changes: object) -> CutBoard:
    """The board with one of its pieces, cuts (by order) or offcuts (by name) changed."""
    items = tuple(
        replace(item, **changes)
        if key == (item.order if field == "cuts" else item.name)
        else item
        for item in getattr(one, field)
    )
    return replace(one, **{field: items})


def cut(name: str, number: int, sample: str = "bench", **changes: object) -> Case:
    return cut_board(name, lambda one: nth(one, "cuts", number, **changes), sample)


def leftover(home: str, name: str, sample: str = "bench", **changes: object) -> Case:
    return cut_board(home, lambda one: nth(one, "offcuts", name, **changes), sample)


def seat(**changes: object) -> Case:
    return plan(panels=(replace(bench_plan().panels[0], **changes),))


def seat_stave(index: int, **changes: object) -> Case:
    staves = list(bench_plan().panels[0].staves)
    staves[index] = replace(staves[index], **changes)
    return seat(staves=tuple(staves))


def knot(low: str, high: str, start: int = 60, kind: str = "knot") -> Mark:
    return Mark(
        kind=kind, start=inch(start), end=inch(start + 2), low=inch(low), high=inch(high)
    )


def thicker_waste_strip(one: CutBoard) -> CutBoard:
    """Y1 with the rip below the rail 1/8 in lower: the rail comes off too wide."""
    return nth(nth(one, "cuts", 6, at=120), "offcuts", "Y1.4", width=120)


def with_offcut(one: CutBoard, *place: int) -> CutBoard:
    return replace(one, offcuts=(*one.offcuts, offcut("more", *place)))


def dearer(**changes: object) -> Case:
    """The bench 1.00 dearer, its gap in step: 18.70 / 88."""
    return totals(cost=Decimal("106.70"), gap=float(Fraction("18.70") / 88), **changes)


def book(
    match: str = "book",
    *,
    orders: tuple[int | None, int | None] = (1, 2),
    faces: tuple[str | None, ...] = ("bark", "bark", "heart"),
    turned: tuple[bool, ...] = (False, False, False),
    order: tuple[int, ...] = (0, 2, 1),
) -> Case:
    """The seat with its two staves of Y1 as one leaf and that of R1 as the next.

    Staves are listed as 0, 1, 2: Seat 1.1 of Y1, Seat 1.3 of R1, Seat 1.2 of Y1.
    """
    project, old = part("Seat", match=match)
    boards = {one.name: one for one in project.boards}
    boards["Y1"] = replace(boards["Y1"], order=orders[0])
    boards["R1"] = replace(boards["R1"], flitch="H7", order=orders[1])
    panel = old.panels[0]
    staves = tuple(
        replace(panel.staves[at], face=face, turned=turns)
        for at, face, turns in zip(order, faces, turned, strict=True)
    )
    project = replace(project, boards=tuple(boards.values()))
    return project, replace(old, panels=(replace(panel, staves=staves),))


def narrow_outside(edge_stave: int = inch("19/4"), joint_from_edge: int = 0) -> Case:
    """The seat with its stave of 4 1/2 in net outside, those of 5 in beside each other.

    1/4 in is cut off each side: 14 1/2 in are glued up for 14 in.
    """
    project, _ = shop(edge_stave=edge_stave, joint_from_edge=joint_from_edge, ring="any")
    first, middle, last = bench_plan().panels[0].staves
    return project, seat(staves=(middle, first, last))[1]


def of_set(
    likeness: str, source: str = "", *, tone: int | None = 2, board: str = "R1"
) -> Case:
    """The seat (of Y1 and R1, or the rail of Y1) as a set of which the plan says more."""
    project, old = part("Seat" if board == "R1" else "Rail", set="top")
    boards = tuple(
        replace(one, tone=tone) if one.name == "R1" else one for one in project.boards
    )
    said = SetPlan(name="top", likeness=likeness, source=source)
    return replace(project, boards=boards), replace(old, sets=(said,))


def lid(*staves: dict[str, object], match: str = "book") -> Case:
    """The lid of two leaves with its staves changed."""
    project, old = part("Lid", "leaves", match=match)
    panel = old.panels[0]
    changed = tuple(
        replace(one, **change) for one, change in zip(panel.staves, staves, strict=True)
    )
    return project, replace(old, panels=(replace(panel, staves=changed),))


SHORT_TABLE = Shortage(part="Table", copy=1, why="no such wood")
SHORT_RAIL = Shortage(part="Rail", copy=1, why="no such wood")
TWO_NAMES = ("Leg 1", "Leg 3", "Leg 4")

BROKEN: list[tuple[str, str, Case]] = [
    # what is made
    ("names", "two pieces of one name", cut_board(
        "Y2", lambda one: replace(nth(one, "pieces", "Leg 2", name="Leg 1"),
                                  gangs=(TWO_NAMES,)))),
    ("parts", "a shortage of a part that nobody asked for",
     plan(short=(SHORT_TABLE,), status="short")),
    ("parts", "a shortage of a copy that nobody asked for",
     plan(short=(replace(SHORT_RAIL, copy=2),), status="short")),
    ("copies", "a fifth leg is asked for", part("Leg", qty=5)),
    ("copies", "a spare leg is asked for", part("Leg", spares=1)),
    ("copies", "one copy twice, another never", piece("Leg 2", copy=1)),
    ("copies", "made and yet listed as short", plan(short=(SHORT_RAIL,), status="short")),
    ("parts", "not made, and nobody asked for it", plan(not_made=(SHORT_TABLE,))),
    ("copies", "made and yet listed as not made",
     (part("Rail", source="offcut")[0], plan(not_made=(SHORT_RAIL,))[1])),
    ("copies", "a part from stock listed as not made", plan(not_made=(SHORT_RAIL,))),
    ("left over", "a board cut for a part from offcuts alone",
     part("Leg", source="offcut")),
    ("status", "short of nothing", plan(status="short")),
    ("build", "a panel in one solid piece", part("Rail", build="panel")),
    ("build", "a solid part of staves", part("Seat", build="solid")),
    ("build", "a part wider than one piece of wood may be", shop(widest_solid=inch(2))),
    ("build", "a layer that should be solid", piece("Rail 1", role="layer")),
    ("staves", "a stave from another board than sawn", seat_stave(0, board="R1")),
    ("staves", "a stave for another layer than glued", piece("Seat 1.1", layer=2)),
    ("layers", "layers 1 and 3", piece("Block 1.2", "block", layer=3)),
    ("layers", "two layers 1", piece("Block 1.2", "block", layer=1)),
    ("layers", "a second layer of a solid part", piece("Rail 1", layer=2)),
    ("layers", "two layers 1 of a part that may be in layers", piece("Slat 1", "leaves",
        role="solid", layer=2)),
    # what is resawn
    ("nests", "a rectangle that holds a nest",
     piece("Rail 1", nest=(Nested(copy=1, x=0, y=0),))),
    ("windows", "a window where none is drawn", from_rail()),
    ("resawn", "two leaves for three places", piece("Lid 1.1", "leaves", others=(1, 1))),
    ("resawn", "a stave with leaves for nobody", piece("Lid 1.1", "leaves", others=())),
    ("resawn", "wider than the saw is tall", shop("leaves", resaw_height=240)),
    ("resawn", "nothing may be resawn", shop("leaves", resaw_height=0)),
    ("copies", "two leaves for one slat", part("Slat", "leaves", qty=1, spares=2)),
    ("parts", "a leaf for a copy that nobody asked for", part("Slat", "leaves", qty=1)),
    ("staves", "one leaf twice, another never", lid({}, {"leaf": 1}, match="none")),
    ("staves", "a leaf that was not sawn", lid({}, {"leaf": 3}, match="none")),
    # the wood
    ("boards", "recorded longer than it is", record("Y1", length=inch(97))),
    ("boards", "recorded as tapered", record("Y1", width2=inch(12))),
    ("boards", "recorded in the rack", record("Y1", where="rack")),
    ("boards", "recorded as owned", record("Y1", bought=False)),
    ("boards", "a sheet recorded smaller", record("birch ply 1", "shelf", width=inch(23))),
    ("species", "maple from an oak board", part("Rail", species="maple")),
    ("thickness", "7/8 in from 4/4, which gives 13/16",
     part("Rail", thickness=inch("7/8"))),
    ("thickness", "twice 22.2 mm for 45 mm", part("Block", "block", thickness=450)),
    ("thickness", "two leaves of 49/64 in from 8/4", part("Slat", "leaves", thickness=49)),
    ("thickness", "two leaves with 1/4 in of kerf between them", shop(
        "leaves", resaw_allowance=9)),
    ("leaves", "leaves that lie like one board", lid({"face": "bark"}, {})),
    ("leaves", "one leaf turned end for end", lid({"turned": True}, {})),
    ("leaves", "slipped leaves, one turned over", part("Lid", "leaves", match="slip")),
    ("thickness", "a thicker part than the sheet", part("End", "shelf", thickness=48)),
    ("sawing", "quarter asked of plain wood", part("Rail", sawing=("quarter", "rift"))),
    ("sawing", "quarter asked of a board that does not tell",
     part("Leg", sawing=("quarter",))),
    ("figure", "fleck asked of a board that shows none", part("Rail", figure="fleck")),
    ("marks", "a knot in the rail", board("Y1", marks=(knot("5/2", "7/2"),))),
    ("marks", "sapwood on a show face",
     board("Y1", marks=(knot("5/2", "3", 60, "sapwood"),))),
    ("match", "one board asked, two used", part("Seat", match="board")),
    ("match", "one log asked, two used", part("Seat", match="flitch")),
    # how staves lie
    ("leaves", "a book of boards that are no neighbours", book(orders=(1, 3))),
    ("leaves", "a book of boards of unknown order", book(orders=(None, 2))),
    ("leaves", "a book with the same side up", book(faces=("bark", "bark", "bark"))),
    ("leaves", "a book with one end turned", book(turned=(False, False, True))),
    ("leaves", "a leaf with both sides up", book(faces=("bark", "heart", "heart"))),
    ("leaves", "a book that does not say what is up", book(faces=("bark", "bark", None))),
    ("leaves", "a slip with opposite sides up", book("slip")),
    ("leaves", "a slip that goes back to its first board", book(
        "slip", faces=("bark",) * 3, order=(0, 1, 2), orders=(1, 4))),
    ("ring", "two neighbours bark up where they alternate", seat_stave(1, face="bark")),
    ("ring", "alternating where the shop lays all the same", shop(ring="same")),
    ("edges", "a stave of 4 1/2 in outside, and 5 in are there", narrow_outside()),
    ("edges", "a joint 4 1/4 in from the finished edge, 4 1/2 in asked",
     narrow_outside(edge_stave=0, joint_from_edge=inch("9/2"))),
    ("sets", "one flitch that is two", of_set("one flitch", "flitch H7")),
    ("sets", "another flitch than it says", of_set("one flitch", "flitch H8", board="Y1")),
    ("sets", "tones 2 and 4 called one step", of_set("one step of tone", tone=4)),
    ("sets", "an unknown tone called one step", of_set("one step of tone", tone=None)),
    ("sets", "a set that is not there", plan(sets=(SetPlan(
        name="doors", likeness="not alike", source=""),))),
    # sizes
    ("length", "the rail is drawn longer", part("Rail", length=inch(41))),
    ("length", "the rail gets a tenon", part("Rail", add_length=1)),
    ("length", "the rail gets bevelled ends", part("Rail", end_angle=1.0)),
    ("length", "the seat is drawn longer", part("Seat", length=inch(48) + 1)),
    ("length", "the panel is recorded longer than its staves", seat(length=3137)),
    ("width", "a part is turned across the grain of the sheet",
     part("Shelf", "shelf", grain="length")),
    ("width", "the rail is drawn wider", part("Rail", width=inch(3) + 1)),
    ("width", "the rail tapers from a wider end",
     part("Rail", shape="taper", ends=(inch(3) + 1, inch(2)))),
    ("width", "a sheet part is drawn wider", part("End", "shelf", width=inch(10) + 1)),
    ("stave width", "narrower staves asked", shop(widest_stave=inch(4))),
    ("stave width", "wider staves asked", shop(narrowest_stave=inch(5))),
    ("net width", "recorded wider than its staves", seat(net_width=929)),
    ("net width", "asks for more than its staves give", seat(need=929)),
    ("net width", "asks for less than the part", part("Seat", width=inch(14) + 1)),
    ("net width", "a joint more allowed", shop(joint_allowance=12)),
    # where pieces lie
    ("inside", "a stave before the butt end", piece("Seat 1.3", x=-8)),
    ("inside", "a stave below the edge", piece("Seat 1.3", y=-1)),
    ("inside", "a stave over the upper edge", piece("Seat 1.3", y=89)),
    ("inside", "a layer over the slanted edge: 160 - 2.1 mm at 250 mm, 91.9 + 66 = 157.9",
     piece("Block 1.1", "block", y=920)),
    ("inside", "a piece over the far edge of the sheet", piece("End 2", "shelf", x=1793)),
    ("end trim", "a stave in the trim of the butt end", piece("Seat 1.3", x=63)),
    ("end trim", "a stave in the trim of the far end", piece("Seat 1.3", x=641)),
    ("overlap", "two staves share wood", piece("Seat 1.2", y=327)),
    ("kerf", "two staves 7/64 in apart", piece("Seat 1.2", y=335)),
    # how the board comes apart
    ("cuts", "a rip that starts before its section", cut("Y1", 4, start=63)),
    ("cuts", "a crosscut that stops in the wood", cut("Y1", 2, end=735)),
    ("cuts", "a cut beside the wood", cut("R1", 3, at=384)),
    ("cuts", "two first cuts", cut("Y1", 2, order=1)),
    ("cuts", "a crosscut called a rip", cut("Y1", 1, kind="rip")),
    ("pieces", "the rail comes off too wide", cut_board("Y1", thicker_waste_strip)),
    ("waste", "a strip that nobody lists", cut_board(
        "Y1", lambda one: replace(one, offcuts=(*one.offcuts[:2], *one.offcuts[3:])))),
    ("waste", "half of a strip is listed", leftover("Y1", "Y1.3", length=1568)),
    ("offcuts", "an offcut where a piece lies",
     cut_board("R1", lambda one: with_offcut(one, 64, 0, 640, 64))),
    ("offcuts", "an offcut across a kerf",
     cut_board("Y1", lambda one: with_offcut(one, 3208, 300, 640, 64))),
    ("offcuts", "the same wood listed twice",
     cut_board("Y1", lambda one: with_offcut(one, 64, 672, 640, 64))),
    ("keep", "kept though too short", shop(keep_length=inch(42))),
    ("keep", "kept though too narrow", shop(keep_width=inch("21/4"))),
    ("keep", "kept though split", board("Y1", marks=(knot("9", "11"),))),
    ("keep", "kept where the board tapers away: 160 - 7.8 - 69 = 83.2 mm",
     leftover("A1", "A1.1", "block", y=691)),
    ("gangs", "a leg freed before it is planed", cut("Y2", 4, after_planing=False)),
    ("gangs", "the planer asks for longer wood", shop(shortest_machined=inch(45))),
    ("gangs", "a cut in planed wood that does not wait",
     cut("Y2", 5, after_planing=False)),
    ("gangs", "long wood that waits for planing", cut("Y1", 4, after_planing=True)),
    ("gangs", "a gang with a stranger", record("Y2", gangs=(("Leg 1", "Rail 1"),))),
    # money and sums
    ("cost", "a board a cent dearer", record("Y1", cost=Decimal("73.15"))),
    ("cost", "owned wood for nothing", record("R1", cost=Decimal(0))),
    ("cost", "a sheet at its full price", record("birch ply 1", "shelf", cost=Decimal(28))),
    ("pay", "tax forgotten", record("Y1", pay=Decimal("69.00"))),
    ("pay", "owned wood paid for", record("R1", pay=Decimal("6.68"))),
    ("feet", "a board foot more", record("Y1", board_feet=Fraction(26, 3))),
    ("credit", "rounded up", leftover("Y1", "Y1.1", credit=Decimal("7.69"))),
    ("credit", "waste that is worth something",
     leftover("Y1", "Y1.3", credit=Decimal("0.01"))),
    *(
        ("sums", f"{name} a cent more", totals(**{name: Decimal(amount)}))
        for name, amount in (
            ("boards", "91.70"), ("trips", "12.01"), ("top_ups", "3.72"),
            ("owned_wood", "6.69"), ("sawing", "4.81"), ("credit", "13.19"),
        )
    ),
    ("total cost", "dearer than its parts", dearer()),
    ("to pay", "the trip forgotten", totals(to_pay=Decimal("95.40"))),
    ("bound", "above the cost", totals(bound=Decimal("105.71"), gap=-0.0001)),
    ("bound", "a gap that flatters", totals(gap=0.19)),
    ("bound", "no gap though the bound has one", totals(gap=None)),
    ("tally", "a board foot more used", totals(board_feet_used=Fraction(53, 4))),
    ("tally", "a board foot less bought", totals(board_feet_bought=Fraction(35, 4))),
    ("tally", "three boards bought", totals(boards_bought=3)),
    ("tally", "a better yield", totals(yield_=0.56)),
]  # fmt: skip


@pytest.mark.parametrize("sample", SAMPLES)
def test_a_sound_plan_breaks_no_rule(sample):
    assert [str(violation) for violation in verify(*SAMPLES[sample])] == []


@pytest.mark.parametrize(
    ("rule", "case"),
    [pytest.param(rule, case, id=f"{rule}: {how}") for rule, how, case in BROKEN],
)
def test_a_broken_plan_is_caught_by_exactly_its_rule(rule, case):
    assert rules(case) == {rule}


def test_what_is_too_short_to_be_machined_alone_is_not_resawn():
    assert rules(shop("leaves", shortest_machined=1345)) == {"resawn", "gangs"}


@pytest.mark.parametrize(
    ("changed", "word"),
    [
        (part("Slat", "leaves", build="auto"), None),
        (part("Slat", "leaves", source="offcut"), "offcuts"),
        (part("Lid", "leaves", build="laminate"), "glued up again"),
    ],
)
def test_leaves_are_no_layers_and_come_from_stock(changed, word):
    found = [one.text for one in verify(*changed) if one.rule == "resawn"]
    assert [word in text for text in found] == ([True] if word else [])


def test_every_rule_is_broken_once_at_least():
    assert {rule for rule, _, _ in BROKEN} == set(RULES)


@pytest.mark.parametrize(("rule", "case"), [(rule, case) for rule, _, case in BROKEN])
def test_a_violation_is_one_line_for_the_maker(rule, case):
    for violation in verify(*case):
        line = str(violation)
        assert "\n" not in line
        assert line == f"{violation.where}: {violation.text} (rule {rule!r})"


def test_a_violation_names_place_and_sizes():
    """3 1/64 in finished and 1/4 in rip allowance are 3 17/64 in; 3 1/4 in are sawn."""
    (violation,) = verify(*part("Rail", width=inch(3) + 1))
    assert str(violation) == (
        "board 'Y1', piece 'Rail 1': is 3 1/4 in wide, must be 3 17/64 in (rule 'width')"
    )


@settings(deadline=None, max_examples=120)
@given(
    sample=st.sampled_from(sorted(SAMPLES)),
    field=st.sampled_from(["x", "y", "length", "width"]),
    change=st.integers(-2000, 2000).filter(bool),
    data=st.data(),
)
def test_no_piece_may_move_or_change_by_a_single_step(sample, field, change, data):
    old = SAMPLES[sample][1]
    pieces = [one for home in (*old.boards, *old.sheets) for one in home.pieces]
    chosen = data.draw(st.sampled_from(pieces))
    changed = {field: getattr(chosen, field) + change}
    assert rules(piece(chosen.name, sample, **changed))


# --- a plan file with one value changed -----------------------------------------------

# What a plan file may say otherwise without being wrong: names that the plan gives
# itself, words, times, how a stave is laid, and how many layers a part has in all. What
# is left of a sheet is worth nothing, a sheet has no board feet, and is never planed.
FREE = {"project", "piece", "name", "bound_name", "seconds", "turned", "face", "layers"}
FREE_ON_SHEETS = {"keep", "board_feet", "after_planing"}
# Waste under the slanted edge of a board may be told as any rectangle, or not at all.
SLANTED = [("boards", 0, "offcuts", 1), ("boards", 0, "offcuts", 2)]


def places(value: object, path: tuple = ()) -> list[tuple]:
    """Every place of a plain value in a JSON value, as the keys that lead there."""
    if isinstance(value, dict):
        return [place for key in value for place in places(value[key], (*path, key))]
    if isinstance(value, list):
        inner = enumerate(value)
        return [place for key, one in inner for place in places(one, (*path, key))]
    return [path]


@pytest.mark.parametrize("sample", SAMPLES)
def test_every_single_value_of_a_plan_file_is_checked(sample):
    """Change one value after the other; only what no rule speaks of may pass."""
    project, sound = SAMPLES[sample]
    text = plan_to_json(sound)
    unseen = set()
    for place in places(json.loads(text)):
        content = json.loads(text)
        target = content
        for key in place[:-1]:
            target = target[key]
        target[place[-1]] = changed_value(target[place[-1]])
        try:
            if not verify_file(project, json.dumps(content)):
                unseen.add(place)
        except ValueError:
            continue
    assert [place for place in sorted(unseen, key=str) if not is_free(sample, place)] == []
    assert len(unseen) < len(places(json.loads(text))) / 4


def is_free(sample: str, place: tuple) -> bool:
    free = FREE | FREE_ON_SHEETS if place[0] == "sheets" else FREE
    slanted = sample == "block" and place[:4] in SLANTED
    return place[-1] in free or place[0] == "rules" or slanted


def changed_value(value: object) -> object:
    if isinstance(value, bool):
        return not value
    if isinstance(value, str):
        return f"{value} too"
    return 1 if value is None else value + 1


@settings(deadline=None, max_examples=100)
@given(sample=st.sampled_from(sorted(SAMPLES)), data=st.data())
def test_no_name_or_number_in_a_plan_file_makes_the_check_fall_over(sample, data):
    project, sound = SAMPLES[sample]
    content = json.loads(plan_to_json(sound))
    for _ in range(3):
        place = data.draw(st.sampled_from(places(content)))
        target = content
        for key in place[:-1]:
            target = target[key]
        kind = st.integers(-(10**8), 10**8)
        if isinstance(target[place[-1]], str):
            kind = st.sampled_from(["Seat", "Leg 1", "Y1", "rack", "birch ply 99", "?", ""])
        target[place[-1]] = data.draw(kind)
    violations = None
    try:
        violations = verify_file(project, json.dumps(content))
    except ValueError as error:
        violations = (str(error),)
    assert isinstance(violations, tuple)


# --- what is allowed ------------------------------------------------------------------


def test_a_book_opened_and_a_slip_pushed_aside_are_sound():
    assert rules(book()) == set()
    assert rules(book("slip", faces=("heart",) * 3, turned=(True,) * 3)) == set()
    assert rules(book("flitch", faces=("bark", "heart", "bark"))) == set()


def test_sides_are_free_where_rings_stand_or_nothing_is_said():
    assert rules(board("R1", sawing="quarter")) == set()
    project, old = board("R1", sawing="rift")
    assert rules((project, seat_stave(1, face="bark")[1])) == set()
    assert rules(seat_stave(1, face=None)) == set()
    assert rules((shop(ring="any")[0], seat_stave(1, face="bark")[1])) == set()
    assert old


def test_a_limit_at_the_edges_binds_only_if_some_order_keeps_it():
    """Two staves of 5 in: a limit of 5 in can be kept at both edges, one of more can't."""
    assert rules(narrow_outside(edge_stave=inch(5))) == {"edges"}
    assert rules(narrow_outside(edge_stave=inch(5) + 1)) == set()


def test_a_set_may_be_said_to_be_less_alike_than_it_is():
    assert rules(of_set("one flitch", "flitch H7", board="Y1")) == set()
    assert rules(of_set("one step of tone", tone=3)) == set()
    assert rules(of_set("not alike")) == set()


def test_a_part_from_offcuts_may_be_left_out():
    project, old = SAMPLES["bench"]
    caul = replace(project.parts[2], name="Caul", source="offcut")
    assert rules((replace(project, parts=(*project.parts, caul)), old)) == set()
    caul = replace(caul, source="stock")
    assert rules((replace(project, parts=(*project.parts, caul)), old)) == {"copies"}


def test_a_plan_may_be_short_if_it_says_so():
    project, old = part("Leg", qty=5)
    short = (Shortage(part="Leg", copy=5, why="no board is left"),)
    assert rules((project, replace(old, short=short, status="short"))) == set()
    assert rules((project, replace(old, short=short))) == {"status"}


@pytest.mark.parametrize(
    ("kind", "tag", "demand"),
    [
        ("sawing", "quarter", {"sawing": ("quarter",)}),
        ("figure", "fleck", {"figure": "fleck"}),
    ],
)
def test_a_zone_lends_its_property_to_what_lies_wholly_in_it(kind, tag, demand):
    """The rail lies from x 50 1/8 in to 91 1/8 in, y 2 1/8 in to 5 3/8 in."""
    project, old = part("Rail", **demand)
    zone = Mark(
        kind=kind, tag=tag, start=inch(50), end=inch("729/8"), low=inch(2), high=inch(6)
    )
    y1 = replace(project.board("Y1"), marks=(zone,))
    boards = tuple(y1 if one.name == "Y1" else one for one in project.boards)
    assert rules((replace(project, boards=boards), old)) == set()
    smaller = replace(y1, marks=(replace(zone, end=zone.end - 1),))
    boards = tuple(smaller if one.name == "Y1" else one for one in project.boards)
    assert rules((replace(project, boards=boards), old)) == {kind}


@pytest.mark.parametrize(
    ("face", "kind", "seen", "allowed"),
    [
        ("show", "sapwood", "one", True),
        ("second", "sound knot", "both", True),
        ("show", "worm", "both", False),
        ("second", "worm", "both", False),
        ("hidden", "worm", "both", True),
        ("hidden", "knot", "one", False),
    ],
)
def test_the_face_says_what_a_part_bears(face, kind, seen, allowed):
    project, old = part("Rail", face=face)
    mark = replace(knot("5/2", "7/2", 60, kind), face=seen)
    boards = tuple(
        replace(one, marks=(mark,)) if one.name == "Y1" else one for one in project.boards
    )
    found = rules((replace(project, boards=boards), old))
    assert found == (set() if allowed else {"marks"})


def test_the_grain_decides_which_way_round_a_blank_lies():
    """A rail named 3 in long and 40 in wide, its grain across the length, is the rail."""
    turned = {"length": inch(3), "width": inch(40)}
    assert rules(part("Rail", **turned, grain="width", build="solid")) == set()
    assert rules(part("Rail", **turned, grain="either")) == set()
    assert rules(part("Rail", **turned, build="solid")) == {"width"}


def test_a_sheet_without_grain_takes_a_part_either_way():
    project, old = part("Shelf", "shelf", grain="length")
    plain = replace(project.sheets[0], has_grain=False)
    assert rules((replace(project, sheets=(plain,)), old)) == set()


def test_no_more_sheets_are_used_than_there_are():
    project, old = SAMPLES["shelf"]
    none = replace(project.sheets[0], qty=0)
    assert "boards" in rules((replace(project, sheets=(none,)), old))


def test_a_board_is_used_once_and_is_known():
    old = bench_plan()
    twice = (*old.boards, replace(old.boards[2], pieces=(), cuts=(), offcuts=()))
    found = [
        v for v in verify(bench_project(), replace(old, boards=twice)) if v.rule == "boards"
    ]
    assert [str(v) for v in found] == ["board 'R1': is used 2 times (rule 'boards')"]
    assert "boards" in rules(record("R1", board="R9"))


def test_one_stave_alone_may_be_as_wide_as_the_widest_solid():
    """A seat of 4 in asks for 4 1/2 in net: the stave of 4 5/8 in from R1 alone makes it.

    Limits of 2 to 3 in do not bind a stave that makes the whole panel.
    """
    project, old = part("Seat", width=inch(4))
    narrow = replace(project.shop, narrowest_stave=inch(2), widest_stave=inch(3))
    project = replace(project, shop=narrow)
    panel = old.panels[0]
    alone = replace(panel, staves=panel.staves[1:2], net_width=288, need=288)
    found = [
        v for v in verify(project, replace(old, panels=(alone,))) if "panel" in v.where
    ]
    assert found == []
    slim = replace(project, shop=replace(narrow, widest_solid=inch(4)))
    found = [v for v in verify(slim, replace(old, panels=(alone,))) if "panel" in v.where]
    assert [violation.rule for violation in found] == ["stave width"]


def test_a_shop_without_a_shortest_length_needs_no_gangs():
    """The cuts between the legs then need not wait for planing."""
    project, old = shop(shortest_machined=0)
    freed = replace(old.boards[1], gangs=())
    freed = nth(nth(nth(freed, "cuts", 4, after_planing=False), "cuts", 5,
                    after_planing=False), "cuts", 6, after_planing=False)  # fmt: skip
    assert (
        rules((project, replace(old, boards=(old.boards[0], freed, old.boards[2]))))
        == set()
    )


def test_a_trimming_cut_may_take_less_than_a_kerf():
    """R1's stave starts at the butt end itself once the shop trims nothing.

    Cuts: crosscut at 3136 (the stave's 49 in), rip at 296, and a rip that only cleans the
    lower edge, its kerf from -5 to 3.
    """
    project, old = shop(end_trim=0)
    r1 = old.boards[2]
    crosscut = replace(r1.cuts[0], at=3136)
    rip = replace(r1.cuts[2], order=2, start=0, end=3136, at=299)
    trim = replace(rip, order=3, at=-5)
    stave = replace(r1.pieces[0], x=0, y=3)
    offcuts = (offcut("R1.1", 3144, 0, 696, 384), offcut("R1.2", 0, 307, 3136, 77))
    for at, found in ((-5, set()), (-8, {"cuts"})):
        cuts = (crosscut, rip, replace(trim, at=at))
        changed = replace(r1, pieces=(stave,), cuts=cuts, offcuts=offcuts)
        boards = (*old.boards[:2], changed)
        assert rules((project, replace(old, boards=boards))) == found


def test_amounts_that_nobody_stated_are_not_held_against_a_plan():
    """A plan file with the contract's keys alone is as sound as ours."""
    for project, sound in SAMPLES.values():
        content = json.loads(plan_to_json(sound))
        ours = {"pay", "width2", "layer", "name", "credit", "after_planing", "bound_name",
                "boards", "trips", "top_ups", "owned_wood", "sawing", "length"}  # fmt: skip
        homes = (*content["boards"], *content["sheets"])
        things = [one for home in homes for key in ("pieces", "cuts", "offcuts")
                  for one in home[key]]  # fmt: skip
        for thing in (*homes, *things, content["totals"]):
            for key in ours & set(thing) - {"length"}:
                del thing[key]
        for panel in content["panels"]:
            del panel["layer"], panel["length"]
        assert verify_file(project, json.dumps(content)) == ()


# --- money, computed twice ------------------------------------------------------------

amounts = st.integers(0, 4000).map(lambda value: Fraction(value, 100))


@settings(deadline=None, max_examples=150)
@given(
    sample=st.sampled_from(["bench", "block"]),
    aim=st.sampled_from(["money", "board feet"]),
    surfaced=st.sampled_from(["rough", "S2S", "S3S", "S4S"]),
    price=st.none() | amounts,
    yard=st.builds(
        Yard, name=st.just("Hill yard"), trip_cost=amounts, smallest_order=amounts,
        surfacing_charge=amounts, straight_edge_charge=amounts, tax=amounts,
    ),
    area=st.integers(0, 10**7),
)  # fmt: skip
def test_two_reckonings_of_a_board_agree(sample, aim, surfaced, price, yard, area):
    """The planner's tariff and the verifier's ledger were written apart."""
    project, old = SAMPLES[sample]
    boards = tuple(replace(one, surfaced=surfaced, price=price) for one in project.boards)
    project = replace(
        project, boards=boards, yards=(yard,), shop=replace(project.shop, aim=aim)
    )
    tariff, ledger = project.tariff, Ledger(case_for(project, old))
    for one in boards:
        assert ledger.cost(one) == tariff.cost(one)
        assert ledger.pay(one) == tariff.pay(one)
        assert ledger.credit(one, area) == tariff.credit(one, area)
    bought = [one for one in boards if not one.is_owned]
    if bought:
        sums = ledger.sums()
        assert sums["trips"] == tariff.trip("Hill yard")
        assert sums["top_ups"] == tariff.top_up("Hill yard", bought)
