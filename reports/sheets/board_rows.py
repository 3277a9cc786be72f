"""Rows that say what a board is, the same wherever boards are listed to be fetched."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

from reports.frames import Record
from reports.sheets.cells import Cell, Row, head_row, length, number, text, tick
from stock.measures import BOARD_FEET_PER_M3, Unit, steps_per_unit

_WIDTHS = ("width", "width2")


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


def measured_cells(row: Record, unit: Unit, at: int) -> tuple[Cell, ...]:
    """Return `board_cells` whose sizes and grade may be written over in row `at`.

    Board feet follow the sizes. The width of a tapered board is that of its narrow end;
    its taper counts as long as nobody measured another width.
    """
    cells = board_cells(row, unit)
    if row["kind"] == "sheet":
        return cells
    before, sizes, needs, feet = cells[:4], cells[4:7], cells[7:9], cells[9:]
    inputs = (replace(cell, style=f"input {cell.style}") for cell in sizes)
    narrow, wide = sorted(Fraction(row[side], steps_per_unit(unit)) for side in _WIDTHS)
    third = (wide - narrow) / 3
    area = f"E{at}*F{at}"
    if third:
        area = f"E{at}*(F{at}+IF(F{at}={float(narrow)!r},{float(third)!r},0))"
    # the thickness that the tally counts, by the feet of the plan
    feet_per_unit = Fraction(row["board_feet"]) / (
        Fraction(row["length"], steps_per_unit(unit)) * (narrow + third)
    )
    if unit is Unit.INCH:
        formulas = [f"={area}*{float(feet_per_unit * 144)!r}/144"]
    else:
        thick = feet_per_unit / BOARD_FEET_PER_M3 * 10**9
        formulas = [
            f"=K{at}*{float(BOARD_FEET_PER_M3)!r}",
            f"={area}*{float(thick)!r}/1000000000",
        ]
    live = (
        replace(cell, formula=formula) for cell, formula in zip(feet, formulas, strict=True)
    )
    return (*before, *inputs, *needs, *live)


def _feet_cells(feet: Fraction | None, unit: Unit) -> tuple[Cell, ...]:
    """Return board feet, and in a metric project cubic metres beside them."""
    cells = [number(None if feet is None else float(feet), "feet")]
    if unit is Unit.MM:
        volume = None if feet is None else float(feet / BOARD_FEET_PER_M3)
        cells.append(number(volume, "volume"))
    return tuple(cells)
