"""Parts from offcuts out of windows: where they fit, brute force, broken by hand."""

import math
from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from nesting.drawn import Drawn
from nesting.offcut_parts import with_offcut_parts
from nesting.part_windows import corner_in, taken_from_windows
from nesting.parts import Part
from nesting.plan import Plan, Shortage, WindowPiece
from nesting.planfile import plan_from_json, plan_to_json
from nesting.problem import problem_for
from nesting.project import Project
from nesting.solve import SolveParams, solve
from nesting.verify import verify
from stock.boards import Mark
from tests.nesting.test_nests import project_with
from tests.samples import OAK, bench_plan, bench_project, inch

KERF = 8  # 1/8 in


def rectangle(x, y, length, width):
    return ((x, y), (x + length, y), (x + length, y + width), (x, y + width))


def fits(ring, size, corner, kerf=KERF):
    """Whether a rectangle lies a kerf from the edge, by distances and nothing else."""
    window, body = shapely.Polygon(ring), shapely.box(*corner, *np.add(corner, size))
    return window.covers(body) and window.exterior.distance(body) >= kerf - 1e-9


# --- a rectangle in a window ----------------------------------------------------------


def test_a_rectangle_fits_where_two_kerfs_are_over_and_no_step_less():
    window = shapely.Polygon(rectangle(100, 50, 200 + 2 * KERF, 60 + 2 * KERF))
    assert corner_in(window, (200, 60), KERF) == (108, 58)
    assert corner_in(window, (201, 60), KERF) is None
    assert corner_in(window, (200, 61), KERF) is None


def test_a_triangle_holds_the_rectangle_that_plane_geometry_says():
    # right triangle with legs a = b = 1000: a rectangle at the corner fits if x + y <= 1000
    window = shapely.Polygon([(0, 0), (1000, 0), (0, 1000)])
    assert corner_in(window, (600, 400), 0) == (0, 0)
    assert corner_in(window, (601, 400), 0) is None


def test_a_disc_holds_a_rectangle_as_long_as_its_diagonal_is_less_than_the_diameter():
    # Thales: corners of a rectangle on a circle; r = 1000, a 6-8-10 triangle of sides
    turns = [math.tau * k / 360 for k in range(360)]
    ring = [(1000 + 1000 * math.cos(t), 1000 + 1000 * math.sin(t)) for t in turns]
    assert corner_in(shapely.Polygon(ring), (1595, 1195), 0) is not None  # diagonal 1993
    assert corner_in(shapely.Polygon(ring), (1605, 1205), 0) is None  # diagonal 2007


def test_free_wood_with_a_hole_and_of_several_pieces_is_searched_through():
    wood = shapely.box(0, 0, 300, 100).difference(shapely.box(100, 20, 200, 80))
    assert corner_in(wood, (90, 100), 0) == (0, 0)
    assert corner_in(wood, (101, 30), 0) is None
    apart = wood.difference(shapely.box(0, 0, 150, 100))
    assert corner_in(apart, (100, 100), 0) == (200, 0)


@st.composite
def stars(draw):
    """A window with 3 to 9 corners around a point, of any waist; on the grid."""
    count = draw(st.integers(3, 9))
    radii = draw(st.lists(st.integers(15, 60), min_size=count, max_size=count))
    return tuple(
        (
            round(60 + radius * math.cos(math.tau * k / count)),
            round(60 + radius * math.sin(math.tau * k / count)),
        )
        for k, radius in enumerate(radii)
    )


def places(window, size, margin):
    """Every place on the grid where a rectangle has so much room on all its sides."""
    x, y = (grid.ravel() for grid in np.meshgrid(np.arange(121), np.arange(121)))
    shapely.prepare(window)
    length, width = size
    grown = shapely.box(x - margin, y - margin, x + length + margin, y + width + margin)
    return shapely.covers(window, grown)


@settings(max_examples=60, deadline=None)
@given(stars(), st.integers(5, 60), st.integers(5, 60), st.integers(0, 4))
def test_a_place_is_found_if_there_is_one(ring, length, width, kerf):
    """Against every place on the grid; one with a step to spare is not missed."""
    window = shapely.Polygon(ring)
    if not window.is_valid or window.area == 0:
        return
    size = (length, width)
    found = corner_in(window, size, kerf)
    if found is not None:
        assert fits(ring, size, found, kerf)
        assert places(window, size, kerf).any()
    if places(window, size, kerf + 1).any():
        assert found is not None


# --- through to the plan --------------------------------------------------------------


def caul(**changes: object) -> Part:
    """A caul of 12 x 2 x 3/4 in: its blank is 13 x 2 1/4 in."""
    part = Part(
        name="Caul", qty=1, length=inch(12), width=inch(2), thickness=inch("3/4"),
        species=OAK, face="hidden", source="offcut",
    )  # fmt: skip
    return replace(part, **changes)


