"""What a drawing holds, whatever its file format: lines, texts, the way of the grain."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TypeAlias

from nesting.strokes import DrawingError, Piece
from stock.measures import Unit

MOST_BYTES = 10_000_000  # of a drawing; one of a part is far below a megabyte
MOST_THINGS = 20_000  # lines and curves in it
ENDINGS = (".dxf", ".svg")

Spot: TypeAlias = tuple[float, float]  # x, y in units of the drawing


@dataclass(frozen=True, slots=True, eq=False)
class Line:
    """A drawn line, of one piece or of several that follow each other.

    Attributes
    ----------
    names
        Its layer in a DXF file; in an SVG file its id, then those of the groups around
        it from the inside out. May be empty in an SVG file.
    is_closed
        Whether it ends where it starts by what the file says.
    """

    names: tuple[str, ...]
    pieces: tuple[Piece, ...]
    is_closed: bool = False

    @property
    def ends(self) -> tuple[Spot, Spot]:
        """First and last point."""
        first, last = self.pieces[0].ends[0], self.pieces[-1].ends[1]
        return (float(first[0]), float(first[1])), (float(last[0]), float(last[1]))


@dataclass(frozen=True, slots=True)
class Text:
    """A text and where it stands."""

    x: float
    y: float
    text: str
    names: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class Drawing:
    """A drawing, y upwards, in units of its own.

    Attributes
    ----------
    mm
        Millimetres that one unit of the drawing means, or None if the file doesn't say.
    unit
        Unit of a project that is made from it, as the file suggests; None if it doesn't.
    grains
        Lines that the grain runs along, each by two points.
    is_layered
        Whether one layer holds one outline with its windows; else whatever lies inside
        an outline is a window of it.
    doubts
        What the maker should know about how it was read.
    """

    lines: tuple[Line, ...]
    texts: tuple[Text, ...] = ()
    grains: tuple[tuple[Spot, Spot], ...] = ()
    mm: float | None = None
    unit: Unit | None = None
    is_layered: bool = False
    doubts: tuple[str, ...] = ()


def is_drawing(file: str | Path) -> bool:
    """Whether a file is a drawing of a kind that is read, by its ending."""
    return Path(file).suffix.lower() in ENDINGS


def read_drawing(path: Path) -> Drawing:
    """Return the drawing in a DXF or SVG file.

    Raises
    ------
    DrawingError
        If the file can't be read, or is no such drawing, or far too large.
    """
    # here, since the first of them takes half a second that few projects need
    from nesting.dxf import read_dxf  # noqa: PLC0415
    from nesting.svg import read_svg  # noqa: PLC0415

    try:
        with path.open("rb") as file:
            packed = file.read(MOST_BYTES + 1)
    except OSError as error:
        raise DrawingError(f"the file can't be read ({error.strerror})") from None
    if len(packed) > MOST_BYTES:
        raise DrawingError("the drawing is far larger than that of a part")
    read = read_dxf if path.suffix.lower() == ".dxf" else read_svg
    return read(packed)
