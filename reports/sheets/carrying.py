"""The part of the buying sheet about the way home: crosscuts at the yard, and loads."""

from __future__ import annotations

from collections.abc import Iterator

from reports.carrying import TOO_LONG, Haul, Item, in_unit, weight_unit
from reports.carrying_words import trips_words, weight_words
from reports.sheets.cells import (
    TICK_ROW,
    Cell,
    Row,
    head_row,
    heading_row,
    length,
    number,
    text,
    tick,
)
from reports.sheets.content import Content
from reports.sheets.page import Page


def add_carrying(page: Page, content: Content, yard: str) -> None:
    """Append how the wood of one yard is carried home, if the shop sets a limit."""
    for haul in content.hauls:
        if haul.yard.name == yard:
            _add_cuts(page, content, haul)
            _add_loads(page, content, haul)


def _add_cuts(page: Page, content: Content, haul: Haul) -> None:
    """Append what the yard is asked to crosscut, and what stays too long."""
    longest = content.project.shop.longest_carried
    rows = [*_cut_rows(page, content, haul), *_long_rows(page, content, haul)]
    if longest is None or not rows:
        return
    words = (
        f"Nothing longer than {content.size(longest)} {content.unit.value} is carried. Ask"
        " the yard to crosscut on the line: it lies in a kerf of the plan. Between the two"
        " places beside it the saw meets kerf and waste only. All places are measured from"
        " the butt end."
    )
    page.table(
        rows,
        [
            heading_row(f"Crosscut at {haul.yard.name}, to carry home", len(page.widths)),
            Row(cells=(text(words, "soft", span=len(page.widths)),)),
            head_row(
                "", "board", "line at", "room from", "to", ("gives", 3),
                ("remark", len(page.widths) - 8),
            ),
        ],
    )  # fmt: skip


def _cut_rows(page: Page, content: Content, haul: Haul) -> Iterator[Row]:
    """Yield one row per crosscut, with the lengths on both sides of it."""
    for one in haul.cut:
        for at, cut in enumerate(one.cuts):
            sides = [_side(content, stretch.length, waste=stretch.is_waste)
                     for stretch in one.stretches[at : at + 2]]  # fmt: skip
            yield Row(
                cells=(
                    tick(),
                    text(one.board.board, "label"),
                    length(cut.at, content.unit),
                    length(cut.low, content.unit),
                    length(cut.high, content.unit),
                    text(" and ".join(sides), span=3),
                    text(_remark(content, cut.at, at), span=len(page.widths) - 8),
                ),
                height=TICK_ROW,
                is_ticked=True,
            )


def _side(content: Content, size: int, *, waste: bool) -> str:
    """Return the length on one side of a cut; waste can stay at the yard."""
    return f"{content.size(size)} (waste)" if waste else content.size(size)


def _remark(content: Content, at: int, earlier: int) -> str:
    """Return what to say to the yard about one cut."""
    words = f"mark across at {content.size(at)}, cut on the line"
    return f"{words}; mark all lines before the first cut" if earlier else words


def _long_rows(page: Page, content: Content, haul: Haul) -> Iterator[Row]:
    """Yield the boards that no crosscut of the plan makes short enough."""
    for one in haul.boards:
        if one.is_too_long:
            words = (
                f"CHECK: needed in one length of {content.size(one.section)}, {TOO_LONG}"
            )
            yield Row(
                cells=(
                    text(None),
                    text(one.board.board, "label"),
                    text(words, "check", span=len(page.widths) - 2),
                ),
                height=TICK_ROW,
            )


def _add_loads(page: Page, content: Content, haul: Haul) -> None:
    """Append which length goes into which load, and the weight of each load."""
    if haul.most is None:
        return
    unit = content.unit
    mean = "weights are means of the species at 12 % moisture, wetter wood weighs more"
    most = weight_words(haul.most, unit)
    if haul.count == 1 and len(haul.load_of(1)) == len(haul.items):
        total = sum(item.grams or 0 for item in haul.items)
        words = f"To carry: about {weight_words(total, unit)} in one load of at most {most}"
        page.paragraph(f"{words} ({mean}).")
        page.add(height=8)
        return
    rest = len(page.widths) - 7
    words = trips_words(haul, unit) or "What is in no load is marked"
    note = f"{words[0].upper()}{words[1:]}. The {mean}."
    head = head_row(
        "", "board", "load", "from", "to", "length", f"weight, {weight_unit(unit)}",
        ("remark", rest), height=28.0,
    )  # fmt: skip
    title = f"Loads from {haul.yard.name}, of at most {most}"
    again = [heading_row(title, len(page.widths)), head]
    page.keep(sum(map(page.height_of, again)) + 4 * TICK_ROW)
    page.put(again[0])
    page.add(text(note, "soft", span=len(page.widths)))
    page.put(head)
    page.again = (head,)
    for load in range(1, haul.count + 1):
        items = haul.load_of(load)
        page.next_row(TICK_ROW * (1 + min(2, len(items))))
        first = len(page.rows) + 1
        for item in items:
            page.next_row(TICK_ROW)
            page.put(_item_row(content, item, rest))
        _add_weight(page, haul, load, (first, len(page.rows), rest))
    for item in haul.items:
        if not item.load:
            page.next_row(TICK_ROW)
            page.put(_item_row(content, item, rest))
    page.add(height=8)


def _item_row(content: Content, item: Item, rest: int) -> Row:
    """Return one length to carry."""
    unit = content.unit
    grams = None if item.grams is None else in_unit(item.grams, unit)
    remark = f"CHECK: {item.remark}" if item.remark else None
    return Row(
        cells=(
            tick(),
            text(item.board, "label"),
            Cell(value=item.load, style="count"),
            length(item.stretch.start, unit),
            length(item.stretch.end, unit),
            length(item.stretch.length, unit),
            number(grams, "one decimal"),
            text(remark, "check" if remark else "text", span=rest),
        ),
        height=TICK_ROW,
        is_ticked=True,
    )


def _add_weight(page: Page, haul: Haul, load: int, where: tuple[int, int, int]) -> None:
    """Append the weight of one load; `where` is its first and last row, and a width."""
    first, last, rest = where
    rows = [row for row in page.rows[first - 1 : last] if row.is_ticked]  # no heads
    total = sum(float(cell.value or 0) for row in rows if (cell := row.cells[6]))
    page.names[f"load {load} {haul.yard.name}"] = page.add(
        Cell(style="total text"),
        text(f"load {load}", "total text", span=5),
        Cell(value=total, style="total weight", formula=f"=SUM(G{first}:G{last})"),
        text(None, "total text", span=rest),
    )
