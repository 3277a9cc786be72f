"""Drawings with flaws: no number is guessed in silence, and none is without end."""

import io
import logging
import warnings

import ezdxf
import pytest

from nesting.dxf import read_dxf
from nesting.outlining import outline_of, shapes_of
from nesting.strokes import DrawingError
from nesting.svg import read_svg
from stock.measures import Unit

SVG = '<svg xmlns="http://www.w3.org/2000/svg" width="100mm" height="100mm">{}</svg>'


def plate() -> bytes:
    """A plate of 400 x 123.5 mm as a DXF file."""
    document = ezdxf.new()
    document.header["$INSUNITS"] = 4
    corners = [(0, 0), (400, 0), (400, 123.5), (0, 123.5)]
    document.modelspace().add_lwpolyline(corners, close=True, dxfattribs={"layer": "plate"})
    file = io.StringIO()
    document.write(file)
    return file.getvalue().encode()


def outlines(drawing):
    shapes = shapes_of(drawing, Unit.MM)
    return [outline_of(shapes, shape, Unit.MM, None) for shape in shapes.found]


def test_a_sound_file_has_no_flaws():
    drawing = read_dxf(plate())
    assert drawing.doubts == ()
    (drawn,) = outlines(drawing)
    assert (drawn.length, drawn.width) == (4000, 1235)


@pytest.mark.parametrize("wrong", ["12x3.5", "123,5", "1e999", "nan"])
def test_a_number_that_can_not_be_read_is_not_guessed(wrong, capfd):
    """A library that mends files takes 12x3.5 for 12: a part of another size."""
    packed = plate()
    assert packed.count(b"123.5") == 2
    with pytest.raises(DrawingError) as told:
        outlines(read_dxf(packed.replace(b"123.5", wrong.encode(), 1)))
    assert "number" in str(told.value)
    logging.getLogger("ezdxf").warning("said by the library alone")
    assert capfd.readouterr() == ("", "")


@pytest.mark.parametrize(
    "content",
    [
        '<path d="M0 0H50V50H0Z M10 10H1e30V20Z"/>',
        '<path d="M0 0H1e200V50H0Z"/>',
        '<path d="M0 0C1e14 0 0 1e308 9 9Z"/>',
        '<g transform="scale(1e300)"><text x="1e300" y="0">2</text></g>',
        '<g transform="scale(1e300)"><rect width="1e300" height="9"/></g>',
    ],
)
def test_sizes_without_an_end_are_told_or_left_out_and_warn_nobody(content):
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        try:
            found = outlines(read_svg(SVG.format(content).encode()))
        except DrawingError as error:
            assert str(error)  # noqa: PT017 - either will do
        else:
            assert found == []