def bench(*parts: Part, window: tuple[int, int, int, int] | None = None) -> Project:
    """The sample bench, its rail of 40 x 3 in drawn with a window of 28 x 2 1/2 in.

    Two blanks of 13 in with three kerfs take 26 3/8 in of it, all of its width.
    """
    old = bench_project()
    at = window or (inch(6), inch("1/4"), inch(28), inch("5/2"))
    drawn = Drawn(rectangle(0, 0, inch(40), inch(3)), (rectangle(*at),))
    rail = replace(old.part("Rail"), shape="outline", drawn=drawn)
    kept = tuple(part for part in old.parts if part.name != "Rail")
    return replace(old, parts=(*kept, rail, *parts))


def planned(project: Project) -> Plan:
    """The sample plan as if nothing that is left over held any part from offcuts."""
    missing = [
        Shortage(part=part.name, copy=copy, why="no leftover holds it")
        for part in project.parts
        if part.source == "offcut"
        for copy in range(1, part.copies + 1)
    ]
    problem = problem_for(project, "offcut")
    given = taken_from_windows(project, problem, bench_plan(), missing)
    made = {(one.part, one.copy) for one in given}
    rest = tuple(one for one in missing if (one.part, one.copy) not in made)
    plan = replace(bench_plan(), from_windows=given, not_made=rest)
    assert [str(violation) for violation in verify(project, plan)] == []
    return plan


def test_a_caul_comes_out_of_a_window():
    project = bench(caul())
    plan = planned(project)
    # 6 in + 1/8 and 1/4 + 1/8 in; 13 x 2 1/4 in
    assert plan.from_windows == (
        WindowPiece(
            name="Caul 1", part="Caul", copy=1, host="Rail", host_copy=1,
            x=392, y=24, length=832, width=144,
        ),
    )  # fmt: skip
    assert plan.not_made == ()


def test_a_window_gives_as_many_copies_as_lie_in_it_a_kerf_apart():
    """14 in of 28 in each, with three kerfs: a third does not fit."""
    plan = planned(bench(caul(qty=3)))
    assert [(one.copy, one.x) for one in plan.from_windows] == [(1, 392), (2, 392 + 840)]
    assert [one.copy for one in plan.not_made] == [3]


def test_what_is_left_over_of_boards_goes_first():
    """Wood of a window is free only once the part is sawn out; the bench has leftovers."""
    plan = with_offcut_parts(bench(caul()), bench_plan())
    assert plan.from_windows == ()
    assert plan.not_made == ()


def frame(**changes: object) -> Part:
    """A part of 20 x 7 in with a window of 18 x 5 in."""
    drawn = Drawn(
        rectangle(0, 0, inch(20), inch(7)),
        (rectangle(inch(1), inch(1), inch(18), inch(5)),),
    )
    part = Part(
        name="Frame", qty=1, length=inch(20), width=inch(7), thickness=inch("3/4"),
        species=OAK, shape="outline", outline="frame.svg", drawn=drawn,
    )  # fmt: skip
    return replace(part, **changes)


def test_a_plan_takes_from_windows_what_its_boards_leave_no_room_for():
    """Of a board of 24 x 7 1/2 in the frame leaves nothing: one of two cauls comes out.

    15 x 3 1/4 in lie in 18 x 5 in once.
    """
    part = caul(length=inch(14), width=inch(3), qty=2)
    project = replace(project_with(frame(), (24, 7.5)), parts=(frame(), part))
    plan = solve(project, SolveParams(steps=50))
    assert plan.status == "complete"
    assert [(one.part, one.host) for one in plan.from_windows] == [("Caul", "Frame")]
    assert [(one.part, one.copy) for one in plan.not_made] == [("Caul", 2)]


def test_a_window_a_step_too_small_gives_nothing():
    low = (inch(6), inch("1/4"), inch(28), inch("5/2") - 1)
    assert planned(bench(caul(), window=low)).from_windows == ()


@pytest.mark.parametrize(
    "changes",
    [
        {"species": "ash"},
        {"thickness": inch("13/16")},  # the rail is 3/4 in thick
        {"sawing": ("quarter",)},
        {"figure": "fleck"},
        {"build": "panel"},
        {"length": inch(10), "thickness": inch("1/2")},  # 11 in: too short to be planed
    ],
)
def test_wood_that_does_not_serve_is_not_taken_from_a_window(changes):
    assert planned(bench(caul(**changes))).from_windows == ()


def test_a_thinner_part_that_is_long_enough_is_planed_down():
    assert planned(bench(caul(thickness=inch("1/2")))).from_windows


