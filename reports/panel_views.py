"""Panels as drawings: staves in order, triangle mark, finished outline, clamps, ends."""

from __future__ import annotations

import math
from collections.abc import Iterator

from nesting.parts import Part
from nesting.plan import PanelPlan, PanelStave
from reports.drawings import Area, Drawing, Label, Point, Shape, Stroke, rectangle
from reports.glueups import Clamping
from reports.letters import fitted_size, text_width
from reports.styles import INK, LOOSE, PANELS, SOFT, STOP, WHITE
from stock.measures import Unit, format_measure, inch_in, steps_per_unit

PAPER_WIDTH = 9.8 * 72
_ROOM = 8.1 * 72
HIGHEST, LOWEST = 3.0 * 72, 1.2 * 72
_LEFT, _TOP, _BOTTOM = 42.0, 27.0, 43.0
AROUND = _TOP + _BOTTOM
_SCALES = (1, 2, 3, 4, 5, 6, 8, 10, 12, 16, 20, 24, 30, 40, 50)
_FILLS = (LOOSE, PANELS[0])


def panel_scale(panel: PanelPlan, unit: Unit, high: float = HIGHEST) -> int:
    """Return n of the largest scale 1:n at which a panel fits 8.1 in x `high` points."""
    inch = float(inch_in(unit)) * steps_per_unit(unit)
    for scale in _SCALES:
        fits_across = panel.length / inch * 72 <= _ROOM * scale
        if fits_across and panel.net_width / inch * 72 <= high * scale:
            return scale
    return _SCALES[-1]


def face_view(
    panel: PanelPlan, part: Part, clamping: Clamping, unit: Unit, high: float = HIGHEST
) -> Drawing:
    """Return a panel seen from its face, stave 1 at the top, at most `high` points high.

    Clamps and dimension lines take `AROUND` points more.
    """
    scale = panel_scale(panel, unit, high)
    step = 72 / (float(inch_in(unit)) * steps_per_unit(unit) * scale)
    shapes = [
        *_staves(panel, step, unit),
        *_triangle(panel),
        *_outline(panel, part),
        *_clamps(panel, clamping, step, unit),
        *_dimensions(panel, step, unit, scale),
    ]
    return Drawing(
        width=PAPER_WIDTH, height=_TOP + _BOTTOM + panel.net_width * step,
        left=_LEFT, bottom=_BOTTOM, across=step, upward=step, shapes=tuple(shapes),
        alt=_alt(panel, clamping, unit),
    )  # fmt: skip


def end_view(
    panel: PanelPlan, sides: tuple[str, ...], thickness: int, unit: Unit
) -> Drawing:
    """Return the end of a panel with the way the rings run, stave 1 at the left."""
    step = min(_ROOM / panel.net_width, 72 / (float(inch_in(unit)) * steps_per_unit(unit)))
    upward = max(step, 22 / thickness)
    shapes: list[Shape] = []
    x = 0
    for at, (stave, side) in enumerate(zip(panel.staves, sides, strict=True), 1):
        shapes.append(rectangle(x, 0, stave.net_width, thickness, fill=_FILLS[at % 2]))
        shapes += _rings(x, stave.net_width, thickness, side)
        middle = x + stave.net_width / 2
        room = stave.net_width * step
        words = "any side up" if side == "any" else f"{side} side up"
        for text in (f"{at}: {words}", f"{at}: {side}", str(at)):
            if text == str(at) or text_width(text, 7) + 3 <= room:
                shapes.append(Label(x=middle, y=0, text=text, size=7, up=-8))
                break
        x += stave.net_width
    shapes.append(
        Label(
            x=0,
            y=thickness,
            text="end view, stave 1 left; rings as an arch: bark side up,"
            " as a bowl: heart side up",
            size=6.5,
            up=7,
            anchor="lm",
            ink=SOFT,
        )
    )
    return Drawing(
        width=PAPER_WIDTH, height=14 + 15 + thickness * upward, left=_LEFT, bottom=15,
        across=step, upward=upward, shapes=tuple(shapes),
        alt="End of the panel. Sides up from stave 1: " + ", ".join(sides) + ".",
    )  # fmt: skip


