"""The sheets for the glue-up bench: one printed page per panel."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from nesting.plan import PanelPlan
from reports.clamping import layers_in
from reports.frames import Record, records
from reports.glueups import Clamping, clamping_for, glue_ml, panel_name, ring_sides
from reports.panel_ends import end_view
from reports.panel_views import AROUND, HIGHEST, LOWEST, face_view
from reports.sheets.cells import (
    TICK_ROW,
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
from reports.sheets.panel_facts import PanelPage, fact_rows
from stock.measures import Unit

_WIDTHS = (4.5, 6, 19, 12, 10, 10, 10, 9.5, 9, 9, 10, 7, 10, 11)
_SCALE = 85
_PER_ROW = 11


def glueups_page(content: Content) -> Page:
    """Describe the sheet of glue-ups; its `names` tell the row of each panel."""
    page = Page(name="Glue-ups", widths=_WIDTHS, scale=_SCALE, frozen=2)
    page.top(
        "Glue-ups",
        f"Lengths in {content.unit_name}. Stave 1 is at the top of the drawing. What the"
        " glue's label says goes before these figures. Cauls and a straightedge keep a"
        " panel flat.",
    )
    for panel in content.plan.panels:
        one = _panel_page(content, panel)
        if one is None:
            continue
        if page.names:
            page.turn()
        page.names[panel_name(panel)] = _add_panel(page, one)
    return page


def _panel_page(content: Content, panel: PanelPlan) -> PanelPage | None:
    """Return a panel with its clamps and sides; None if its part is not known."""
    part = content.part(panel.part)
    if part is None:
        return None
    shop = content.project.shop
    thick = -(-part.thickness // layers_in(content.plan)[panel.part, panel.copy])
    known = {board.name: board for board in content.project.boards}
    boards = tuple(known[s.board] for s in panel.staves if s.board in known)
    is_plain = any(board.sawing not in {"rift", "quarter"} for board in boards)
    return PanelPage(
        content=content,
        panel=panel,
        part=part,
        thickness=thick,
        clamping=clamping_for(panel, thick, content.density(part.species), shop),
        sides=ring_sides(panel, shop.ring, is_plain=is_plain),
        boards=boards,
    )


def _add_panel(page: Page, one: PanelPage) -> int:
    """Append the page of one panel, its drawing as high as the rest leaves it room.

    If that is too little, the facts go on to a second page. Returns its first row.
    """
    before, tables, facts = list(_title(one)), list(_tables(one)), list(fact_rows(one))
    above = (*page.rows[: page.frozen], *before, *tables)
    high = _room(page, (*above, *facts))
    if high < LOWEST:
        high = max(LOWEST, _room(page, above))
    content = one.content
    places = {piece.name: piece.x for cut in content.plan.boards for piece in cut.pieces}
    face = face_view(
        one.panel, one.part, one.clamping, content.unit, min(HIGHEST, high),
        sides=one.sides, places=places,
    )  # fmt: skip
    first = page.block([*before, picture_row(face), *tables])
    page.block(facts)
    return first


def _room(page: Page, rows: Iterable[Row]) -> float:
    """Return how high a drawing may be on a page with these rows."""
    return page.room - sum(map(page.height_of, rows)) - AROUND - 8


def _title(one: PanelPage) -> Iterator[Row]:
    """Yield the heading of a panel."""
    content, panel, part = one.content, one.panel, one.part
    title = (
        f"{panel_name(panel)}: {part.species}, glued blank"
        f" {content.size(panel.length, panel.net_width)}, finished"
        f" {content.size(part.length, part.width, part.thickness)}"
    )
    yield heading_row(title, len(_WIDTHS))


def _tables(one: PanelPage) -> Iterator[Row]:
    """Yield what stands under the drawing of a panel."""
    content, panel = one.content, one.panel
    if len(panel.staves) > 1:
        yield picture_row(end_view(panel, one.sides, one.thickness))
    yield from _staves(one)
    if len(panel.staves) > 1:
        yield from _clamps(one.clamping, content.unit)


def _staves(one: PanelPage) -> Iterator[Row]:
    """Yield the table of staves in the order they are glued."""
    panel, unit = one.panel, one.content.unit
    yield head_row(
        "", "stave", "piece", "board", "from the butt end", "from lower edge",
        "rough length", "rough width", "net width", "side up", "end for end", "tone",
        "joint below", "its glue, ml",
        height=28.0,
    )  # fmt: skip
    tones = {board.name: board.tone for board in one.boards}
    rows = records(one.content.frames.staves)
    own = [row for row in rows if _is_of(row, panel)]
    for row, side in zip(own, one.sides, strict=True):
        yield Row(
            cells=(
                tick(),
                Cell(value=row["stave"], style="count"),
                text(row["piece"], "label"),
                text(row["board"]),
                length(row["x"], unit),
                length(row["y"], unit),
                length(row["length"], unit),
                length(row["width"], unit),
                length(row["net_width"], unit),
                text(side),
                text("turned" if row["turned"] else "as sawn"),
                Cell(value=tones.get(row["board"]), style="count"),
                *_joint(one, row["stave"]),
            ),
            height=TICK_ROW,
            is_ticked=True,
        )
    yield Row(
        cells=(
            text(None, "total text"),
            text("net width of the glued blank", "total text", span=7),
            length(panel.net_width, unit),
            text(f"asked: {one.content.size(panel.need)}", "total text", span=2),
            text("glue", "total text", span=2),
            Cell(
                value=glue_ml(panel, one.thickness, unit)
                if len(panel.staves) > 1
                else None,
                style="total weight",
            ),
        )
    )


def _joint(one: PanelPage, stave: int) -> tuple[Cell, Cell]:
    """Return the joint below a stave, and the glue that it takes."""
    joints = len(one.panel.staves) - 1
    if stave > joints:
        return Cell(style="count"), Cell(style="one decimal")
    glue = glue_ml(one.panel, one.thickness, one.content.unit) / joints
    return Cell(value=stave, style="count"), Cell(value=glue, style="one decimal")


def _is_of(row: Record, panel: PanelPlan) -> bool:
    """Whether a stave belongs to a panel."""
    return (row["part"], row["copy"], row["layer"]) == (
        panel.part,
        panel.copy,
        panel.layer,
    )


def _clamps(clamping: Clamping, unit: Unit) -> Iterator[Row]:
    """Yield the places of the clamps, above and below, a few to a row."""
    for is_above, side in ((True, "above, odd"), (False, "below, even")):
        places = [clamp.at for clamp in clamping.clamps if clamp.is_above == is_above]
        for start in range(0, len(places), _PER_ROW):
            some = places[start : start + _PER_ROW]
            blanks = (text(None, "plain"),) * (_PER_ROW - len(some))
            cells = (text(f"clamps {side}, at", "label", span=3),)
            yield Row(cells=(*cells, *(length(at, unit) for at in some), *blanks))
