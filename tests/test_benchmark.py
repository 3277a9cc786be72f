"""The benchmark's own parts: generator, simple planners, costs, and short runs of each."""

from __future__ import annotations

import json
import re
from collections import Counter
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction
from itertools import combinations
from pathlib import Path

import pytest
from click.testing import CliRunner
from hypothesis import given, settings
from hypothesis import strategies as st

from nesting.blanks import blanks_for
from nesting.sheet_sizes import Leaf, Split, Stock, Want
from nesting.solve import SolveParams, solve
from tests.benchmark import craftsman, packer, published, runs
from tests.benchmark.commands import benchmark
from tests.benchmark.engine import held_in_sheet
from tests.benchmark.generated import SIZES, YARD, Size, project_for, project_of
from tests.benchmark.layouts import (
    Layout,
    Sawn,
    cost_of,
    equal_staves,
    layout_cost,
    usable,
    wants_for,
)

INCH = 64

# --- generated projects ---------------------------------------------------------------


@pytest.mark.parametrize("name", SIZES)
def test_a_size_has_the_pieces_panels_and_boards_it_names(name):
    project, size = project_for(name, 1), SIZES[name]
    solid = sum(part.qty for part in project.parts if part.build == "solid")
    panels = sum(part.qty for part in project.parts if part.build == "panel")
    assert (solid, panels, len(project.boards)) == (size.parts, size.panels, size.boards)


def test_same_size_and_seed_same_project_and_another_seed_another():
    assert project_for("small", 4) == project_for("small", 4)
    assert project_for("small", 4) != project_for("small", 5)


def test_marks_change_nothing_but_marks():
    plain, marked = (project_for("medium", 2, marks=marks) for marks in (False, True))
    assert any(board.marks for board in marked.boards)
    bare = tuple(replace(board, marks=()) for board in marked.boards)
    assert replace(marked, boards=bare) == plain


@pytest.mark.parametrize("seed", range(1, 6))
def test_boards_are_as_large_as_fas_and_no_blank_is_short(seed):
    # FAS: 6 in x 8 ft at least (AHEC grade summary of the NHLA rules)
    project = project_for("medium", seed)
    assert all(b.width >= 6 * INCH and b.length >= 96 * INCH for b in project.boards)
    assert not any(blank.is_short for blank in blanks_for(project))


# --- layouts of the simple planners ---------------------------------------------------


def spots(one: Sawn):
    return [box for _, box in one.pieces]


def apart(one, other, kerf):
    """Whether a saw passes between two boxes."""
    return any(
        a[side] + a[side + 2] + kerf <= b[side]
        for side in (0, 1)
        for a, b in ((one, other), (other, one))
    )


def comes_apart(boxes, kerf):
    """Whether cuts that go right through free every box from the others."""
    if len(boxes) < 2:
        return True
    for side in (0, 1):
        row = sorted(boxes, key=lambda box: box[side])
        reach = 0
        for count, box in enumerate(row):
            if count and reach + kerf <= box[side]:
                return comes_apart(row[:count], kerf) and comes_apart(row[count:], kerf)
            reach = max(reach, box[side] + box[side + 2])
    return False


def check_layout(project, layout: Layout):
    """Every piece once, as large as wanted, in clear wood of a board, a kerf apart."""
    boards = {board.name: board for board in project.boards}
    kerf = project.shop.kerf
    assert len({one.board for one in layout.sawn}) == len(layout.sawn)
    placed = Counter(want for one in layout.sawn for want, _ in one.pieces)
    for index, want in enumerate(layout.wants):
        assert placed[index] + layout.missing[index] == want.count
    for one in layout.sawn:
        board = boards[one.board]
        x, y, length, width = usable(board, project.shop)
        for box in (*spots(one), *one.left):
            assert x <= box[0]
            assert y <= box[1]
            assert box[0] + box[2] <= x + length
            assert box[1] + box[3] <= y + width
            assert min(box[2:]) > 0
        for index, box in one.pieces:
            want = layout.wants[index]
            assert box[2:] == (want.length, want.width)
            assert not any(m.forbids(want.face) and m.touches(*box) for m in board.marks)
        for a, b in combinations([*spots(one), *one.left], 2):
            assert apart(a, b, kerf)


