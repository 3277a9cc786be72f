"""The sheets for the glue-up bench: one printed page per panel."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from nesting.parts import Part
from nesting.plan import PanelPlan
from reports.cautions import panel_name, weight_words
from reports.frames import Record, records
from reports.glueups import (
    LIFT_KG,
    MPA_PER_PSI,
    Clamping,
    clamping_for,
    glue_ml,
    ring_sides,
    spread_minutes,
    weight_kg,
)
from reports.panel_views import AROUND, HIGHEST, LOWEST, end_view, face_view
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
from stock.boards import Board
from stock.measures import Unit

_WIDTHS = (5.0, 7, 20, 14, 11, 11, 11, 10, 10, 13, 13, 13)
_SCALE = 85
_PER_ROW = 9


@dataclass(frozen=True, kw_only=True, slots=True)
class GlueUp:
    """One panel with all that its page tells."""

    content: Content
    panel: PanelPlan
    part: Part
    clamping: Clamping
    sides: tuple[str, ...]
    boards: tuple[Board, ...]


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
        glueup = _glueup(content, panel)
        if glueup is None:
            continue
        if page.names:
            page.turn()
        page.names[panel_name(panel)] = page.block(_rows(page, glueup))
    return page


def _glueup(content: Content, panel: PanelPlan) -> GlueUp | None:
    """Return a panel with its clamps and sides; None if its part is not known."""
    part = content.part(panel.part)
    if part is None:
        return None
    shop = content.project.shop
    known = {board.name: board for board in content.project.boards}
    boards = tuple(known[s.board] for s in panel.staves if s.board in known)
    is_plain = any(board.sawing not in {"rift", "quarter"} for board in boards)
    return GlueUp(
        content=content,
        panel=panel,
        part=part,
        clamping=clamping_for(panel, part.thickness, content.density(part.species), shop),
        sides=ring_sides(panel, shop.ring, is_plain=is_plain),
        boards=boards,
    )


def _rows(page: Page, glueup: GlueUp) -> list[Row]:
    """Return the page of one panel; its drawing takes the room that the rest leaves."""
    before, after = list(_title(glueup)), list(_rest(glueup))
    height = sum(
        page.height_of(row) for row in (*page.rows[: page.frozen], *before, *after)
    )
    high = min(HIGHEST, max(LOWEST, page.room - height - AROUND - 8))
    content = glueup.content
    face = face_view(glueup.panel, glueup.part, glueup.clamping, content.unit, high)
    return [*before, picture_row(face), *after]


def _title(glueup: GlueUp) -> Iterator[Row]:
    """Yield the heading of a panel."""
    content, panel, part = glueup.content, glueup.panel, glueup.part
    title = (
        f"{panel_name(panel)}: {part.species}, glued blank"
        f" {content.size(panel.length, panel.net_width)}, finished"
        f" {content.size(part.length, part.width, part.thickness)}"
    )
    yield heading_row(title, len(_WIDTHS))


def _rest(glueup: GlueUp) -> Iterator[Row]:
    """Yield what stands under the drawing of a panel."""
    content, panel, part = glueup.content, glueup.panel, glueup.part
    if len(panel.staves) > 1:
        yield picture_row(end_view(panel, glueup.sides, part.thickness, content.unit))
    yield from _staves(glueup)
    if len(panel.staves) > 1:
        yield from _clamps(glueup.clamping, content.unit)
    yield from _facts(glueup)


def _staves(glueup: GlueUp) -> Iterator[Row]:
    """Yield the table of staves in the order they are glued."""
    panel, unit = glueup.panel, glueup.content.unit
    yield head_row(
        "", "stave", "piece", "board", "from the butt end", "from lower edge",
        "rough length", "rough width", "net width", "side up", "end for end", "tone",
        height=28.0,
    )  # fmt: skip
    tones = {board.name: board.tone for board in glueup.boards}
    rows = records(glueup.content.frames.staves)
    own = [row for row in rows if _is_of(row, panel)]
    for row, side in zip(own, glueup.sides, strict=True):
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
            ),
            height=TICK_ROW,
            is_ticked=True,
        )
    yield Row(
        cells=(
            text(None, "total text"),
            text("net width of the glued blank", "total text", span=7),
            length(panel.net_width, unit),
            text(f"asked: {glueup.content.size(panel.need)}", "total text", span=3),
        )
    )


def _is_of(row: Record, panel: PanelPlan) -> bool:
    """Whether a stave belongs to a panel."""
    return (row["part"], row["copy"], row["layer"]) == (
        panel.part,
        panel.copy,
        panel.layer,
    )


def _clamps(clamping: Clamping, unit: Unit) -> Iterator[Row]:
    """Yield the places of the clamps, a few to a row; odd ones go above."""
    clamps = clamping.clamps
    for start in range(0, len(clamps), _PER_ROW):
        some = clamps[start : start + _PER_ROW]
        first, last = some[0].number, some[-1].number
        span = f"{first} to {last}" if last > first else f"{first}"
        sides = " (odd above, even below)" if start == 0 else ""
        yield Row(
            cells=(
                text(f"clamps {span} at{sides}", "label", span=3),
                *(length(clamp.at, unit) for clamp in some),
                *(text(None, "plain"),) * (_PER_ROW - len(some)),
            )
        )


def _facts(glueup: GlueUp) -> Iterator[Row]:
    """Yield what else the bench wants to know, two facts to a row."""
    yield Row(height=6)
    facts = list(_all_facts(glueup))
    half = -(-len(facts) // 2)
    for at in range(half):
        right = facts[at + half] if at + half < len(facts) else ("", "", "text")
        yield Row(cells=(*_fact(facts[at], 2, 4), *_fact(right, 2, 4)))


def _fact(fact: tuple[str, str, str], *spans: int) -> tuple[Cell, Cell]:
    """Return one fact as a label and its words."""
    label, words, style = fact
    return (text(label or None, "label", spans[0]), text(words or None, style, spans[1]))


def _all_facts(glueup: GlueUp) -> Iterator[tuple[str, str, str]]:
    """Yield label, words and style of each fact."""
    content, panel, part = glueup.content, glueup.panel, glueup.part
    shop, clamping = content.project.shop, glueup.clamping
    joints = len(panel.staves) - 1
    yield "match", match_words(glueup.part, glueup.boards), "text"
    if len(panel.staves) > 1:
        yield "side up", _side_words(glueup), "text"
    yield (
        "triangle",
        "draw it across the dry staves, apex on stave 1, before gluing",
        "text",
    )
    if joints == 0:
        yield "joints", "none: the panel is one piece of wood", "text"
        return
    count = len(clamping.clamps)
    enough = count <= shop.clamps_owned
    apart = content.size(clamping.spacing)
    words = f"{count}: {clamping.by_spacing} to stand {apart} apart at most,"
    words += f" {clamping.by_pressure} for the pressure"
    if not enough:
        words += f". CHECK: the shop owns {float(shop.clamps_owned):g}"
    yield "clamps", words, "text" if enough else "check"
    yield "pressure", _pressure_words(clamping, content.unit), "text"
    yield "glue", f"about {glue_ml(panel, part.thickness, content.unit):.0f} ml", "text"
    minutes = spread_minutes(panel, shop)
    limit = float(shop.open_time)
    late = minutes > limit
    words = f"{joints} joints take {minutes:.1f} min to spread; open {limit:g} min"
    if late:
        words = f"CHECK: {words}. Glue up in parts"
    yield "open time", words, "check" if late else "text"
    yield from _weight(glueup)


def _side_words(glueup: GlueUp) -> str:
    """Return who says which side of a stave goes up."""
    if all(stave.face for stave in glueup.panel.staves):
        return "as the plan says"
    if set(glueup.sides) == {"any"}:
        return "any: look for the better face"
    return f"suggested by the shop's habit ({glueup.content.project.shop.ring})"


def _pressure_words(clamping: Clamping, unit: Unit) -> str:
    """Return the pressure on a joint in the project's system."""
    psi = clamping.pressure
    figure = f"{psi} psi" if unit is Unit.INCH else f"{psi * MPA_PER_PSI:.1f} MPa"
    return f"{figure} is usual for this wood; thin, well-fitted joints do with less"


def _weight(glueup: GlueUp) -> Iterator[tuple[str, str, str]]:
    """Yield the weight of the glued blank, if the wood is known."""
    density = glueup.content.density(glueup.part.species)
    if density is None:
        yield "weight", f"not known for {glueup.part.species}", "text"
        return
    unit = glueup.content.unit
    volume = float(glueup.panel.length * glueup.panel.net_width * glueup.part.thickness)
    weight = weight_kg(volume, density, unit)
    words = f"about {weight_words(weight, unit)} when planed"
    heavy = weight > LIFT_KG
    yield "weight", words + (": two people" if heavy else ""), "check" if heavy else "text"


def match_words(part: Part, boards: Sequence[Board]) -> str:
    """Return how the staves of a panel relate, asked and got."""
    names = list(dict.fromkeys(board.name for board in boards))
    logs = {board.log for board in boards}
    if len(names) == 1:
        got = f"all from board {names[0]}"
    elif len(logs) == 1:
        got = f"boards {', '.join(names)}, all of {next(iter(logs))}"
    else:
        got = f"boards {', '.join(names)}"
    asked = f"asked: {part.match}; " if part.match != "none" else ""
    in_set = f"; set {part.set}" if part.set else ""
    return f"{asked}{got}{in_set}"
