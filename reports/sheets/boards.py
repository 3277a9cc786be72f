"""The sheets for the saw: every board drawn to scale, with its cuts in order."""

from __future__ import annotations

from collections.abc import Iterator

from nesting.carrying import carried_for
from nesting.plan import CutBoard
from reports.board_figures import Paper
from reports.board_views import MARK_LETTERS, BoardView, fills_for, mark_words, scale_for
from reports.breakdown import CutLine, lines_for
from reports.frames import sheet_of
from reports.nests import rings_in
from reports.sheets.cells import (
    Cell,
    Row,
    head_row,
    heading_row,
    length,
    picture_row,
    text,
    tick,
)
from reports.sheets.content import Content
from reports.sheets.page import Page
from reports.sheets.windows import window_blocks
from stock.boards import Board, Mark

_WIDTHS = (5.0, 9, 10, 11, 11, 11, 8, 38, 35)
_HEIGHTS = (17.0, 15.0, 13.5)  # points of a line of cuts; the last just holds its letters
_GAP = 10.0  # points between boards


def boards_page(content: Content) -> Page:
    """Describe the sheet of boards; its `names` tell the row of each board."""
    page = _page(
        content, "Boards", "widths are drawn twice as large as lengths", "butt end"
    )
    boards = content.plan.boards
    view = _view(content, boards, stretch=2)
    known = {board.name: board for board in content.project.boards}
    for cut in boards:
        board = known.get(cut.board)
        marks = board.marks if board else ()
        above = [
            heading_row(_board_title(content, cut, board), len(_WIDTHS)),
            picture_row(view.draw(cut, marks)),
            *_remarks(content, cut, board, marks),
        ]
        page.names[cut.board] = _add_block(page, content, cut, above)
        for rows in window_blocks(content, cut, len(_WIDTHS)):
            page.block(rows)
    return page


def sheets_page(content: Content) -> Page:
    """Describe the sheet of sheet goods; its `names` tell the row of each sheet."""
    page = _page(content, "Sheets", "lengths and widths are drawn alike", "left end")
    sheets = content.plan.sheets
    view = _view(content, sheets, stretch=1)
    for cut in sheets:
        kind = sheet_of(cut, content.project)
        thick = f"{content.size(kind.thickness)} thick, " if kind else ""
        size = content.size(cut.length, cut.width)
        title = f"Sheet {cut.board}: {thick}{size}, {_whence(cut)}"
        above = [
            heading_row(title, len(_WIDTHS)),
            picture_row(view.draw(cut)),
            *_remarks(content, cut, None, ()),
        ]
        page.names[cut.board] = _add_block(page, content, cut, above)
    return page


def _add_block(page: Page, content: Content, cut: CutBoard, above: list[Row]) -> int:
    """Append one board, its cuts set closer if that keeps it on a page; return its row.

    A board with more cuts than a page holds goes on under its name and the table's head.
    """
    tried = [[*above, *_table(content, cut, height)] for height in _HEIGHTS]
    fitting = (rows for rows in tried if sum(map(page.height_of, rows)) <= page.fresh)
    rows = next(fitting, tried[0])
    what = "Board" if cut in content.plan.boards else "Sheet"
    again = (heading_row(f"{what} {cut.board}, continued", len(_WIDTHS)), _head())
    first = page.block(rows, again)
    if page.left > _GAP:
        page.put(Row(height=_GAP))
    return first


def _view(content: Content, boards: tuple[CutBoard, ...], *, stretch: int) -> BoardView:
    """Return a view at the one scale that fits all boards."""
    paper = Paper(
        unit=content.unit,
        kerf=content.project.shop.kerf,
        scale=scale_for(boards, content.unit, stretch),
        stretch=stretch,
    )
    return BoardView(paper, fills_for(content.plan), rings_in(content.project))


def _page(content: Content, name: str, drawn: str, start: str) -> Page:
    """Return a page with the words that all drawings share."""
    page = Page(name=name, widths=_WIDTHS, frozen=2)
    kerf = content.size(content.project.shop.kerf)
    page.top(
        name,
        f"Lengths in {content.unit_name}; {drawn}. Cuts are measured to the near side"
        f" of the kerf ({kerf}): crosscuts from the {start}, rips from the lower edge.",
    )
    return page


