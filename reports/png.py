"""The back end that paints a drawing as a PNG, in a fixed palette."""

from __future__ import annotations

import io
import itertools
import math
from collections.abc import Sequence
from functools import lru_cache

from PIL import Image, ImageDraw

from reports.drawings import Area, Drawing, Label, Point, Shape, Stroke
from reports.letters import DPI, PER_POINT, font_of, printable
from reports.styles import (
    BAND,
    FINE,
    INK,
    INPUT,
    LOOSE,
    PANELS,
    RULE,
    SOFT,
    STOP,
    WARN,
    WHITE,
)


def png(drawing: Drawing) -> bytes:
    """Return a drawing as a PNG file at 200 dots per inch, in a fixed palette."""
    size = (_pixels(drawing.width), _pixels(drawing.height))
    image = Image.new("RGB", size, f"#{WHITE}")
    painter = _Painter(drawing, image)
    for shape in drawing.shapes:
        painter.paint(shape)
    small = image.quantize(palette=_palette(), dither=Image.Dither.NONE)
    file = io.BytesIO()
    small.save(file, format="PNG", dpi=(DPI, DPI))
    return file.getvalue()


class _Painter:
    """Paints shapes of one drawing on one image."""

    def __init__(self, drawing: Drawing, image: Image.Image) -> None:
        self._drawing = drawing
        self._image = image
        self._draw = ImageDraw.Draw(image)

    def paint(self, shape: Shape) -> None:
        """Paint one shape."""
        if isinstance(shape, Area):
            self._area(shape)
        elif isinstance(shape, Stroke):
            points = [self._place(x, y) for x, y in shape.points]
            self._line(points, shape.ink, shape.weight, dashed=shape.dashed)
        else:
            self._label(shape)

    def _place(self, x: float, y: float, right: float = 0.0, up: float = 0.0) -> Point:
        """Return the pixel of a place in the wood."""
        drawing = self._drawing
        across = drawing.left + x * drawing.across + right
        upward = drawing.bottom + y * drawing.upward + up
        return (across * PER_POINT, (drawing.height - upward) * PER_POINT)

    def _area(self, area: Area) -> None:
        points = [self._place(x, y) for x, y in area.points]
        if area.fill:
            self._draw.polygon(points, fill=f"#{area.fill}")
        if area.hatch:
            self._hatch(points, crossed=area.hatch == "mark")
        if area.edge:
            ring = [*points, points[0]]
            self._line(ring, area.edge, area.weight, dashed=area.dashed)

    def _hatch(self, points: Sequence[Point], *, crossed: bool) -> None:
        """Rule diagonals over a shape, clipped to it."""
        xs, ys = [x for x, _ in points], [y for _, y in points]
        left, top = math.floor(min(xs)), math.floor(min(ys))
        wide, high = math.ceil(max(xs)) - left + 1, math.ceil(max(ys)) - top + 1
        inside = Image.new("1", (wide, high))
        ImageDraw.Draw(inside).polygon([(x - left, y - top) for x, y in points], fill=1)
        ruled = Image.new("1", (wide, high))
        pen = ImageDraw.Draw(ruled)
        # Starting on a multiple of the spacing lets neighbouring shapes hatch alike.
        step = 8 if crossed else 14
        for start in range(-high - (left + top) % step, wide + high, step):
            pen.line([(start, high), (start + high, 0)], fill=1, width=1 + crossed)
            if crossed:
                pen.line([(start, 0), (start + high, high)], fill=1, width=2)
        ink = Image.new("RGB", (wide, high), f"#{INK if crossed else RULE}")
        both = Image.composite(ruled, Image.new("1", (wide, high)), inside)
        self._image.paste(ink, (left, top), both)

    def _line(
        self, points: Sequence[Point], ink: str, weight: float, *, dashed: bool
    ) -> None:
        width = max(1, round(weight * PER_POINT))
        for start, end in itertools.pairwise(points):
            for piece in _dashes(start, end) if dashed else [(start, end)]:
                self._draw.line(piece, fill=f"#{ink}", width=width)

    def _label(self, label: Label) -> None:
        font = font_of(label.size)
        words = printable(label.text)
        x, y = self._place(label.x, label.y, label.right, label.up)
        if label.turned:
            self._turned(words, label, x, y)
            return
        if label.plate:
            box = self._draw.textbbox((x, y), words, font=font, anchor=label.anchor)
            grown = (box[0] - 6, box[1] - 4, box[2] + 6, box[3] + 4)
            self._draw.rectangle(grown, fill=f"#{label.plate}", outline=f"#{SOFT}")
        self._draw.text((x, y), words, font=font, fill=f"#{label.ink}", anchor=label.anchor)

    def _turned(self, words: str, label: Label, x: float, y: float) -> None:
        """Write a text upwards, centred on (x, y)."""
        font = font_of(label.size)
        left, top, right, bottom = font.getbbox(words, anchor="ls")
        mask = Image.new("L", (math.ceil(right - left) + 2, math.ceil(bottom - top) + 2))
        ImageDraw.Draw(mask).text(
            (1 - left, 1 - top), words, font=font, fill=255, anchor="ls"
        )
        mask = mask.transpose(Image.Transpose.ROTATE_90)
        corner = (round(x - mask.width / 2), round(y - mask.height / 2))
        self._image.paste(Image.new("RGB", mask.size, f"#{label.ink}"), corner, mask)


def _pixels(points: float) -> int:
    """Return points on paper as whole pixels."""
    return max(1, round(points * PER_POINT))


def _dashes(start: Point, end: Point) -> list[tuple[Point, Point]]:
    """Return a line as dashes of 12 pixels with gaps of 8."""
    whole = math.hypot(end[0] - start[0], end[1] - start[1])
    if whole == 0:
        return []
    right, down = (end[0] - start[0]) / whole, (end[1] - start[1]) / whole
    pieces = []
    at = 0.0
    while at < whole:
        stop = min(at + 12, whole)
        pieces.append(
            (
                (start[0] + right * at, start[1] + down * at),
                (start[0] + right * stop, start[1] + down * stop),
            )
        )
        at += 20
    return pieces


@lru_cache(maxsize=1)
def _palette() -> Image.Image:
    """Return a palette of our colours and of their blends with the ink of letters.

    A palette that adapts to each picture turns white into off-white, so it is fixed.
    """
    fills = [WHITE, LOOSE, *PANELS, BAND, WARN, FINE, INPUT]
    colours = [INK, SOFT, RULE, STOP, *fills]
    blends = [_blend(fill, share) for fill in fills for share in (0.25, 0.5, 0.75)]
    values = [part for colour in colours for part in _parts(colour)]
    values += [part for blend in blends for part in blend]
    image = Image.new("P", (1, 1))
    image.putpalette(values)
    return image


def _blend(fill: str, share: float) -> tuple[int, int, int]:
    """Return a fill darkened towards ink by `share`."""
    mixed = [
        round(a + (b - a) * share) for a, b in zip(_parts(fill), _parts(INK), strict=True)
    ]
    return (mixed[0], mixed[1], mixed[2])


def _parts(colour: str) -> tuple[int, int, int]:
    """Return red, green and blue of a colour."""
    return (int(colour[:2], 16), int(colour[2:4], 16), int(colour[4:], 16))
