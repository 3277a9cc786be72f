"""Figures around the drawing of a board: positions, order of cuts, widths, grain, scale."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from nesting.plan import CutBoard
from reports.breakdown import steps_for
from reports.drawings import Label, Shape, Stroke
from reports.letters import text_width
from reports.styles import SOFT
from stock.measures import Unit, format_measure, inch_in, steps_per_unit

PAPER_WIDTH = 9.8 * 72
LEFT, TOP, BOTTOM = 15.0, 27.0, 25.0


@dataclass(frozen=True, kw_only=True, slots=True)
class Paper:
    """How the boards of one job are put on paper.

    Attributes
    ----------
    scale
        n of the scale 1:n of lengths.
    stretch
        How many times larger widths are drawn: 2 for boards, 1 for sheets.
    """

    unit: Unit
    kerf: int
    scale: int
    stretch: int = 2

    @property
    def start(self) -> str:
        """The end that lengths are measured from; a sheet has no butt."""
        return "left end" if self.stretch == 1 else "butt end"

    @property
    def across(self) -> float:
        """Points on paper for one grid step along the board."""
        return 72 / (float(inch_in(self.unit)) * steps_per_unit(self.unit) * self.scale)

    @property
    def upward(self) -> float:
        """Points on paper for one grid step across the board."""
        return self.across * self.stretch


def height_at(board: CutBoard, x: int) -> int:
    """Return the width of a (tapered) board at x."""
    return board.width + (board.width2 - board.width) * x // board.length


def figures(board: CutBoard, paper: Paper) -> Iterator[Shape]:
    """Write positions above ticks, order of cuts, widths, grain and scale."""
    yield from _ticks(board, paper)
    yield from _ends(board, paper)
    side = 4 / paper.upward
    # On a short board the arrow stands to the right of the words at the butt end.
    middle = max(board.length / 2, 175 / paper.across)
    arrow = min(24 / paper.across, board.length / 4)
    y = -15.5 / paper.upward
    yield Stroke(points=((middle - arrow, y), (middle + arrow, y)), ink=SOFT)
    for way in (-1, 1):
        tip = middle + way * arrow
        back = tip - way * 5 / paper.across
        yield Stroke(points=((back, y + side), (tip, y), (back, y - side)), ink=SOFT)
    yield Label(x=middle, y=0, text="grain", size=6.5, up=-21.5, ink=SOFT)


def _ticks(board: CutBoard, paper: Paper) -> Iterator[Shape]:
    """Put a tick and a position at each crosscut, on two levels where they crowd."""
    free = [-LEFT, -LEFT]
    free_below = -LEFT
    crosscuts = [
        step for step in steps_for(board, paper.kerf) if step.cut.kind == "crosscut"
    ]
    for step in sorted(crosscuts, key=lambda one: (one.cut.at, one.cut.order)):
        at, top = step.cut.at, height_at(board, step.cut.at)
        words = format_measure(at, paper.unit)
        x, half = at * paper.across, text_width(words, 7.5) / 2 + 2
        level = next((one for one in (0, 1) if free[one] <= x - half), None)
        if level is not None:
            rise = 4 + 9 * level
            yield Stroke(points=((at, top), (at, top + rise / paper.upward)), weight=0.6)
            yield Label(x=at, y=top, text=words, size=7.5, up=rise + 4.5)
            free[level] = x + half
            # The tick of an upper figure runs between the lower ones.
            free[0] = max(free[0], x + 2)
        order = f"cut {step.cut.order}"
        half = text_width(order, 6.5) / 2 + 2
        if step.wood.low == 0 and free_below <= x - half:
            yield Label(x=at, y=0, text=order, size=6.5, up=-6, ink=SOFT)
            free_below = x + half


def _ends(board: CutBoard, paper: Paper) -> Iterator[Shape]:
    """Write the widths at both ends, which end lengths are measured from, and the scale."""
    first, last = (format_measure(w, paper.unit) for w in (board.width, board.width2))
    yield Label(x=0, y=board.width / 2, text=first, size=7.5, right=-7, turned=True)
    yield Label(
        x=board.length, y=board.width2 / 2, text=last, size=7.5, right=7, turned=True
    )
    yield Label(
        x=0, y=0, text=f"0 = {paper.start}; lower edge is the reference edge", size=6.5,
        up=-19.5, right=-1, anchor="lm", ink=SOFT,
    )  # fmt: skip
    words = f"lengths 1:{paper.scale}"
    if paper.stretch == 1:
        words = f"scale 1:{paper.scale}"
    else:
        words += f", widths drawn {paper.stretch} times as large"
    end = (PAPER_WIDTH - LEFT - 5) / paper.across
    yield Label(x=end, y=0, text=words, size=6.5, up=-19.5, anchor="rm", ink=SOFT)
