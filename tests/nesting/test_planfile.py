"""Plan files: the contract's keys, exact lengths, and faults instead of tracebacks."""

from __future__ import annotations

import json
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nesting.plan import Cut, CutBoard, Offcut, Piece, Plan, SetPlan, Shortage
from nesting.planfile import plan_from_json, plan_to_json, write_plan
from stock.errors import InputError
from stock.measures import Unit
from tests.samples import bench_plan, block_plan, shelf_plan

names = st.text(max_size=12)
sizes = st.integers(min_value=0, max_value=10**6)
cents = st.integers(min_value=0, max_value=10**7).map(lambda value: Decimal(value) / 100)
eighths = st.integers(min_value=0, max_value=10**4).map(lambda value: Fraction(value, 8))
counts = st.integers(min_value=1, max_value=99)
gaps = st.integers(min_value=0, max_value=9999).map(lambda part: part / 997)

pieces = st.builds(
    Piece, name=names, part=names, copy=counts, role=st.sampled_from(["solid", "stave"]),
    x=sizes, y=sizes, length=sizes, width=sizes, layers=counts, layer=counts,
)  # fmt: skip
cuts = st.builds(
    Cut, order=counts, kind=st.sampled_from(["rip", "crosscut"]), at=sizes,
    start=sizes, end=sizes, after_planing=st.booleans(),
)  # fmt: skip
offcuts = st.builds(
    Offcut, name=names, x=sizes, y=sizes, length=sizes, width=sizes,
    keep=st.booleans(), credit=cents,
)  # fmt: skip
boards = st.builds(
    CutBoard, board=names, where=names, bought=st.booleans(), cost=cents, pay=cents,
    board_feet=eighths, length=sizes, width=sizes, width2=sizes,
    pieces=st.tuples(pieces, pieces), cuts=st.tuples(cuts), offcuts=st.tuples(offcuts),
    gangs=st.lists(st.lists(names, max_size=3).map(tuple), max_size=2).map(tuple),
)  # fmt: skip
shortages = st.builds(Shortage, part=names, copy=counts, why=names)


@st.composite
def plans(draw: st.DrawFn) -> Plan:
    base = draw(st.sampled_from([bench_plan(), block_plan(), shelf_plan()]))
    totals = replace(
        base.totals, cost=draw(cents), gap=draw(st.none() | gaps),
        board_feet_used=draw(eighths), board_feet_bought=draw(eighths),
    )  # fmt: skip
    return replace(
        base, project=draw(names), boards=draw(st.tuples(boards, boards)), totals=totals,
        short=draw(st.tuples(shortages)), not_made=draw(st.tuples(shortages)),
        notes=draw(st.tuples(names)),
        status=draw(st.sampled_from(["complete", "short"])),
    )  # fmt: skip


def content(plan: Plan) -> dict:
    return json.loads(plan_to_json(plan))


def refused(text: str, unit: Unit = Unit.INCH) -> str:
    with pytest.raises(InputError) as caught:
        plan_from_json(text, unit)
    return str(caught.value)


@settings(deadline=None, max_examples=60)
@given(plans())
def test_a_plan_comes_back_as_it_was_written(plan):
    assert plan_from_json(plan_to_json(plan), Unit(plan.unit)) == plan


def test_board_feet_come_back_to_the_precision_of_a_float():
    back = plan_from_json(plan_to_json(bench_plan()), Unit.INCH)
    assert float(back.boards[0].board_feet) == float(Fraction(23, 3))


def test_every_key_of_the_contract_is_written():
    """Keys of the public contract of the plan file, section by section."""
    found = content(bench_plan())
    assert {"format", "unit", "project", "status", "boards", "panels", "short", "sheets",
            "totals"} <= set(found)  # fmt: skip
    board = found["boards"][0]
    assert {"board", "where", "bought", "cost", "board_feet", "length", "width", "pieces",
            "cuts", "offcuts"} <= set(board)  # fmt: skip
    assert {"piece", "part", "copy", "role", "x", "y", "length", "width",
            "layers"} <= set(board["pieces"][0])  # fmt: skip
    assert {"order", "kind", "at", "from", "to"} <= set(board["cuts"][0])
    assert {"x", "y", "length", "width", "keep"} <= set(board["offcuts"][0])
    panel = found["panels"][0]
    assert {"part", "copy", "net_width", "need", "staves"} <= set(panel)
    assert {"piece", "board", "width", "net_width", "turned",
            "face"} <= set(panel["staves"][0])  # fmt: skip
    assert {"cost", "to_pay", "bound", "gap", "board_feet_bought", "board_feet_used",
            "yield", "boards_bought", "seconds"} <= set(found["totals"])  # fmt: skip


def test_lengths_are_written_in_the_projects_unit():
    stave = content(bench_plan())["boards"][0]["pieces"][0]
    assert (stave["x"], stave["length"], stave["width"]) == (1.0, 49.0, 5.125)
    layer = content(block_plan())["boards"][0]["pieces"][0]
    assert (layer["x"], layer["length"], layer["width"]) == (25.0, 225.0, 66.0)


