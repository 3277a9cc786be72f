"""The part of the sheet of boards about windows: what to keep of what is sawn out."""

from __future__ import annotations

from collections.abc import Iterator

from nesting.plan import CutBoard, WindowPiece
from reports.from_offcuts import window_name
from reports.sheets.cells import Row, heading_row, picture_row, text
from reports.sheets.content import Content
from reports.window_views import window_view


def window_blocks(content: Content, cut: CutBoard, span: int) -> Iterator[list[Row]]:
    """Yield rows for each copy from a board that has something in its windows."""
    for piece in cut.pieces:
        for copy in dict.fromkeys(piece.copies):
            given = [
                one for one in content.plan.from_windows
                if (one.host, one.host_copy) == (piece.part, copy)
            ]  # fmt: skip
            if given:
                yield list(_block(content, given, span))


def _block(content: Content, given: list[WindowPiece], span: int) -> Iterator[Row]:
    """Yield what windows of one copy give: a heading, a drawing, a line for each."""
    name = window_name(given[0])
    words = f"Keep what is sawn out of the {name} (lengths and widths drawn alike)"
    yield heading_row(words, span)
    part = content.part(given[0].host)
    if part and part.drawn:
        yield picture_row(window_view(part.drawn, given, f"{given[0].host}"))
    for number, one in enumerate(given, 1):
        words = (
            f"{number}: {one.name}, {content.size(one.length, one.width)} rough, from the"
            f" low corner of the outline {content.size(one.x)} along the grain and"
            f" {content.size(one.y)} across"
        )
        yield Row(cells=(text(words, "soft", span),))