def finished_outline(part: Part, length: int, width: int) -> tuple[Point, ...]:
    """Return the finished shape as points, centred in a blank of `length` x `width`."""
    along, across = finished_size(part, length, width)
    left, low = (length - along) / 2, (width - across) / 2
    unit_points = _shape_points(part)
    return tuple((left + along * x, low + across * y) for x, y in unit_points)


def finished_size(part: Part, length: int, width: int) -> tuple[int, int]:
    """Return the finished size along and across the grain of a blank."""
    turned = (part.width, part.length)
    if part.grain == "width":
        return turned
    as_drawn = (part.length, part.width)
    fits = part.length <= length and part.width <= width
    return as_drawn if fits or part.grain == "length" else turned


def _shape_points(part: Part) -> tuple[Point, ...]:
    """Return the outline of a part in a square of side 1."""
    if part.shape == "disc":
        turns = [2 * math.pi * at / 72 for at in range(72)]
        return tuple((0.5 + math.cos(t) / 2, 0.5 + math.sin(t) / 2) for t in turns)
    if part.shape == "octagon":
        cut = 1 / (2 + math.sqrt(2))
        return (
            (cut, 0), (1 - cut, 0), (1, cut), (1, 1 - cut),
            (1 - cut, 1), (cut, 1), (0, 1 - cut), (0, cut),
        )  # fmt: skip
    if part.shape == "taper" and part.ends:
        widest = max(part.ends)
        first, last = (end / widest / 2 for end in part.ends)
        return ((0, 0.5 - first), (1, 0.5 - last), (1, 0.5 + last), (0, 0.5 + first))
    return ((0, 0), (1, 0), (1, 1), (0, 1))


def _staves(panel: PanelPlan, step: float, unit: Unit) -> Iterator[Shape]:
    """Draw the staves from the top down, each with number, piece and net width."""
    top = panel.net_width
    for at, stave in enumerate(panel.staves, 1):
        low = top - stave.net_width
        yield rectangle(0, low, panel.length, stave.net_width, fill=_FILLS[at % 2])
        yield from _stave_words(panel, at, stave, low, step, unit)
        if at > 1:
            yield Label(
                x=panel.length, y=top, text=f"joint {at - 1}", size=6.5,
                right=6, anchor="lm", ink=SOFT,
            )  # fmt: skip
        top = low


def _stave_words(
    panel: PanelPlan, at: int, stave: PanelStave, low: int, step: float, unit: Unit
) -> Iterator[Shape]:
    """Write what a stave is inside it, on the left, clear of the triangle."""
    y = low + stave.net_width / 2
    words = f"{at}: {stave.piece}, board {stave.board}"
    words += f", {format_measure(stave.net_width, unit, 64)} net"
    if stave.turned:
        words += ", turned end for end"
    room, high = panel.length * step, stave.net_width * step
    for text, share in ((words, 0.54), (f"{at}: {stave.piece}", 0.54), (str(at), 1.0)):
        size = fitted_size(text, room * share - 20, high, largest=8.5)
        if size is not None:
            yield Label(x=0, y=y, text=text, size=size, right=14, anchor="lm", plate=WHITE)
            return
    yield Label(x=0, y=y, text=str(at), size=6, right=-6)


def _triangle(panel: PanelPlan) -> Iterator[Shape]:
    """Draw the triangle mark across every stave, apex on stave 1."""
    middle = panel.length * 0.66
    half = min(panel.length * 0.12, panel.net_width * 0.45)
    top, low = panel.net_width * 0.96, panel.net_width * 0.04
    corners = ((middle, top), (middle + half, low), (middle - half, low), (middle, top))
    yield Stroke(points=corners, ink=STOP, weight=1.6)


