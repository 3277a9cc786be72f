"""A project from a drawing: one part per outline, never over something else."""

import csv

import ezdxf
import pytest

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