def test_a_blank_with_a_mark_that_the_part_forbids_has_no_window_for_it():
    """A hidden rail may have worm holes, and then a caul that shows is not cut from it."""
    project = bench(caul(face="show"))
    assert planned(project).from_windows
    worm = Mark(kind="worm", start=inch(70), end=inch(71), low=0, high=inch(3))
    boards = tuple(
        replace(one, marks=(*one.marks, worm)) if one.name == "Y1" else one
        for one in project.boards
    )
    hidden = tuple(
        replace(part, face="hidden") if part.name == "Rail" else part
        for part in project.parts
    )
    marked = replace(project, boards=boards, parts=hidden)
    problem = problem_for(marked, "offcut")
    missing = [Shortage(part="Caul", copy=1, why="no leftover holds it")]
    assert taken_from_windows(marked, problem, bench_plan(), missing) == ()


def test_a_part_whose_grain_may_run_either_way_gives_nothing():
    project = bench(caul())
    parts = tuple(
        replace(part, grain="either") if part.name == "Rail" else part
        for part in project.parts
    )
    assert planned(replace(project, parts=parts)).from_windows == ()


def test_windows_of_panels_are_left_alone():
    old = bench_project()
    seat = old.part("Seat")
    hole = rectangle(inch(2), inch(2), inch(30), inch(8))
    drawn = Drawn(rectangle(0, 0, seat.length, seat.width), (hole,))
    parts = (replace(seat, shape="outline", drawn=drawn), *old.parts[1:], caul())
    plan = planned(replace(old, parts=parts))
    assert plan.from_windows == ()


def test_a_plan_file_keeps_what_windows_give():
    project = bench(caul(qty=2))
    plan = planned(project)
    text = plan_to_json(plan)
    assert plan_from_json(text, project.unit).from_windows == plan.from_windows
    assert "from_windows" not in plan_to_json(bench_plan())


# --- broken by hand -------------------------------------------------------------------


def broken(*parts: Part, number: int = 0, **changes: object) -> set[str]:
    """The rules that a plan breaks once a piece from the window is changed."""
    project = bench(*(parts or (caul(qty=2),)))
    plan = planned(project)
    pieces = list(plan.from_windows)
    pieces[number] = replace(pieces[number], **changes)
    changed = replace(plan, from_windows=tuple(pieces))
    return {violation.rule for violation in verify(project, changed)}


@pytest.mark.parametrize(
    ("changes", "rules"),
    [
        ({"x": 391}, {"windows"}),  # less than a saw cut from the end
        ({"x": 393}, {"windows"}),  # less than a saw cut from its neighbour
        ({"y": 400}, {"windows"}),  # beyond the window
        ({"length": 831}, {"length"}),
        ({"width": 143}, {"width"}),
        ({"host": "Seat"}, {"windows"}),
        ({"host": "nothing"}, {"windows"}),
        ({"host_copy": 2}, {"windows"}),
        ({"part": "nothing"}, {"parts"}),
        ({"copy": 2}, {"copies"}),
        ({"copy": 3}, {"parts"}),
        ({"name": "Caul 2"}, {"names"}),
    ],
)
def test_a_piece_that_a_window_can_not_give_is_caught(changes, rules):
    assert broken(**changes) == rules


def changed_rules(part_name: str, **changes: object) -> set[str]:
    """The rules that a sound plan breaks once its project has another part."""
    project = bench(caul())
    plan = planned(project)
    parts = tuple(
        replace(part, **changes) if part.name == part_name else part
        for part in project.parts
    )
    return {violation.rule for violation in verify(replace(project, parts=parts), plan)}


@pytest.mark.parametrize(
    ("part", "changes", "rules"),
    [
        ("Caul", {"source": "stock"}, {"windows"}),
        ("Caul", {"species": "ash"}, {"species"}),
        ("Caul", {"sawing": ("quarter",)}, {"sawing"}),
        ("Caul", {"figure": "fleck"}, {"figure"}),
        ("Caul", {"thickness": inch("13/16")}, {"windows"}),
        ("Caul", {"build": "panel"}, {"windows"}),
        ("Rail", {"drawn": None}, {"windows"}),
        ("Rail", {"grain": "either"}, {"windows"}),
    ],
)
def test_a_part_that_may_not_come_out_of_a_window_is_caught(part, changes, rules):
    assert changed_rules(part, **changes) == rules


def test_a_piece_too_short_for_the_planer_is_as_thick_as_its_host():
    project = bench(caul(length=inch(10)))
    plan = planned(project)
    assert plan.from_windows
    thin = tuple(
        replace(part, thickness=inch("1/2")) if part.name == "Caul" else part
        for part in project.parts
    )
    found = verify(replace(project, parts=thin), plan)
    assert [one.rule for one in found] == ["windows"]
