"""A project from a drawing: one part per outline, never over something else."""

import csv
import tempfile
from pathlib import Path

import ezdxf
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nesting.project import read_project
from reports.cli import main
from reports.from_drawing import project_from
from stock.errors import InputError
from stock.measures import Unit


def box(space, layer, x, length, width):
    corners = [(x, 0), (x + length, 0), (x + length, width), (x, width)]
    space.add_lwpolyline(corners, close=True, dxfattribs={"layer": layer})


def drawing(folder, *texts, code=4, more=lambda _: None):
    """Two plates of 90 x 40 and 60 x 30; texts as (words, x, layer)."""
    document = ezdxf.new()
    document.header["$INSUNITS"] = code
    space = document.modelspace()
    box(space, "Arm", 0, 90, 40)
    box(space, "Foot", 200, 60, 30)
    for words, x, layer in texts:
        space.add_text(words, dxfattribs={"layer": layer, "insert": (x, 10)})
    more(space)
    document.saveas(folder / "plates.dxf")
    return folder / "plates.dxf"


def made(folder, *texts, **changes):
    path = drawing(folder, *texts, **changes)
    return project_from(path, "oak", "18", None, folder / "new")


def quantities(folder):
    with (folder / "new" / "parts.csv").open(encoding="utf-8", newline="") as file:
        return {row["part"]: row["qty"] for row in csv.DictReader(file)}


def test_each_outline_becomes_a_part_with_the_quantity_beside_it(tmp_path):
    found = made(tmp_path, ("4x", 20, "notes"), ("Qty 2", 270, "0"), ("see text", 5, "0"))
    assert quantities(tmp_path) == {"Arm": "4", "Foot": "2"}
    project = read_project(found.folder)
    sizes = {part.name: (part.length, part.width, part.qty) for part in project.parts}
    assert sizes == {"Arm": (900, 400, 4), "Foot": (600, 300, 2)}
    assert project.unit is Unit.MM
    assert sorted(path.name for path in tmp_path.iterdir()) == ["new", "plates.dxf"]


def test_a_text_on_the_layer_of_an_outline_is_its_own_wherever_it_stands(tmp_path):
    made(tmp_path, ("3", 20, "Foot"))
    assert quantities(tmp_path) == {"Arm": "1", "Foot": "3"}


def test_a_drawing_without_a_unit_needs_one_said(tmp_path):
    with pytest.raises(InputError, match="names no unit: say --unit"):
        made(tmp_path, code=0)
    found = project_from(tmp_path / "plates.dxf", "oak", "3/4", Unit.INCH, tmp_path / "new")
    assert read_project(found.folder).part("Arm").length == 90 * 64
    assert any("names no unit: it counts as in" in line for line in found.lines)


def open_line(space):
    space.add_line((0, 90), (50, 90), dxfattribs={"layer": "Rail"})


@pytest.mark.parametrize(
    ("texts", "more", "told"),
    [
        ([("2", 20, "0"), ("3", 30, "0")], lambda _: None, "Arm: 2 and 3 stand beside it"),
        ([("0", 20, "0")], lambda _: None, "Arm: 0 stands beside it"),
        ([], open_line, "Rail: the outline is open"),
        ([], lambda space: box(space, "Arm", 400, 9, 9), "holds 2 outlines"),
        ([], lambda space: box(space, "Arm grain 30", 400, 9, 9), "read as something else"),
    ],
)
def test_a_faulty_drawing_writes_nothing(texts, more, told, tmp_path):
    with pytest.raises(InputError, match=told):
        made(tmp_path, *texts, more=more)
    assert [path.name for path in tmp_path.iterdir()] == ["plates.dxf"]


def test_a_thickness_that_is_no_size_writes_nothing(tmp_path):
    with pytest.raises(InputError, match="thickness"):
        project_from(drawing(tmp_path), "oak", "thick", None, tmp_path / "new")
    assert [path.name for path in tmp_path.iterdir()] == ["plates.dxf"]


