"""The part of the clamping sheet about cauls: where the plan's offcuts give them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from itertools import groupby

from reports.cauls import Cauls, CaulStrip, caul_thickness, caul_width, cauls_for
from reports.sheets.cells import HEAD, TICK_ROW, Row, head_row, length, text, tick
from reports.sheets.content import Content
from reports.sheets.page import Page


def cauls_of(content: Content) -> Cauls:
    """Return the cauls of all batches."""
    panels = [
        [one.panel for one in batch.glueups if one.panel]
        for batch in content.schedule.batches
    ]
    return cauls_for(content.project, content.plan, panels)


def add_cauls(page: Page, content: Content) -> None:
    """Append where cauls come from, strip by strip."""
    cauls = cauls_of(content)
    if not (cauls.strips or cauls.wanted or cauls.made):
        return
    page.keep(HEAD + 4 * TICK_ROW)
    page.heading("Cauls: pairs of straight strips across a panel, above and below")
    if cauls.strips:
        head = head_row(
            "", ("offcut", 2), "board", "from the butt end", "from lower edge",
            "strip length", "strip width", ("cut into cauls", 2), height=HEAD,
        )  # fmt: skip
        page.put(head)
        page.again = (head,)
        for _, alike in groupby(cauls.strips, key=_kind):
            page.next_row(TICK_ROW)
            page.put(_strips(list(alike), content))
        page.again = ()
    for words in _caul_words(cauls, content):
        page.paragraph(words, "plain")


def _kind(strip: CaulStrip) -> tuple[object, ...]:
    """Return what strips beside each other on one offcut have in common."""
    x, y, long, wide = strip.box
    place = None if strip.is_ripped else y
    return strip.board, strip.offcut, strip.name, x, place, long, wide, strip.cauls


def _strips(strips: list[CaulStrip], content: Content) -> Row:
    """Return strips of one offcut and the cauls that each gives."""
    strip = strips[0]
    x, y, long, wide = strip.box
    cells = (
        tick(),
        text(strip.name or "waste", "label", span=2),
        text(strip.board),
        length(x, content.unit),
        length(y, content.unit),
        length(long, content.unit),
        length(wide, content.unit),
        text(_cut_words(strips, content), span=2),
    )
    return Row(cells=cells, height=TICK_ROW, is_ticked=True)


def _cut_words(strips: list[CaulStrip], content: Content) -> str:
    """Return how strips are cut into cauls."""
    counts = Counter(strips[0].cauls)
    words = ", ".join(f"{n} of {content.size(long)}" for long, n in counts.items())
    if len(strips) > 1:
        return f"rip {len(strips)} such strips side by side; from each {words}"
    return f"rip it off first; {words}" if strips[0].is_ripped else words


def _caul_words(cauls: Cauls, content: Content) -> Iterator[str]:
    """Yield what is wanted beyond the offcuts, and how cauls are made."""
    unit = content.unit
    if cauls.made:
        words = "caul that is a part" if cauls.made == 1 else "cauls that are parts"
        yield f"Also used: {cauls.made} {words} of the project."
    thick, wide = content.size(caul_thickness(unit)), content.size(caul_width(unit))
    for long, count in cauls.wanted:
        noun = "caul" if count == 1 else "cauls"
        yield (
            f"WANTED: {count} more {noun}, {content.size(long)} long or longer,"
            f" {wide} wide, {thick} thick: no offcut of this plan gives them; take any"
            " straight, sound scrap."
        )
    if any(strip.name for strip in cauls.strips):
        yield (
            "An offcut with a name is one that the plan counts as worth keeping: scrap"
            " will do as well."
        )
    yield (
        "The same cauls serve batch after batch. Joint one edge straight and cover it with"
        " packing tape so that glue lets go. Light clamps at their ends are not counted"
        " above. None is shorter than the shop machines safely: don't cut them down to a"
        " narrow panel."
    )