generated = st.builds(
    project_of,
    st.builds(
        Size,
        parts=st.integers(1, 40),
        panels=st.integers(0, 6),
        boards=st.integers(1, 20),
        most=st.integers(1, 6),
    ),
    st.integers(1, 10**6),
    marks=st.booleans(),
)


@given(generated, st.randoms(use_true_random=False), st.booleans())
@settings(max_examples=80, deadline=None)
def test_the_craftsman_places_every_piece_once_and_could_saw_it(project, rng, is_first):
    layout = craftsman.one_run(project, rng, is_first=is_first)
    check_layout(project, layout)
    for one in layout.sawn:
        assert comes_apart([*spots(one), *one.left], project.shop.kerf)


def test_the_check_of_cuts_refuses_a_pinwheel():
    # four boxes around a fifth: no cut goes right through
    pinwheel = [(0, 0, 2, 1), (2, 0, 1, 2), (1, 2, 2, 1), (0, 1, 1, 2), (1, 1, 1, 1)]
    assert not comes_apart(pinwheel, 0)
    assert comes_apart(pinwheel[:2], 0)


@pytest.mark.parametrize("marks", [False, True])
def test_the_craftsman_places_everything_where_wood_is_plenty(marks):
    best = craftsman.best_of(project_for("medium", 1, marks=marks), runs=5, seconds=60)
    assert best.runs == 5
    assert best.layout is not None
    assert best.layout.is_complete


@given(generated)
@settings(max_examples=30, deadline=None)
def test_the_packer_places_every_piece_once(project):
    found = packer.best_packing(project, seconds=0)
    if found.layout is not None:
        check_layout(project, found.layout)
        assert found.layout.is_complete
        assert found.cost == layout_cost(project, found.layout.sawn)


def test_what_a_packing_leaves_is_found_a_kerf_away():
    # 100 x 10 in, a piece of 40 x 4 in the corner, kerf 1/8 in = 8 steps. The largest is
    # beside it, 59 7/8 x 10 in; above it, up to the kerf of that, 40 x 5 7/8 in are left
    shop = project_for("small", 1).shop
    found = packer.empty_boxes(
        (0, 0, 100 * INCH, 10 * INCH), [(0, 0, 40 * INCH, 4 * INCH)], shop
    )
    assert found == [
        (40 * INCH + 8, 0, 60 * INCH - 8, 10 * INCH),
        (0, 4 * INCH + 8, 40 * INCH, 6 * INCH - 8),
    ]


def test_a_panel_comes_in_the_fewest_equal_staves_that_add_up():
    # 14 in and 1/2 in allowance: three staves of 4 5/6, up to 1/16 and a joint of 1/8:
    # 309 1/3 steps -> 310 + 8 -> whole sixteenths (4 steps) 320
    project = project_for("small", 1)
    panel = next(part for part in project.parts if part.build == "panel")
    one = replace(project, parts=(replace(panel, width=14 * INCH),))
    (blank,) = blanks_for(one)
    assert equal_staves(blank, project.shop, 0) == (3, 320)
    # four staves of 3 5/8 net: 232 + 8 = 240
    assert equal_staves(blank, project.shop, 1) == (4, 240)
    assert [want.count for want in wants_for(one)] == [3 * panel.qty]


# --- costs ----------------------------------------------------------------------------


