"""The part of the buying sheet that sends the maker to the shop's own rack."""

from __future__ import annotations

from reports.frames import records
from reports.sheets.board_rows import board_cells, board_head
from reports.sheets.content import Content
from reports.sheets.page import TICK_ROW, Page, text


def add_rack(page: Page, content: Content) -> None:
    """Append the owned boards to fetch from the rack, with tick boxes."""
    rows = [row for row in records(content.frames.boards) if not row["bought"]]
    if not rows:
        return
    notes = {board.name: board.note for board in content.project.boards}
    page.heading("Fetch from the rack")
    page.put(board_head(content.unit, ("note", 4)))
    for row in rows:
        note = text(notes.get(row["board"]) or None, span=4)
        page.add(*board_cells(row, content.unit), note, height=TICK_ROW, ticked=True)
    page.add(height=8)
