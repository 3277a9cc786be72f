"""The part of the buying sheet that sends the maker to the shop's own rack."""

from __future__ import annotations

from reports.frames import records
from reports.sheets.board_rows import board_cells, board_head
from reports.sheets.cells import TICK_ROW, Row, heading_row, text
from reports.sheets.content import Content
from reports.sheets.page import Page


def add_rack(page: Page, content: Content) -> None:
    """Append the owned boards to fetch from the rack, with tick boxes."""
    rows = [row for row in records(content.frames.boards) if not row["bought"]]
    if not rows:
        return
    notes = {
        board.name: "; ".join(word for word in (board.place, board.note) if word)
        for board in content.project.boards
    }
    head = board_head(content.unit, ("place, note", 4))
    listed = [
        Row(
            cells=(
                *board_cells(row, content.unit),
                text(notes.get(row["board"]) or None, span=4),
            ),
            height=TICK_ROW,
            is_ticked=True,
        )
        for row in rows
    ]
    page.table(listed, [heading_row("Fetch from the rack", len(page.widths)), head])
    page.add(height=8)