def test_a_layout_costs_boards_and_a_trip_less_what_is_kept():
    # A rack board of 96 x 6 in is 4 board feet at 2: 8.00; a yard board as large at 9:
    # 36.00, and the trip 12.00. Kept of it 24 x 3 in: 1/2 board foot x 9 x 50 % = 2.25
    project = project_for("small", 1)
    size = {"length": 96 * INCH, "width": 6 * INCH, "width2": 6 * INCH}
    first, second = (
        replace(board, name=name, where=where, **size)
        for board, name, where in zip(
            project.boards, ("R", "Y"), ("rack", YARD), strict=False
        )
    )
    project = replace(project, boards=(first, second))
    assert cost_of(project, ["R"], []) == Decimal(8)
    assert cost_of(project, ["R", "Y"], [("Y", 24 * 3 * INCH**2)]) == Decimal("53.75")
    # an offcut of 24 x 2 in is too narrow to keep
    sawn = [Sawn("Y", (), ((0, 0, 24 * INCH, 2 * INCH),))]
    assert layout_cost(project, sawn) == Decimal(48)


@pytest.mark.parametrize(("seed", "marks"), [(1, False), (2, True), (3, False)])
def test_a_plan_costs_the_same_by_the_costs_of_layouts(seed, marks):
    project = project_for("small", seed, marks=marks)
    plan = solve(project, SolveParams(seconds=1, seed=seed))
    kept = [
        (one.board, offcut.length * offcut.width)
        for one in plan.boards
        for offcut in one.offcuts
        if offcut.keep
    ]
    assert cost_of(project, [one.board for one in plan.boards], kept) == plan.totals.cost


# --- published instances --------------------------------------------------------------


def instance(**changes):
    return {
        "id": "test", "kind": "2d-csp", "stages": 3, "first_cut": "crosscut",
        "cut_type": "nonexact", "rotation": False, "kerf": 0, **changes,
    }  # fmt: skip


def stock(length, width, cost=1):
    return {"length": length, "width": width, "qty": None, "cost": cost, "defects": []}


def items(*rows):
    names = ("length", "width", "qty", "value")
    return [dict(zip(names, row, strict=True)) for row in rows]


# Gilmore & Gomory (1961) Oper. Res. 9:849-859: three stock lengths, cost 170
GG61 = instance(
    id="gg61", kind="1d-csp", stages=1, cut_type="exact", best_known=170,
    stock=[stock(5, 1, 6), stock(6, 1, 7), stock(9, 1, 10)],
    items=items((2, 1, 20, None), (3, 1, 10, None), (4, 1, 20, None)),
)  # fmt: skip
# Cung, Hifi & Le Cun (2000) Int. Trans. Oper. Res. 7:185-210, CHL5. One sheet: 363, by an
# integer program of the whole sheet, not published. All pieces: 3 sheets (Silva, Alvelos
# & Valerio de Carvalho 2010, EJOR 205:699-708), where the first cuts are our rips: there
# the pieces are turned
CHL5_ITEMS = items(
    (14, 2, 1, 28), (1, 5, 1, 5), (20, 4, 2, 80), (12, 3, 3, 36), (11, 8, 2, 88),
    (11, 6, 2, 66), (7, 9, 1, 63), (17, 5, 1, 85), (7, 14, 2, 98), (1, 7, 3, 7),
)  # fmt: skip
CHL5 = instance(
    id="CHL5", kind=published.FILLING, stock=[stock(20, 20)], items=CHL5_ITEMS,
    best_known=363,
)  # fmt: skip
CHL5_SHEETS = {
    **CHL5, "id": "CHL5 sheets", "kind": "2d-csp", "best_known": 3,
    "items": [
        {**one, "length": one["width"], "width": one["length"]} for one in CHL5_ITEMS
    ],
}  # fmt: skip


@pytest.mark.parametrize("one", [GG61, CHL5], ids=lambda one: one["id"])
def test_a_small_published_instance_is_solved_and_proven(one):
    found = published.run(one, seconds=10)
    assert (found.value, found.bound, found.gap) == (
        one["best_known"], one["best_known"], 0,
    )  # fmt: skip


def test_an_instance_planned_as_a_project_costs_what_its_boards_cost():
    project = published.project_of(GG61, published.boards_for(GG61))
    costs = {board.length: project.tariff.cost(board) for board in project.boards}
    assert costs == {5: 600, 6: 700, 9: 1000}
    assert [blank.sizes for blank in blanks_for(project)] == [((n, 1),) for n in (2, 3, 4)]
    assert project.shop.resaw_height == 0  # thin as they are, pieces would be resawn


