"""What comes out of windows, in the reports; the bench is that of the samples.

Its rail of 40 x 3 in, cut from board Y1, is drawn with a window of 28 x 2 1/2 in, 6 in
along and 1/4 in across. The blank of a caul of 12 x 2 in lies a kerf of 1/8 in within.
"""

from dataclasses import replace

from nesting.drawn import Drawn
from nesting.part_windows import taken_from_windows
from nesting.parts import Part
from nesting.plan import Shortage
from nesting.problem import problem_for
from reports.cautions import cautions_for
from reports.drawings import Area, Label
from reports.from_offcuts import made_from_offcuts, not_from_offcuts
from reports.sheets.content import content_for
from reports.sheets.windows import window_blocks
from reports.window_views import window_view
from reports.workbook import pages_for
from tests.samples import OAK, bench_plan, bench_project, inch


def planned(*, window=True):
    caul = Part(
        name="Caul", qty=1, length=inch(12), width=inch(2), thickness=inch("3/4"),
        species=OAK, face="hidden", source="offcut",
    )  # fmt: skip
    rim = ((0, 0), (inch(40), 0), (inch(40), inch(3)), (0, inch(3)))
    hole = tuple(
        (inch(x), inch(y)) for x, y in ((6, "1/4"), (34, "1/4"), (34, "11/4"), (6, "11/4"))
    )
    old = bench_project()
    drawn = Drawn(rim, (hole,) if window else ())
    rail = replace(old.part("Rail"), shape="outline", drawn=drawn)
    project = replace(old, parts=(*old.parts[:-1], rail, caul))
    missing = (Shortage(part="Caul", copy=1, why="no leftover holds it"),)
    problem = problem_for(project, "offcut")
    given = taken_from_windows(project, problem, bench_plan(), missing)
    plan = replace(bench_plan(), from_windows=given, not_made=() if given else missing)
    return project, plan


def texts(name, *case):
    content = content_for(*case, lambda _: None)
    (page,) = [one for one in pages_for(content) if one.name == name]
    cells = [cell.value for row in page.rows for cell in row.cells if cell]
    return [value for value in cells if isinstance(value, str)]


def test_a_copy_from_a_window_is_made():
    case = planned()
    assert made_from_offcuts(*case) == {("Caul", 1): "window of Rail 1"}
    assert not_from_offcuts(*case) == {}


def test_the_parts_sheet_traces_it_to_its_window():
    found = texts("Parts", *planned())
    at = found.index("Caul 1")
    assert found[at + 1] == "window of Rail 1"
    assert found[at + 2].startswith("sawn out with the window")


def test_the_board_of_the_part_says_what_to_keep():
    project, plan = planned()
    line = (
        "1: Caul 1, 13 \N{MULTIPLICATION SIGN} 2 1/4 rough, from the low corner of the"
        " outline 6 1/8 along the grain and 3/8 across"
    )
    assert texts("Boards", project, plan).count(line) == 1
    content = content_for(project, plan, lambda _: None)
    boards = [cut.board for cut in plan.boards if any(window_blocks(content, cut, 9))]
    assert boards == ["Y1"]


def test_the_outline_is_drawn_with_its_window_and_what_comes_out():
    project, plan = planned()
    drawn = project.part("Rail").drawn
    view = window_view(drawn, plan.from_windows, "Rail")
    rim, hole, piece = [one for one in view.shapes if isinstance(one, Area)]
    assert rim.points == drawn.rim
    assert (hole.points, hole.hatch) == (drawn.windows[0], "waste")
    # 6 + 1/8 in, 1/4 + 1/8 in; 13 x 2 1/4 in further
    assert (piece.points[0], piece.points[2]) == ((392, 24), (392 + 832, 24 + 144))
    (label,) = [one for one in view.shapes if isinstance(one, Label)]
    assert label.text == "1: Caul 1"
    assert view.across == view.upward
    assert inch(40) * view.across <= view.width
    assert inch(3) * view.upward <= view.height


def test_a_window_brings_a_caution():
    found = {one.topic for one in cautions_for(*planned(), lambda _: 700.0)}
    assert "From windows" in found
    without = {one.topic for one in cautions_for(*planned(window=False), lambda _: 700.0)}
    assert without == found - {"From windows"}
