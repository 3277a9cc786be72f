"""Drawings as plain data in grid steps: areas, strokes, labels; no file format here.

Coordinates are those of the wood (x along the length, y across the width, upwards); a
drawing holds the scale to put them on paper. Offsets of labels are points on paper, so
that text keeps clear of the wood at every scale. `png.py` paints a drawing.
"""

from __future__ import annotations

from dataclasses import dataclass

from reports.styles import INK

Point = tuple[float, float]


@dataclass(frozen=True, kw_only=True, slots=True)
class Area:
    """A filled shape; `hatch` is `waste` (one way) or `mark` (crossed)."""

    points: tuple[Point, ...]
    fill: str | None = None
    edge: str | None = INK
    hatch: str | None = None
    dashed: bool = False
    weight: float = 0.6


@dataclass(frozen=True, kw_only=True, slots=True)
class Stroke:
    """A line through points; `weight` in points on paper."""

    points: tuple[Point, ...]
    ink: str = INK
    weight: float = 0.7
    dashed: bool = False


@dataclass(frozen=True, kw_only=True, slots=True)
class Label:
    """A text at a place in the wood, moved by (right, up) points on paper.

    Attributes
    ----------
    anchor
        Pillow's two letters: `l`, `m`, `r` across and `a`, `m`, `d` up and down.
    turned
        Whether it reads from bottom to top.
    plate
        Colour of a plate under the text, or None.
    """

    x: float
    y: float
    text: str
    size: float = 8.0
    right: float = 0.0
    up: float = 0.0
    anchor: str = "mm"
    ink: str = INK
    turned: bool = False
    plate: str | None = None


Shape = Area | Stroke | Label


@dataclass(frozen=True, kw_only=True, slots=True)
class Drawing:
    """A drawing on paper, sizes in points.

    Attributes
    ----------
    left, bottom
        Where the origin of the wood lies on the paper.
    across, upward
        Points on paper for one grid step along and across the wood.
    shapes
        Painted in order.
    alt
        What the drawing shows, in words, for those who don't see it.
    """

    width: float
    height: float
    left: float
    bottom: float
    across: float
    upward: float
    shapes: tuple[Shape, ...]
    alt: str


def rectangle(
    x: float,
    y: float,
    length: float,
    width: float,
    *,
    fill: str | None = None,
    edge: str | None = INK,
    hatch: str | None = None,
    dashed: bool = False,
) -> Area:
    """Return a rectangle as an area."""
    corners = ((x, y), (x + length, y), (x + length, y + width), (x, y + width))
    return Area(points=corners, fill=fill, edge=edge, hatch=hatch, dashed=dashed)