def test_a_plan_of_sheets_stays_between_bound_and_first_fit():
    found = published.run(CHL5_SHEETS, seconds=3)
    assert found.bound <= 3 <= found.value <= len(published.boards_for(CHL5_SHEETS))


def test_first_fit_counts_boards_section_by_section():
    # 10 x 6: 6 x 4 opens a section of 6; 5 x 4 is too wide for it and opens one of 5,
    # which is too long for the first board; 4 x 2 fits beside the first piece
    pieces = items((6, 4, 1, None), (5, 4, 1, None), (4, 2, 1, None), (11, 1, 9, None))
    assert published.shelved(pieces, 10, 6) == 2


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({}, None),
        ({"stages": 2, "first_cut": "rip"}, None),
        ({"stages": 2, "first_cut": "crosscut"}, None),
        ({"stages": "any", "first_cut": "any"}, None),
        ({"first_cut": "rip"}, "3 stages, first cut rip"),
        ({"kind": "2d-defects"}, "kind 2d-defects"),
        ({"rotation": True}, "turned"),
        ({"kerf": 1}, "kerf"),
        ({"cut_type": "exact"}, "as wide as their strips"),
    ],
)
def test_an_instance_that_our_cuts_do_not_cover_is_named_with_the_reason(changes, words):
    why = published.misfit(instance(stock=[stock(9, 9)], **changes))
    assert why is None if words is None else words in why


# Furini, Malaguti & Thomopulos (2016) INFORMS J. Comput. 28:736-751: 390 in any stages.
# Without limits: 5 x (20, 4) has the area of the sheet, and value is area
ANY = {**CHL5, "stages": "any", "first_cut": "any"}
ANY_NUMBER = {**ANY, "items": [{**one, "qty": None} for one in CHL5_ITEMS]}


@pytest.mark.parametrize(("one", "optimum"), [(ANY, 390), (ANY_NUMBER, 400)])
def test_an_instance_for_any_stages_is_cut_from_a_sheet(one, optimum):
    assert published.engines(one) == ("sheets",)
    found = published.run({**one, "best_known": optimum}, 10, "sheets")
    assert (found.value, found.bound, found.gap, found.way) == (
        optimum, optimum, 0, "one sheet",
    )  # fmt: skip


def test_stock_for_a_demand_is_cut_by_both_engines():
    assert published.engines(CHL5_SHEETS) == ("boards", "sheets")
    found = published.run(CHL5_SHEETS, 5, "sheets")
    assert (found.value, found.bound, found.engine) == (3, 3, "sheets")


def test_the_check_of_a_sheet_refuses_a_piece_that_does_not_fit():
    wants = [Want(((4, 3),), 2)]
    sheet = Stock(length=8, width=3, cost=1, count=1, serves=frozenset({0}))
    assert held_in_sheet(wants, sheet, Split("crosscut", 4, Leaf(0), Leaf(0))) == {0: 2}
    for tree in (
        Split("crosscut", 5, Leaf(0), Leaf(0)),  # 3 is left for the second
        Split("rip", 3, Leaf(0), None),  # nothing is cut off
        Split("rip", 2, None, Leaf(0)),  # 1 is left
    ):
        with pytest.raises(AssertionError):
            held_in_sheet(wants, sheet, tree)


def test_a_gap_is_how_much_worse_ours_is():
    # two stages may do worse than three: 363 against a best known 344 is 19/344 better
    found = published.run({**CHL5, "best_known": 344}, seconds=10)
    assert found.gap == pytest.approx(float(Fraction(-19, 344)))


# --- the commands ---------------------------------------------------------------------


def run(*arguments):
    result = CliRunner().invoke(benchmark, [str(one) for one in arguments])
    assert result.exit_code == 0, result.output
    return result


