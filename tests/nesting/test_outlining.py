"""Outlines from drawings, written here, against closed forms; faults as a maker sees them.

Corners lie within 1 1/2 grid steps (0.15 mm) of what is drawn, so an area is off by that
times the length of the edge at most, in practice by far less.
"""

import math

import ezdxf
import pytest
import shapely
from ezdxf.math import rational_bspline_from_arc

from nesting.drawing import read_drawing
from nesting.outlining import outline_of, shapes_of
from nesting.project import read_project
from nesting.rings import twice_area
from nesting.strokes import DrawingError
from stock.errors import InputError
from stock.measures import Unit

STRAY = 0.15  # mm


def dxf(path, draw, unit=4):
    """Write a DXF file; $INSUNITS 4 is millimetres, 1 inches, 0 unknown (DXF Reference)."""
    document = ezdxf.new()
    document.header["$INSUNITS"] = unit
    draw(document.modelspace())
    document.saveas(path)
    return path


def svg(path, content):
    """Write an SVG file of 400 x 400 mm whose user unit is 1 mm."""
    head = '<svg xmlns="http://www.w3.org/2000/svg" width="400mm" height="400mm"'
    path.write_text(f'{head} viewBox="0 0 400 400">{content}</svg>', encoding="utf-8")
    return path


def drawn(path, name=None, angle=None, unit=Unit.MM):
    shapes = shapes_of(read_drawing(path), unit)
    return outline_of(shapes, shapes.called(name), unit, angle)


def area(outline):
    """Area in mm2, by our shoelace formula; shapely must agree."""
    twice = twice_area(outline.rim) - sum(twice_area(ring) for ring in outline.windows)
    body = shapely.Polygon(outline.rim, outline.windows)
    assert body.is_valid
    assert body.area == twice / 2
    return twice / 200


def slot(space):
    at = {"dxfattribs": {"layer": "part"}}
    space.add_line((0, 0), (300, 0), **at)
    space.add_line((300, 100), (0, 100), **at)  # drawn in no order, and both ways
    space.add_arc((0, 50), 50, 90, 270, **at)
    space.add_arc((300, 50), 50, -90, 90, **at)


def nurbs(space):
    spline = space.add_spline(dxfattribs={"layer": "part"})
    spline.apply_construction_tool(rational_bspline_from_arc((0, 0), 100, 0, 360))


@pytest.mark.parametrize(
    ("draw", "true", "edge", "size"),
    [
        # circle: pi r^2, 2 pi r
        (lambda s: s.add_circle((9, 9), 150), math.pi * 150**2, math.pi * 300, (300, 300)),
        # ellipse: pi a b; its edge is shorter than that of the circle around it
        (lambda s: s.add_ellipse((0, 0), (200, 0), 0.4), math.pi * 200 * 80,
         math.tau * 200, (400, 160)),
        (slot, 300 * 100 + math.pi * 50**2, 600 + math.pi * 100, (400, 100)),
        # two half circles as bulges of 1
        (lambda s: s.add_lwpolyline([(0, 0, 1), (100, 0, 1)], format="xyb", close=True),
         math.pi * 50**2, math.pi * 100, (100, 100)),
        # both ends hollow: half circles as bulges that run clockwise, first and last
        (lambda s: s.add_lwpolyline(
            [(100, 0, -1), (100, 50, 0), (0, 50, -1), (0, 0, 0)], format="xyb", close=True),
         5000 - math.pi * 25**2, 200 + math.pi * 50, (100, 50)),
        # one hollow end, in the middle of the polyline
        (lambda s: s.add_lwpolyline(
            [(0, 0, 0), (100, 0, -1), (100, 50, 0), (0, 50, 0)], format="xyb", close=True),
         5000 - math.pi * 25**2 / 2, 250 + math.pi * 25, (100, 50)),
        # a circle as a rational spline
        (nurbs, math.pi * 100**2, math.tau * 100, (200, 200)),
    ],
)  # fmt: skip
def test_curves_of_a_dxf_file_have_the_area_of_closed_forms(
    draw, true, edge, size, tmp_path
):
    outline = drawn(dxf(tmp_path / "a.dxf", draw))
    assert abs(area(outline) - true) <= STRAY * edge
    # need rounds up: never smaller, and by a step at most
    assert size[0] * 10 <= outline.length <= size[0] * 10 + 1
    assert size[1] * 10 <= outline.width <= size[1] * 10 + 1


@pytest.mark.parametrize(
    ("content", "true", "edge"),
    [
        ('<circle cx="99" cy="99" r="50"/>', math.pi * 50**2, math.pi * 100),
        ('<ellipse transform="translate(200 200) rotate(30)" rx="80" ry="20"/>',
         math.pi * 80 * 20, math.tau * 80),
        # a parabola of base 100 and height 50: 2/3 of its rectangle (Archimedes)
        ('<path d="M0 0 Q 50 100 100 0 Z"/>', 2 / 3 * 100 * 50, 300),
        ('<path d="M200 300h100v80h-100z M220 320v20h30v-20z"/>', 8000 - 600, 0),
        ('<polygon points="0,0 300,0 0,40"/>', 6000, 0),
    ],
)  # fmt: skip
def test_curves_of_an_svg_file_have_the_area_of_closed_forms(content, true, edge, tmp_path):
    assert abs(area(drawn(svg(tmp_path / "a.svg", content))) - true) <= STRAY * edge


