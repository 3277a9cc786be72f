"""Every finished part, traced to the boards it comes from."""

from __future__ import annotations

from itertools import groupby

from nesting.plan import WindowPiece
from reports.frames import Record, records
from reports.from_offcuts import not_from_offcuts, window_name
from reports.sheets.cells import Cell, Row, head_row, length, text
from reports.sheets.content import Content
from reports.sheets.page import Page

_WIDTHS = (14.0, 5, 9, 8, 8, 12, 15, 10, 9, 8, 9, 8, 23)


def parts_page(content: Content) -> Page:
    """Describe the sheet: a row per piece, the finished part on the first of each copy."""
    page = Page(name="Parts", widths=_WIDTHS, frozen=3)
    page.top(
        "Parts",
        f"Lengths in {content.unit_name}. From the finished part to the rough pieces,"
        " their boards and their places (from the butt end, from the lower edge).",
    )
    page.put(
        head_row(
            "part", "copy", "finished length", "width", "thick", "species", "piece",
            "board", "from butt", "from edge", "rough length", "rough width", "remark",
            height=28.0,
        )
    )  # fmt: skip
    order = {part.name: at for at, part in enumerate(content.project.parts)}
    rows = sorted(
        [
            {**row, "copy": copy}
            for row in records(content.frames.pieces)
            for copy in dict.fromkeys(row["copies"])
        ] + [_from_window(one) for one in content.plan.from_windows],
        key=lambda row: (
            order.get(row["part"], len(order)), row["part"], row["copy"],
            row["layer"], row["stave"],
        ),
    )  # fmt: skip
    for _, pieces in groupby(rows, key=lambda row: (row["part"], row["copy"])):
        page.block([_row(content, row, is_first=not at) for at, row in enumerate(pieces)])
    for row in records(content.frames.short):
        words = f"SHORT: {row['copies']} not made. {row['why']}"
        page.add(text(row["part"], "check"), text(words, "check", span=len(_WIDTHS) - 1))
    left_out = not_from_offcuts(content.project, content.plan)
    for (name, why), count in left_out.items():
        words = f"NOT MADE: {count}, wanted from offcuts only. {why}"
        page.add(text(name, "note"), text(words, "note", span=len(_WIDTHS) - 1))
    page.press()
    return page


def _row(content: Content, row: Record, *, is_first: bool) -> Row:
    """Return one piece; the finished part stands before it if it is the first."""
    unit = content.unit
    part = content.part(row["part"]) if is_first else None
    finished = (
        text(row["part"] if is_first else None, "label"),
        Cell(value=row["copy"] if is_first else None, style="count"),
        length(part.length if part else None, unit),
        length(part.width if part else None, unit),
        length(part.thickness if part else None, unit),
        text(part.species if part else None),
    )
    return Row(
        cells=(
            *finished,
            text(row["piece"]),
            text(row["board"]),
            length(row["x"], unit),
            length(row["y"], unit),
            length(row["length"], unit),
            length(row["width"], unit),
            text(_remark(content, row, is_first=is_first) or None),
        )
    )


def _from_window(one: WindowPiece) -> Record:
    """Return a piece that comes out of a window as a row; its place is in the outline."""
    return {
        "board": window_name(one), "piece": one.name, "part": one.part, "copy": one.copy,
        "x": one.x, "y": one.y, "length": one.length, "width": one.width,
        "role": "solid", "stave": 0, "layer": 1, "layers": 1, "leaves": 1, "nested": 0,
        "ganged": False,
    }  # fmt: skip


def _leaf_words(row: Record) -> str:
    """Return which leaf of a piece a copy is, or that all of them are in its panel."""
    count = row["leaves"]
    if row["stave"]:
        return f"resaw into {count} staves of this panel"
    return f"resaw: leaf {row['copies'].index(row['copy']) + 1} of {count}"


def _whence(row: Record) -> str:
    """Return where a part from offcuts comes from; a window has no place on a board."""
    if "where" in row:
        return f"from what is left over of {row['board']}"
    return "sawn out with the window; placed from the low corner of the outline"


def _remark(content: Content, row: Record, *, is_first: bool) -> str:
    """Return what a piece is to its part."""
    words = []
    if row["stave"] and row["leaves"] == 1:
        words.append(f"stave {row['stave']}")
    if row["layers"] > 1:
        words.append(f"layer {row['layer']} of {row['layers']}")
    if row["leaves"] > 1:
        words.append(_leaf_words(row))
    if row["nested"]:
        place = row["copies"].index(row["copy"]) + 1
        words.append(f"outline {place} of {row['nested']} in this piece")
    if row["ganged"]:
        words.append("in a gang")
    part = content.part(row["part"])
    if part and row["copy"] > part.qty:
        words.append("spare")
    if part and part.source == "offcut":
        words.append(_whence(row))
    if part and part.note and is_first:
        words.append(part.note)
    return ", ".join(words)