def _outline(panel: PanelPlan, part: Part) -> Iterator[Shape]:
    """Draw the finished part inside the blank."""
    points = finished_outline(part, panel.length, panel.net_width)
    yield Area(points=points, edge=INK, dashed=True, weight=1.0)


def _clamps(
    panel: PanelPlan, clamping: Clamping, step: float, unit: Unit
) -> Iterator[Shape]:
    """Draw each clamp as a jaw at both edges: filled above, hollow below."""
    side = 7 / step
    free = {True: -math.inf, False: -math.inf}
    for clamp in clamping.clamps:
        fill = INK if clamp.is_above else WHITE
        for y in (panel.net_width, -side):
            yield rectangle(clamp.at - side / 2, y, side, side, fill=fill)
        words = format_measure(clamp.at, unit)
        half = text_width(words, 7) / 2 + 1.5
        x = clamp.at * step
        if free[clamp.is_above] > x - half:
            continue
        free[clamp.is_above] = x + half
        y, up = (panel.net_width, 13) if clamp.is_above else (0, -13)
        yield Label(x=clamp.at, y=y, text=words, size=7, up=up)


def _dimensions(panel: PanelPlan, step: float, unit: Unit, scale: int) -> Iterator[Shape]:
    """Draw the dimension lines of the glued blank, the scale, and what the signs mean."""
    low, side = -24 / step, 3 / step
    yield Stroke(points=((0, low), (panel.length, low)), ink=SOFT)
    for x in (0, panel.length):
        yield Stroke(points=((x, low - side), (x, low + side)), ink=SOFT)
    long = format_measure(panel.length, unit, 64)
    yield Label(x=panel.length / 2, y=low, text=long, size=8, plate=WHITE)
    left = -18 / step
    yield Stroke(points=((left, 0), (left, panel.net_width)), ink=SOFT)
    for y in (0, panel.net_width):
        yield Stroke(points=((left - side, y), (left + side, y)), ink=SOFT)
    wide = format_measure(panel.net_width, unit, 64)
    yield Label(x=left, y=panel.net_width / 2, text=wide, size=8, right=-8, turned=True)
    words = f"scale 1:{scale}; dashed: finished outline; triangle: mark across all staves;"
    words += " clamps filled: above, hollow: below"
    yield Label(x=0, y=low, text=words, size=6.5, up=-13, anchor="lm", ink=SOFT)


def _rings(x: int, width: int, thickness: int, side: str) -> Iterator[Shape]:
    """Draw rings on the end of a stave: an arch, a bowl, or upright lines."""
    if side == "any":
        for at in range(1, 8):
            place = x + width * at / 8
            yield Stroke(points=((place, 0), (place, thickness)), ink=SOFT, weight=0.4)
        return
    for at in range(1, 5):
        points = []
        for part in range(13):
            across = part / 12
            rise = 0.55 * (1 - (2 * across - 1) ** 2)
            level = at / 5 - 0.3 + rise
            high = level if side == "bark" else 1 - level
            points.append((x + width * across, thickness * min(1.0, max(0.0, high))))
        yield Stroke(points=tuple(points), ink=SOFT, weight=0.5)


def _alt(panel: PanelPlan, clamping: Clamping, unit: Unit) -> str:
    """Return what the drawing of a panel shows, in words."""
    staves = "; ".join(
        f"{at}: {stave.piece} from board {stave.board},"
        f" {format_measure(stave.net_width, unit, 64)} net"
        for at, stave in enumerate(panel.staves, 1)
    )
    clamps = ", ".join(
        f"{format_measure(clamp.at, unit)} {'above' if clamp.is_above else 'below'}"
        for clamp in clamping.clamps
    )
    return (
        f"Panel {panel.part} {panel.copy}. Staves from the top: {staves}. Clamps: {clamps}."
    )