def test_a_file_without_our_own_keys_is_read():
    """Layers, gangs and the waits of cuts are then found from what the contract names."""
    found = content(block_plan())
    ours = {"pay", "width2", "layer", "name", "credit", "after_planing", "bound_name",
            "boards", "trips", "top_ups", "owned_wood", "sawing"}  # fmt: skip
    for thing in (
        *found["boards"], *found["boards"][0]["pieces"], *found["boards"][0]["cuts"],
        *found["boards"][0]["offcuts"], found["totals"],
    ):  # fmt: skip
        for key in ours & set(thing):
            del thing[key]
    del found["rules"], found["notes"], found["sheets"]
    plan = plan_from_json(json.dumps(found), Unit.MM)
    assert plan.boards[0].cuts == block_plan().boards[0].cuts
    assert plan.boards[0].pieces == block_plan().boards[0].pieces
    assert plan.totals.sawing.is_nan()
    assert "sawing" not in content(plan)["totals"]


def test_a_panel_without_layer_and_length_is_completed():
    found = content(bench_plan())
    del found["panels"][0]["layer"], found["panels"][0]["length"]
    assert plan_from_json(json.dumps(found), Unit.INCH).panels == bench_plan().panels


@pytest.mark.parametrize(
    ("value", "accepted"),
    [(1 / 64, True), (1 / 64 + 1e-9, True), (1 / 128, False), (0.1, False)],
)
def test_a_length_off_the_grid_is_refused_by_name(value, accepted):
    found = content(bench_plan())
    found["boards"][1]["pieces"][2]["y"] = value
    if accepted:
        plan = plan_from_json(json.dumps(found), Unit.INCH)
        assert plan.boards[1].pieces[2].y == 1
    else:
        assert refused(json.dumps(found)) == (
            "plan file, boards[1].pieces[2].y: must be a whole multiple of 1/64 in, "
            f"got '{value}'"
        )


def test_all_faults_are_told_at_once_with_their_places():
    found = content(bench_plan())
    found["boards"][0]["cuts"][1]["kind"] = "mitre"
    del found["panels"][0]["staves"][2]["width"]
    found["totals"]["cost"] = "dear"
    found["boards"][2]["bought"] = 1
    assert refused(json.dumps(found)).splitlines() == [
        "plan file, boards[0].cuts[1].kind: must be 'crosscut' or 'rip', got 'mitre'",
        "plan file, boards[2].bought: must be true or false, got '1'",
        "plan file, panels[0].staves[2].width: is missing: must be a number",
        "plan file, totals.cost: must be a number, got 'dear'",
    ]


def test_a_plan_in_the_other_unit_is_refused():
    message = refused(plan_to_json(bench_plan()), Unit.MM)
    assert "plan file, unit: the project is in 'mm', got 'in'" in message


@pytest.mark.parametrize(
    "text",
    [
        "", "null", "[]", "3", "{", '{"format": NaN}', '{"format": -Infinity}',
        '{"format": 1e99999999999999999999}', '{"format": ' + "9" * 5000 + "}",
        "[" * 100_000, '{"a":' * 100_000,
    ],
)  # fmt: skip
def test_no_text_gives_a_traceback(text):
    assert refused(text).startswith("plan file")


json_values = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False) | names,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(names, inner, max_size=3),
    max_leaves=6,
)


def places(value: object, path: tuple = ()) -> list[tuple]:
    """Every place in a JSON value, as the keys that lead there."""
    inner = value.items() if isinstance(value, dict) else ()
    inner = enumerate(value) if isinstance(value, list) else inner
    return [path, *(place for key, one in inner for place in places(one, (*path, key)))]


@settings(deadline=None, max_examples=150)
@given(st.data())
def test_any_wrong_value_anywhere_is_a_fault_or_another_plan(data):
    """Put any JSON value in any place of a plan file: it reads, or it tells a fault."""
    found = content(bench_plan())
    place = data.draw(st.sampled_from(places(found)[1:]))
    target = found
    for key in place[:-1]:
        target = target[key]
    target[place[-1]] = data.draw(json_values)
    told: tuple = ()
    plan = None
    try:
        plan = plan_from_json(json.dumps(found), Unit.INCH)
    except InputError as error:
        told = error.faults
    assert told or plan is not None


def test_a_plan_file_is_never_half_written(tmp_path):
    path = tmp_path / "plan.json"
    path.write_text("the plan of yesterday", encoding="utf-8")
    broken = replace(bench_plan().totals, yield_=float("inf"))
    with pytest.raises(ValueError, match="JSON"):
        write_plan(path, replace(bench_plan(), totals=broken))
    assert path.read_text(encoding="utf-8") == "the plan of yesterday"
    write_plan(path, bench_plan())
    assert path.read_text(encoding="utf-8") == plan_to_json(bench_plan())
    assert list(tmp_path.iterdir()) == [path]


def test_sets_and_what_panels_count_are_read_back_as_written():
    sound = bench_plan()
    top = SetPlan(
        name="top", likeness="not alike", source="tone 2 and 4",
        extra_cost=Decimal("1.25"), why="not looked for", match_cost=(("set tone", 85),),
    )  # fmt: skip
    panel = replace(sound.panels[0], match_cost=(("joints", 45), ("boards", 400)))
    plan = replace(sound, sets=(top,), panels=(panel,))
    again = plan_from_json(plan_to_json(plan), Unit.INCH)
    assert (again.sets, again.panels) == (plan.sets, plan.panels)
    content = json.loads(plan_to_json(plan))
    del content["sets"], content["panels"][0]["match_cost"]
    bare = plan_from_json(json.dumps(content), Unit.INCH)
    assert (bare.sets, bare.panels[0].match_cost) == ((), ())