def test_projects_prints_a_row_per_seed_and_the_medians(tmp_path):
    out = tmp_path / "table.md"
    result = run(
        "projects", "--size", "small", "--seeds", 2, "--seconds", "0.3",
        "--runs", 2, "--out", out,
    )  # fmt: skip
    rows = [line.split(" | ") for line in out.read_text().splitlines()[2:5]]
    assert [row[1] for row in rows] == ["1", "2", "median"]
    assert [row[8] for row in rows] == ["yes", "yes", "2 of 2"]
    assert out.read_text() in result.stdout
    assert "small 1" in result.stderr
    # the median of two costs is their mean
    first, second, middle = (float(row[4]) for row in rows)
    assert middle == pytest.approx((first + second) / 2, abs=0.006)


def outcome(limit, cost, saved_from=Decimal(200)):
    return runs.Outcome(
        size="small", seed=1, limit=limit, took=limit, cost=cost, bound=Decimal(90),
        gap=None, first=None, is_verified=True,
        rivals=runs.Rivals(packed=saved_from, crafted=None, runs=0),
    )  # fmt: skip


def test_each_time_limit_has_its_own_medians_and_short_plans_stay_out_of_them():
    costs = [Decimal(100), None, Decimal(120), Decimal(180)]
    text = runs.report([outcome(1.0, cost) for cost in costs] + [outcome(5.0, costs[0])])
    rows = [line.split(" | ") for line in text.splitlines()[2:9]]
    # 100, 120, 180: 120 in the middle; 40 % below 200
    middle = [(row[2], row[4], row[12]) for row in rows if row[1] == "median"]
    assert middle == [("1", "120.00", "40.0 %"), ("5", "100.00", "50.0 %")]
    assert rows[1][4] == "-"


def test_an_interrupted_run_shows_what_was_done(monkeypatch):
    def interrupted(*_, **__):
        yield outcome(1.0, Decimal(100))
        raise KeyboardInterrupt

    monkeypatch.setattr(runs, "run_size", interrupted)
    result = run("projects", "--size", "small")
    assert "| 100.00 |" in result.stdout
    assert "stopped" in result.stderr


def test_literature_lists_what_was_run_and_what_was_not(tmp_path):
    for one in (GG61, {**ANY, "best_known": 390}, {**CHL5, "id": "other", "stages": 4}):
        (tmp_path / f"{one['id']}.json").write_text(json.dumps(one))
    text = run("literature", tmp_path, "--seconds", 5).stdout
    assert "| gg61 | boards | 170 | 170 | 0.00 % | 170 | patterns |" in text
    assert "| CHL5 | sheets | 390 | 390 | 0.00 % | 390 | one sheet |" in text
    assert "| other | best known value is for 4 stages" in text
    assert "2 of 2 runs meet the best known value" in text


def test_profile_names_functions_by_their_place_in_the_project():
    text = run("profile", "--size", "small", "--seconds", 0.5).stdout
    assert "peak memory" in text
    assert "`nesting/" in text


def test_set_ups_counts_settings_of_the_fence():
    printed = run("set-ups", "--size", "small", "--seeds", 1, "--seconds", 0.5)
    cells = r"\| small \| 1 \| (\d+) \| (\d+) \| (\d+) % \|"
    (row,) = re.findall(cells, printed.stdout)
    settings, before, fewer = map(int, row)
    assert 0 < settings <= before
    assert fewer == round(100 * (before - settings) / before)


def test_time_limits_that_are_no_numbers_are_refused():
    result = CliRunner().invoke(benchmark, ["projects", "--seconds", "10;60"])
    assert result.exit_code == 2
    assert "numbers with commas" in result.output


def test_the_developers_page_maps_the_benchmark():
    root = Path(__file__).resolve().parents[1]
    text = (root / "DEVELOPERS.md").read_text(encoding="utf-8")
    part = text.split("### `tests/benchmark`")[1].split("\n## ")[0]
    names = {path.name for path in (root / "tests" / "benchmark").glob("*.py")}
    names -= {"__init__.py", "__main__.py"}
    assert {name for name in names if f"| `{name}` |" not in part} == set()
