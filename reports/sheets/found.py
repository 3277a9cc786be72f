"""The rows of the buying sheet for what was found instead of its boards."""

from __future__ import annotations

from dataclasses import replace

from nesting.taken import Note
from reports.sheets.cells import Cell, Row, head_row, text, tick
from reports.sheets.page import Page
from reports.sheets.sums import Terms, columns_for
from stock.measures import BOARD_FEET_PER_M3, Unit

FOUND = "found instead"
SPARE_ROW = 24.0  # points: two lines of handwritten marks


def spare_rows(boards: int) -> int:
    """Return how many rows a yard's list has for what is found instead of its boards."""
    return min(10, 3 + boards // 4)


def add_found_head(page: Page, unit: Unit) -> None:
    """Append how to fill in what was found instead, and the head of its rows."""
    page.paragraph(_HOW[unit])
    head = head_row(
        "", FOUND, "in place of", "thick", "length", "width", "grade",
        ("marks", 2), "board feet", *(("m3",) if unit is Unit.MM else ()),
        "price", "wood", "charges", "to pay",
    )  # fmt: skip
    page.put(head)
    page.again = (head,)


def found_row(board: Row, note: Note) -> Row:
    """Return the row of a board that was written in before, made of its row as listed."""
    _, name, _, thick, *sizes = (cell for cell in board.cells if cell)
    measures, (price, wood, charges, pay) = sizes[:3], sizes[-4:]
    cells = (
        tick(done=True),
        replace(name, style="input text"),
        text(note.place, "input text"),
        replace(thick, style="input text"),
        *measures,
        text(note.marks or None, "input text", span=2),
        *sizes[5:-4],
        price,
        wood,
        replace(charges, style="input money"),
        pay,
    )
    return Row(cells=cells, height=SPARE_ROW, is_ticked=True)


def add_blank_rows(page: Page, unit: Unit, terms: Terms, count: int) -> int:
    """Append rows for what was found instead; return the number of the last."""
    columns = columns_for(unit)
    at = len(page.rows)
    for _ in range(count):
        at = len(page.rows) + 1
        feet, volume = f"D{at}*E{at}*F{at}/144", f"D{at}*E{at}*F{at}/1000000000"
        if unit is Unit.MM:
            feet = f"{volume}*{float(BOARD_FEET_PER_M3)!r}"
        amounts = [("feet", feet)] + ([("volume", volume)] if unit is Unit.MM else [])
        page.add(
            tick(),
            Cell(style="input text"),
            Cell(style="input text"),
            *(Cell(style="input length") for _ in range(3)),
            Cell(style="input text"),
            Cell(style="input text", span=2),
            *(_if_measured(at, what, style) for style, what in amounts),
            Cell(style="input money"),
            _if_measured(at, f"{columns.priced}{at}*{columns.price}{at}", "money"),
            Cell(style="input money"),
            _if_measured(
                at,
                f"ROUND(({columns.wood}{at}+{columns.charges}{at})*(1+{terms.tax}),2)",
                "money",
            ),
            height=SPARE_ROW,
        )
    return at


_HOW = {
    unit: "Found instead: a row each, sizes as measured. Marks from the butt end, across"
    f" from the lower edge, as in: {example}"
    for unit, example in (
        (Unit.INCH, "knot 20 to 26; check 0 to 3; knot 40 to 44 across 2 to 4"),
        (Unit.MM, "knot 500 to 660; check 0 to 75; knot 900 to 990 across 50 to 90"),
    )
}


def _if_measured(at: int, what: str, style: str) -> Cell:
    """Return a cell that stays empty until a row's three sizes are filled in."""
    return Cell(value="", style=style, formula=f'=IF(COUNT(D{at}:F{at})=3,{what},"")')
