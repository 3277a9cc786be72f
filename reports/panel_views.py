"""Panels as drawings: staves in order, grain, triangle, finished outline, clamps."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from itertools import zip_longest

from nesting.parts import Part
from nesting.plan import PanelPlan, PanelStave
from reports.drawings import Area, Drawing, Label, Shape, Stroke, rectangle
from reports.glueups import Clamping
from reports.letters import fitted_size, text_width
from reports.outlines import finished_outline, finished_windows
from reports.styles import INK, LOOSE, PANELS, SOFT, STOP, WHITE
from stock.measures import Unit, format_measure, inch_in, steps_per_unit

PAPER_WIDTH = 9.8 * 72
ROOM = 8.1 * 72
HIGHEST, LOWEST = 3.0 * 72, 1.2 * 72
LEFT, _TOP, _BOTTOM = 42.0, 27.0, 43.0
AROUND = _TOP + _BOTTOM
_SCALES = (1, 2, 3, 4, 5, 6, 8, 10, 12, 16, 20, 24, 30, 40, 50)
FILLS = (LOOSE, PANELS[0])
TRIANGLE_FROM = 0.6  # of the length; words stand left of it, the arrow of the grain right


def panel_scale(panel: PanelPlan, unit: Unit, high: float = HIGHEST) -> int:
    """Return n of the largest scale 1:n at which a panel fits 8.1 in x `high` points."""
    inch = float(inch_in(unit)) * steps_per_unit(unit)
    for scale in _SCALES:
        fits_across = panel.length / inch * 72 <= ROOM * scale
        if fits_across and panel.net_width / inch * 72 <= high * scale:
            return scale
    return _SCALES[-1]


def face_view(
    panel: PanelPlan,
    part: Part,
    clamping: Clamping,
    unit: Unit,
    high: float = HIGHEST,
    *,
    sides: Sequence[str] = (),
    places: Mapping[str, int] | None = None,
) -> Drawing:
    """Return a panel seen from its face, stave 1 at the top, at most `high` points high.

    Clamps and dimension lines take `AROUND` points more. `sides` are the sides up, from
    stave 1; `places` how far from the butt end of its board a piece was cut.
    """
    words = [
        stave_words(at, stave, side, (places or {}).get(stave.piece), unit)
        for at, (stave, side) in enumerate(zip_longest(panel.staves, sides), 1)
    ]
    scale = panel_scale(panel, unit, high)
    step = 72 / (float(inch_in(unit)) * steps_per_unit(unit) * scale)
    shapes = [
        *_staves(panel, words, step),
        *_grain(panel, step),
        *_triangle(panel),
        *_outline(panel, part),
        *_clamps(panel, clamping, step, unit),
        *_dimensions(panel, step, unit, scale),
    ]
    return Drawing(
        width=PAPER_WIDTH, height=_TOP + _BOTTOM + panel.net_width * step,
        left=LEFT, bottom=_BOTTOM, across=step, upward=step, shapes=tuple(shapes),
        alt=_alt(panel, words, clamping, unit),
    )  # fmt: skip


def stave_words(
    at: int, stave: PanelStave, side: str | None, place: int | None, unit: Unit
) -> tuple[str, ...]:
    """Return what a stave is, from all of it to its number only."""
    up = f", {side} up" if side in {"bark", "heart"} else ""
    where = f", board {stave.board}"
    from_butt = f" at {format_measure(place, unit, 64)}" if place is not None else ""
    net = f", {format_measure(stave.net_width, unit, 64)} net"
    end = ", turned" if stave.turned else ""
    name = f"{at}: {stave.name}"
    return (
        f"{name}{where}{from_butt}{net}{up}{end}",
        f"{name}{where}{net}{up}",
        f"{name}{up}",
        f"{at}{up.replace(',', ':')}",
        str(at),
    )


def _staves(
    panel: PanelPlan, words: Sequence[tuple[str, ...]], step: float
) -> Iterator[Shape]:
    """Draw the staves from the top down, each with what it is."""
    top = panel.net_width
    for at, (stave, texts) in enumerate(zip(panel.staves, words, strict=True), 1):
        low = top - stave.net_width
        yield rectangle(0, low, panel.length, stave.net_width, fill=FILLS[at % 2])
        yield _stave_label(panel, stave, texts, low, step)
        if at > 1:
            yield Label(
                x=panel.length, y=top, text=f"joint {at - 1}", size=6.5,
                right=6, anchor="lm", ink=SOFT,
            )  # fmt: skip
        top = low


def _stave_label(
    panel: PanelPlan, stave: PanelStave, texts: Sequence[str], low: int, step: float
) -> Label:
    """Write as much of a stave's words as fits on the left, clear of the triangle."""
    y = low + stave.net_width / 2
    room, high = panel.length * step, stave.net_width * step
    for text in texts:
        size = fitted_size(text, room * TRIANGLE_FROM - 20, high, largest=8.5)
        if size is not None:
            return Label(x=0, y=y, text=text, size=size, right=14, anchor="lm", plate=WHITE)
    return Label(x=0, y=y, text=texts[-1], size=6, right=-6)


def _grain(panel: PanelPlan, step: float) -> Iterator[Shape]:
    """Draw an arrow on every stave, from its board's butt end to the other."""
    top = panel.net_width
    first, last = panel.length * 0.84, panel.length * 0.96
    for stave in panel.staves:
        y = top - stave.net_width / 2
        barb = min(3 / step, stave.net_width * 0.3)
        tip, tail = (first, last) if stave.turned else (last, first)
        back = tip + (barb if stave.turned else -barb) * 1.6
        yield Stroke(points=((tail, y), (tip, y)), weight=0.8)
        yield Stroke(points=((back, y + barb), (tip, y), (back, y - barb)), weight=0.8)
        top -= stave.net_width


def _triangle(panel: PanelPlan) -> Iterator[Shape]:
    """Draw the triangle mark across every stave, apex on stave 1."""
    half = min(panel.length * 0.10, panel.net_width * 0.45)
    middle = panel.length * TRIANGLE_FROM + half
    top, low = panel.net_width * 0.96, panel.net_width * 0.04
    corners = ((middle, top), (middle + half, low), (middle - half, low), (middle, top))
    yield Stroke(points=corners, ink=STOP, weight=1.6)


def _outline(panel: PanelPlan, part: Part) -> Iterator[Shape]:
    """Draw the finished part inside the blank."""
    points = finished_outline(part, panel.length, panel.net_width)
    yield Area(points=points, edge=INK, dashed=True, weight=1.0)
    for window in finished_windows(part, panel.length, panel.net_width):
        yield Area(points=window, edge=INK, dashed=True, weight=1.0)


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
    words += " arrows: grain, from the butt end of the board; clamps filled: above,"
    words += " hollow: below"
    yield Label(x=0, y=low, text=words, size=6.5, up=-13, anchor="lm", ink=SOFT)


def _alt(
    panel: PanelPlan, words: Sequence[tuple[str, ...]], clamping: Clamping, unit: Unit
) -> str:
    """Return what the drawing of a panel shows, in words."""
    staves = "; ".join(texts[0] for texts in words)
    clamps = ", ".join(
        f"{format_measure(clamp.at, unit)} {'above' if clamp.is_above else 'below'}"
        for clamp in clamping.clamps
    )
    return (
        f"Panel {panel.part} {panel.copy}. Staves from the top: {staves}. Clamps: {clamps}."
    )
