"""Parts with windows as drawings: the outline, and what comes out of its windows."""

from __future__ import annotations

from collections.abc import Sequence

from nesting.drawn import Drawn
from nesting.plan import WindowPiece
from reports.board_figures import LEFT, PAPER_WIDTH
from reports.drawings import Area, Drawing, Label, Shape, rectangle
from reports.letters import fitted_size
from reports.styles import LOOSE, WHITE

_ROOM = (PAPER_WIDTH - 2 * LEFT, 200.0)  # points that an outline may take on paper
_MARGIN = 6.0


def window_view(drawn: Drawn, pieces: Sequence[WindowPiece], name: str) -> Drawing:
    """Return the drawing of a part, its windows as waste with the pieces in them."""
    scale = min(_ROOM[0] / drawn.length, _ROOM[1] / drawn.width)
    shapes: list[Shape] = [Area(points=drawn.rim, fill=LOOSE, weight=0.9)]
    shapes += [Area(points=ring, fill=WHITE, hatch="waste") for ring in drawn.windows]
    for number, one in enumerate(pieces, 1):
        shapes.append(rectangle(one.x, one.y, one.length, one.width, fill=WHITE))
        shapes.append(_label(one, number, scale))
    names = ", ".join(one.name for one in pieces)
    return Drawing(
        width=PAPER_WIDTH,
        height=drawn.width * scale + 2 * _MARGIN,
        left=LEFT,
        bottom=_MARGIN,
        across=scale,
        upward=scale,
        shapes=tuple(shapes),
        alt=f"Outline of {name} with its windows; out of them come {names}.",
    )


def _label(one: WindowPiece, number: int, scale: float) -> Label:
    """Return the name of a piece in its middle; only its number where that is too long."""
    x, y = one.x + one.length / 2, one.y + one.width / 2
    for text in (f"{number}: {one.name}", str(number)):
        size = fitted_size(text, one.length * scale, one.width * scale)
        if size:
            return Label(x=x, y=y, text=text, size=size)
    return Label(x=x, y=y, text=str(number), size=6.0)