def test_the_blank_is_the_smallest_rectangle_along_the_grain(tmp_path):
    """A plate of 200 x 50 mm at 30 degrees, by angle, and by a line on layer GRAIN."""
    cos, sin = math.cos(math.radians(30)), math.sin(math.radians(30))
    corners = [
        (x * cos - y * sin, x * sin + y * cos)
        for x, y in ((0, 0), (200, 0), (200, 50), (0, 50))
    ]

    def plate(space, *, grain):
        space.add_lwpolyline(corners, close=True, dxfattribs={"layer": "leg"})
        if grain:
            line = ((10, 20), (10 + 50 * cos, 20 + 50 * sin))
            space.add_line(*line, dxfattribs={"layer": "Grain"})

    bare = dxf(tmp_path / "bare.dxf", lambda space: plate(space, grain=False))
    told = dxf(tmp_path / "told.dxf", lambda space: plate(space, grain=True))
    for outline in (drawn(bare, "leg", 30), drawn(told)):
        assert (outline.length, outline.width) == (2000, 500)
    along_x = drawn(bare)
    # 200 cos 30 + 50 sin 30 = 198.205 mm; 200 sin 30 + 50 cos 30 = 143.3013 mm, of which
    # 0.0013 mm is what decimals of a file may add
    assert (along_x.length, along_x.width) == (1983, 1433)


def test_units_of_a_drawing_count(tmp_path):
    """10 inches in a metric project are 254 mm; without a unit they are the project's."""

    def plate(space):
        space.add_lwpolyline([(0, 0), (10, 0), (10, 2), (0, 2)], close=True)

    inches = dxf(tmp_path / "inch.dxf", plate, unit=1)
    assert drawn(inches).length == 2540
    assert drawn(inches, unit=Unit.INCH).length == 640
    assert drawn(dxf(tmp_path / "none.dxf", plate, unit=0)).length == 100


# --- faults ---------------------------------------------------------------------------


def box(space, x=0, layer="a"):
    corners = [(x, 0), (x + 90, 0), (x + 90, 40), (x, 40)]
    space.add_lwpolyline(corners, close=True, dxfattribs={"layer": layer})


def open_box(space):
    space.add_lwpolyline([(0, 0), (90, 0), (90, 40)], dxfattribs={"layer": "a"})


def bow(space):
    corners = [(0, 0), (90, 40), (90, 0), (0, 40)]
    space.add_lwpolyline(corners, close=True, dxfattribs={"layer": "a"})


def two_on_one(space):
    box(space)
    box(space, 200)


def two_layers(space):
    box(space)
    box(space, 200, "b")


@pytest.mark.parametrize(
    ("draw", "shape", "told"),
    [
        (open_box, "outline a.dxf", "open"),
        (bow, "outline a.dxf", "crosses or touches itself"),
        (two_on_one, "outline a.dxf", "beside each other"),
        (two_layers, "outline a.dxf", "of 'a', 'b'"),
        (box, "outline a.dxf#lid", "holds no outline 'lid'"),
        (box, "outline b.dxf", "no file 'b.dxf'"),
    ],
)
def test_a_fault_names_sheet_row_and_column(draw, shape, told, tmp_path):
    dxf(tmp_path / "a.dxf", draw)
    with pytest.raises(InputError) as raised:
        project_in(tmp_path, shape, "", "")
    faults = [one for one in raised.value.faults if one.column == "shape"]
    assert [(one.source, one.row) for one in faults] == [("parts.csv", 2)]
    assert told in str(faults[0])


def project_in(folder, shape, length, width):
    rows = ["part,qty,length,width,thickness,species,shape"]
    rows.append(f"Arm,1,{length},{width},18,oak,{shape}")
    (folder / "parts.csv").write_text("\n".join(rows), encoding="utf-8")
    (folder / "shop.csv").write_text("setting,value\nunit,mm\n", encoding="utf-8")
    return read_project(folder)


def test_blank_sizes_come_from_the_drawing_and_others_must_agree(tmp_path):
    dxf(tmp_path / "a.dxf", box)
    for sizes in (("", ""), ("90", "40")):
        (part,) = project_in(tmp_path, "outline a.dxf", *sizes).parts
        assert (part.length, part.width, part.drawn.width) == (900, 400, 400)
    with pytest.raises(InputError, match="the drawing's width is 40 mm"):
        project_in(tmp_path, "outline a.dxf", "90", "45")


@pytest.mark.parametrize(
    "content",
    [
        b"", b"\x00\xff\xfe", b"0\nSECTION\n", b"0\nEOF", b"<svg", b"<html/>",
        b'<!DOCTYPE s [<!ENTITY a "aa"><!ENTITY b "&a;&a;">]><svg>&b;</svg>',
        b'<!DOCTYPE s [<!ENTITY a SYSTEM "file:///etc/hostname">]><svg>&a;</svg>',
        b'<svg xmlns="http://www.w3.org/2000/svg">' + b"<g>" * 300 + b"</g>" * 300,
        b'<svg xmlns="http://www.w3.org/2000/svg"><path d="M0 0 L nan inf Z"/></svg>',
    ],
)  # fmt: skip
@pytest.mark.parametrize("ending", ["dxf", "svg"])
def test_a_broken_or_hostile_file_is_told_and_nothing_else(content, ending, tmp_path):
    path = tmp_path / f"a.{ending}"
    path.write_bytes(content)
    with pytest.raises(DrawingError):
        drawn(path)