def _board_title(content: Content, cut: CutBoard, board: Board | None) -> str:
    """Return the heading of a board: what it is, and whence it comes."""
    words = [f"Board {cut.board}:"]
    if board:
        words.append(f"{board.species} {board.thickness.label},")
    widths = sorted({cut.width, cut.width2})
    wide = " to ".join(content.size(width) for width in widths)
    words.append(f"{content.size(cut.length)} \N{MULTIPLICATION SIGN} {wide},")
    if board and board.grade:
        words.append(f"{board.grade},")
    if board and board.sawing:
        words.append(f"{board.sawing} sawn,")
    words.append(_whence(cut))
    return " ".join(words)


def _whence(cut: CutBoard) -> str:
    """Return where a board is."""
    return f"to buy at {cut.where}" if cut.bought else "from the rack"


def _table(content: Content, cut: CutBoard, height: float) -> Iterator[Row]:
    """Yield the cutting table of a board, a line of which is `height` points high."""
    yield _head()
    for line in lines_for(cut, content.project.shop.kerf):
        yield _cut_row(content, line, height)
    if not cut.cuts:
        yield Row(cells=(text(None), text("no cut: used whole", span=8)))


def _head() -> Row:
    """Return the head of a cutting table."""
    return head_row(
        "", "cut", "saw", "set at", "takes off: length", "width", "pieces",
        "which gives", "remark; what is left", height=28.0,
    )  # fmt: skip


def _cut_row(content: Content, line: CutLine, height: float) -> Row:
    """Return one line of the cutting table."""
    unit = content.unit
    order = str(line.first) if line.first == line.last else f"{line.first} to {line.last}"
    number: str | int = line.first if line.first == line.last else order
    remarks = ["AFTER PLANING"] if line.after_planing else []
    if line.count > 1:
        remarks.append(f"equal {line.kind}s, last at {content.size(line.last_at)}")
    if line.leaves:
        remarks.append(f"leaves {line.leaves}")
    return Row(
        cells=(
            tick(),
            Cell(value=number, style="count"),
            text(line.kind),
            length(line.at, unit),
            length(line.length, unit),
            length(line.width, unit),
            Cell(value=line.count, style="count"),
            text(line.gives),
            text("; ".join(remarks) or None, "note" if line.after_planing else "text"),
        ),
        height=height,
        is_ticked=True,
    )


def _remarks(
    content: Content, cut: CutBoard, board: Board | None, marks: tuple[Mark, ...]
) -> Iterator[Row]:
    """Yield what else there is to know about a board, a line each."""
    span = len(_WIDTHS)
    shop = content.project.shop
    longest = shop.longest_carried if cut.bought else None
    carried = carried_for(cut, shop.kerf, longest)
    if carried.cuts:
        lines = ", ".join(content.size(one.at) for one in carried.cuts)
        words = (
            f"Crosscut at the yard on the line at {lines}: stretches meet there, so measure"
            " on from that figure, and trim sawn ends to the cuts of the plan."
        )
        yield _line(words, span)
    if cut.gangs:
        gangs = "; ".join(" + ".join(gang) for gang in cut.gangs)
        yield _line(f"Stay in one length of wood until planed: {gangs}", span)
    kept = [
        f"{offcut.name} ({content.size(offcut.length, offcut.width)})"
        for offcut in cut.offcuts
        if offcut.keep
    ]
    if kept:
        yield _line(f"Offcuts to keep: {', '.join(kept)}. Hatched wood is waste.", span)
    if marks:
        words = "; ".join(
            f"{MARK_LETTERS.get(mark.kind, '?')} {mark_words(mark, content.unit)},"
            f" {content.size(mark.low)} to {content.size(mark.high)} across"
            for mark in marks
        )
        yield _line(f"Marks: {words}", span)
    if board and board.note:
        yield _line(f"Note: {board.note}", span)


def _line(words: str, span: int) -> Row:
    """Return a line of small text across the sheet."""
    return Row(cells=(text(words, "soft", span),))