def test_the_command_makes_it_once_and_leaves_it_alone_then(tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    drawing(tmp_path)
    call = ["check", "plates.dxf", "--species", "oak", "--thickness", "18"]
    assert main(call) == 1  # no wood is listed yet
    out = capsys.readouterr().out
    assert "written to plates" in out
    assert "Arm: 1 of 90 x 40 mm" in out
    before = (tmp_path / "plates" / "parts.csv").read_bytes()
    assert main(call) == 2
    assert "plates: is there already and is left alone" in capsys.readouterr().err
    assert (tmp_path / "plates" / "parts.csv").read_bytes() == before
    assert main([*call, "--into", "other"]) == 1
    assert main(["check", "plates.dxf"]) == 2
    assert main(["check", "plates", "--species", "oak"]) == 2


@pytest.mark.parametrize("words", ["4", "x4", "4 x", "4x", "qty 4", "Qty: 4"])
def test_a_quantity_is_written_in_several_ways(words, tmp_path):
    made(tmp_path, (words, 20, "0"))
    assert quantities(tmp_path) == {"Arm": "4", "Foot": "1"}


def half_round(space):
    """A stretch of 80 and a half circle of radius 40 over it, in inches."""
    space.add_line((0, 200), (80, 200), dxfattribs={"layer": "Crest"})
    space.add_arc((40, 200), 40, 0, 180, dxfattribs={"layer": "Crest"})
    space.add_line((40, 210), (40, 230), dxfattribs={"layer": "grain"})


def test_arcs_and_a_line_along_the_grain_give_length_and_width(tmp_path):
    found = made(tmp_path, code=1, more=half_round)
    project = read_project(found.folder)
    assert project.unit is Unit.INCH
    crest, arm = project.part("Crest"), project.part("Arm")
    assert (crest.length, crest.width) == (40 * 64, 80 * 64)  # the grain runs along y
    assert (arm.length, arm.width) == (90 * 64, 40 * 64)


SVG = """<svg xmlns="http://www.w3.org/2000/svg" width="300mm" height="100mm"
viewBox="0 0 300 100"><rect id="Arm" width="90" height="40"/><text x="20" y="20">4 x</text>
<g id="Foot"><rect x="200" width="60" height="30"/>
<text x="210" y="10">x2</text></g></svg>"""


def test_an_svg_drawing_names_parts_by_id_or_group(tmp_path):
    path = tmp_path / "plates.svg"
    path.write_text(SVG, encoding="utf-8")
    found = project_from(path, "oak", "18", None, tmp_path / "new")
    project = read_project(found.folder)
    sizes = {part.name: (part.length, part.width, part.qty) for part in project.parts}
    assert sizes == {"Arm": (900, 400, 4), "Foot": (600, 300, 2)}


def test_a_folder_can_not_be_made_in_one_that_is_not_there(tmp_path):
    with pytest.raises(InputError, match="is not there: make that first"):
        project_from(drawing(tmp_path), "oak", "18", None, tmp_path / "no" / "new")


def test_a_drawing_without_outlines_writes_nothing(tmp_path):
    document = ezdxf.new()
    document.header["$INSUNITS"] = 4
    document.saveas(tmp_path / "bare.dxf")
    with pytest.raises(InputError, match="holds no closed outline"):
        project_from(tmp_path / "bare.dxf", "oak", "18", None, tmp_path / "new")
    assert not (tmp_path / "new").exists()


@settings(max_examples=60, deadline=None)
@given(
    st.sampled_from([("x.dxf", b"", b"\nEOF\n"), ("x.svg", b"<svg>", b"</svg>")]),
    st.binary(max_size=200),
    st.booleans(),
)
def test_bytes_that_are_no_drawing_are_refused(kind, content, is_framed):
    name, before, after = kind
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / name
        path.write_bytes(before + content + after if is_framed else content)
        call = ["check", str(path), "--species", "oak", "--thickness", "18"]
        assert main([*call, "--into", str(Path(folder) / "new")]) == 2
        assert [one.name for one in Path(folder).iterdir()] == [name]
