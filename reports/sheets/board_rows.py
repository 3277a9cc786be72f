"""Rows that say what a board is, the same wherever boards are listed to be fetched."""

from __future__ import annotations

from fractions import Fraction

from reports.frames import Record
from reports.sheets.cells import Cell, Row, head_row, length, number, text, tick
from stock.measures import BOARD_FEET_PER_M3, Unit


def board_head(unit: Unit, *more: str | tuple[str, int]) -> Row:
    """Return the head of a table of boards, with `more` columns at the right."""
    volume = ("m3",) if unit is Unit.MM else ()
    return head_row(
        "", "board", "species", "thick", "length", "width", "grade",
        "smallest length that would do", "smallest width that would do", "board feet",
        *volume, *more, height=40.0,
    )  # fmt: skip


def board_cells(row: Record, unit: Unit) -> tuple[Cell, ...]:
    """Return a tick box and what a board is, from name to board feet."""
    feet = None if row["kind"] == "sheet" else Fraction(row["board_feet"])
    return (
        tick(),
        text(row["board"], "label"),
        text(row["species"]),
        text(row["thickness"]),
        length(row["length"], unit),
        length(min(row["width"], row["width2"]), unit),
        text(row["grade"]),
        length(row["need_length"], unit),
        length(row["need_width"], unit),
        *_feet_cells(feet, unit),
    )


def _feet_cells(feet: Fraction | None, unit: Unit) -> tuple[Cell, ...]:
    """Return board feet, and in a metric project cubic metres beside them."""
    cells = [number(None if feet is None else float(feet), "feet")]
    if unit is Unit.MM:
        volume = None if feet is None else float(feet / BOARD_FEET_PER_M3)
        cells.append(number(volume, "volume"))
    return tuple(cells)
