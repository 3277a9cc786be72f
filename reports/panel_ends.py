"""The end of a panel as a drawing: which way the rings of each stave run."""

from __future__ import annotations

from collections.abc import Iterator

from nesting.plan import PanelPlan
from reports.drawings import Drawing, Label, Shape, Stroke, rectangle
from reports.letters import text_width
from reports.panel_views import FILLS, LEFT, PAPER_WIDTH, ROOM
from reports.styles import SOFT


def end_view(panel: PanelPlan, sides: tuple[str, ...], thickness: int) -> Drawing:
    """Return the end of a panel with the way the rings run, stave 1 at the left."""
    upward = 22 / thickness
    step = min(ROOM / panel.net_width, upward)
    larger = ", thickness drawn larger" if upward > step else ""
    shapes: list[Shape] = []
    x = 0
    for at, (stave, side) in enumerate(zip(panel.staves, sides, strict=True), 1):
        shapes.append(rectangle(x, 0, stave.net_width, thickness, fill=FILLS[at % 2]))
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
            text=f"end view, stave 1 left{larger}; rings as an arch: bark side up,"
            " as a bowl: heart side up",
            size=6.5,
            up=7,
            anchor="lm",
            ink=SOFT,
        )
    )
    return Drawing(
        width=PAPER_WIDTH, height=14 + 15 + thickness * upward, left=LEFT, bottom=15,
        across=step, upward=upward, shapes=tuple(shapes),
        alt="End of the panel. Sides up from stave 1: " + ", ".join(sides) + ".",
    )  # fmt: skip


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
