"""Rows of a project file to records of wood, with every check that spans rows or tables.

Each function takes one table as read, adds what is wrong to the findings, and returns
the records of the rows that are sound. Sizes of parts round up to the grid, sizes of
boards round down; a defect grows by the rounding, a zone that adds something shrinks.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping
from fractions import Fraction
from pathlib import Path
from typing import Any

from nesting.drawn import Drawn
from nesting.outlined import is_file, sides, size_faults
from nesting.parts import Part
from stock.boards import DEFECTS, RACK, Board, Mark
from stock.cells import Record, plain
from stock.errors import Fault
from stock.measures import Unit, need_steps, supply_steps
from stock.rows import Findings, folded, suggestion
from stock.yards import Price, Yard


def parts_from(
    records: Iterable[Record],
    sheets: Mapping[str, Fraction],
    drawn: Mapping[int, Drawn],
    unit: Unit,
    findings: Findings,
) -> tuple[Part, ...]:
    """Return the parts.

    `sheets` gives the exact thickness of each sheet material, `drawn` the outlines that
    were read, by row.
    """
    records = tuple(records)
    find_doubles(records, "part", findings)
    for record in records:
        findings.faults += _part_faults(record, sheets)
        findings.warnings += _part_warnings(record)
        if record.row.number in drawn:
            findings.faults += size_faults(record, drawn[record.row.number], unit)
    return tuple(
        _part(record, drawn.get(record.row.number), unit)
        for record in records
        if record.is_whole
    )


def boards_from(
    records: Iterable[Record], marks: Iterable[Record], yards: Iterable[str],
    unit: Unit, findings: Findings,
) -> tuple[Board, ...]:  # fmt: skip
    """Return the boards, each with its marks."""
    records, yards = tuple(records), tuple(yards)
    find_doubles(records, "board", findings)
    for record in records:
        find_unknown(record, "where", (RACK, *yards), "a yard of the table Yards", findings)
    by_board: dict[str, list[Mark]] = {}
    by_name = {record["board"]: record for record in records if record.get("board")}
    for mark in marks:
        find_unknown(mark, "board", by_name, "a board of the table Boards", findings)
        board = by_name.get(spelled(mark.get("board"), by_name))
        if board is None or not (mark.is_whole and board.is_whole):
            continue
        found = tuple(_mark_faults(mark, board))
        findings.faults += found
        if not found:
            by_board.setdefault(board["board"], []).append(_mark(mark, board, unit))
    return tuple(
        _board(record, tuple(by_board.get(record["board"], ())), yards, unit)
        for record in records
        if record.is_whole
    )


def yards_from(records: Iterable[Record], findings: Findings) -> tuple[Yard, ...]:
    """Return the yards."""
    records = tuple(records)
    find_doubles(records, "yard", findings)
    for record in records:
        if folded(record.get("yard") or "") == RACK:
            rule = "rack is the shop's own wood: give the yard another name"
            findings.faults.append(record.fault("yard", rule))
    return tuple(
        Yard(
            name=record["yard"],
            trip_cost=record["trip cost"],
            smallest_order=record["smallest order"],
            surfacing_charge=record["surfacing charge"],
            straight_edge_charge=record["straight edge charge"],
            tax=record["tax"],
            note=record["note"] or "",
        )
        for record in records
        if record.is_whole
    )


def prices_from(
    records: Iterable[Record], yards: Iterable[str], unit: Unit, findings: Findings
) -> tuple[Price, ...]:
    """Return the lines of the price lists."""
    records, yards = tuple(records), tuple(yards)
    for record in records:
        find_unknown(record, "yard", yards, "a yard of the table Yards", findings)
        for low, high in (("narrowest", "widest"), ("shortest", "longest")):
            if _exceeds(record.get(low), record.get(high)):
                rule = f"the {low} is not more than the {high}"
                findings.faults.append(record.fault(low, rule))
    return tuple(_price(record, yards, unit) for record in records if record.is_whole)


def find_doubles(records: Iterable[Record], column: str, findings: Findings) -> None:
    """Refuse names given twice; warn of names that differ only by case."""
    rows: dict[str, int] = {}
    alike: dict[str, tuple[str, int]] = {}
    for record in records:
        name = record.get(column)
        if not name:
            continue
        if name in rows:
            rule = f"the name stands in row {rows[name]} already: names are unique"
            findings.faults.append(record.fault(column, rule))
        elif name.casefold() in alike:
            other, row = alike[name.casefold()]
            rule = f"the name differs from {other!r} in row {row} only by case"
            findings.warnings.append(record.fault(column, rule))
        rows.setdefault(name, record.row.number)
        alike.setdefault(name.casefold(), (name, record.row.number))


def spelled(name: str | None, known: Iterable[str]) -> str | None:
    """Return how a known name is spelled: the very same, else one alike but for case."""
    known = tuple(known)
    if name is None or name in known:
        return name
    alike = [one for one in known if one.casefold() == name.casefold()]
    return alike[0] if alike else None


def missing_files(
    parts: Iterable[Record], boards: Iterable[Record], folder: Path
) -> tuple[Fault, ...]:
    """Return a warning for every outline and photo that is not where the project says."""
    named = [
        (record, "shape", record["shape"][2].file)
        for record in parts
        if record.get("shape") and record["shape"][2]
    ]
    named += [(record, "photo", record.get("photo")) for record in boards]
    return tuple(
        record.fault(column, f"there is no file {file!r} beside the project")
        for record, column, file in named
        if file and not is_file(folder / file)
    )


def find_unknown(
    record: Record, column: str, known: Iterable[str], what: str, findings: Findings
) -> None:
    """Refuse a name that another table does not know."""
    known = tuple(known)
    name = record.get(column)
    if name and spelled(name, known) is None:
        own = f"{RACK} or " if RACK in known else ""
        rule = f"use {own}{what}{suggestion(name, known)}"
        findings.faults.append(record.fault(column, rule))


def _exceeds(low: Fraction | None, high: Fraction | None) -> bool:
    return low is not None and high is not None and low > high


def _part_faults(record: Record, sheets: Mapping[str, Fraction]) -> Iterable[Fault]:
    """Yield what is wrong with a part as a whole."""
    _, ends, _ = record.get("shape") or ("", None, None)
    width = record.get("width")
    if ends and width is not None and max(ends) > width:
        yield record.fault("shape", "the ends of a taper are not wider than the part")
    if ends and max(ends) == 0:
        yield record.fault("shape", "a taper is wider than 0 at one end at least")
    sheet = spelled(record.get("species"), sheets)
    if sheet is None:
        return
    if record.get("thickness") not in (None, sheets[sheet]):
        yield record.fault("thickness", f"the part is as thick as the sheet {sheet!r}")
    if record.get("build") in ("panel", "laminate"):
        yield record.fault(
            "build", "a part of sheet goods is cut in one piece: use auto or solid"
        )


def _part_warnings(record: Record) -> Iterable[Fault]:
    """Yield what looks like a slip."""
    kind, ends, _ = record.get("shape") or ("", None, None)
    length, width = record.get("length"), record.get("width")
    if None in (length, width):
        return
    if ends and max(ends) < width:
        yield record.fault(
            "shape", "neither end of the taper is as wide as the part: the width rules"
        )
    if kind == "disc" and length != width:
        yield record.fault(
            "shape", "length and width of a disc differ: the blank holds both"
        )


def _part(record: Record, drawn: Drawn | None, unit: Unit) -> Part:
    """Turn a sound row into a part."""

    def size(column: str) -> int:
        return need_steps(record[column], unit)

    shape, ends, outline = record["shape"]
    finished = (
        sides(drawn, record["grain"])
        if drawn
        else {side: size(side) for side in ("length", "width")}
    )
    spare, is_percent = record["spare"]
    spares = math.ceil(record["qty"] * spare / 100) if is_percent else int(spare)
    return Part(
        name=record["part"],
        qty=record["qty"],
        spares=spares,
        length=finished["length"],
        width=finished["width"],
        thickness=size("thickness"),
        species=record["species"],
        grain=record["grain"],
        sawing=record["sawing"],
        figure=record["figure"],
        face=record["face"],
        build=record["build"],
        match=record["match"],
        set=record["set"],
        shape=shape,
        ends=(need_steps(ends[0], unit), need_steps(ends[1], unit)) if ends else None,
        outline=outline.file if outline else None,
        drawn=drawn,
        end_angle=record["end angle"],
        add_length=size("add length"),
        add_width=size("add width"),
        template=record["template"],
        source=record["from"],
        held=record["held"],
        note=record["note"] or "",
        row=record.row.number,
    )


def _board(
    record: Record, marks: tuple[Mark, ...], yards: tuple[str, ...], unit: Unit
) -> Board:
    """Turn a sound row into a board."""
    return Board(
        name=record["board"],
        where=spelled(record["where"], (RACK, *yards)) or record["where"],
        species=record["species"],
        thickness=record["thickness"],
        length=supply_steps(record["length"], unit),
        width=supply_steps(record["width"], unit),
        width2=supply_steps(_far_width(record), unit),
        grade=record["grade"],
        sawing=record["sawing"],
        figure=record["figure"] or (),
        tone=record["tone"],
        flitch=record["flitch"],
        order=record["order"],
        surfaced=record["surfaced"],
        price=record["price"],
        moisture=None if record["moisture"] is None else float(record["moisture"]),
        photo=record["photo"],
        note=record["note"] or "",
        marks=marks,
    )


def _far_width(board: Record) -> Any:  # noqa: ANN401
    """Return the exact width at the far end; the same as at the butt if blank."""
    return board["width"] if board["width 2"] is None else board["width 2"]


def _mark_extent(mark: Record, board: Record) -> Mapping[str, Fraction]:
    """Return where a mark starts and ends, blanks reaching to the board's edges."""
    widest = max(board["width"], _far_width(board))
    return {
        "from": mark["from"],
        "to": board["length"] if mark["to"] is None else mark["to"],
        "low": mark["low"],
        "high": widest if mark["high"] is None else mark["high"],
    }


def _mark_faults(mark: Record, board: Record) -> Iterable[Fault]:
    """Yield what is wrong with a mark: it has some extent and lies on its board."""
    at = _mark_extent(mark, board)
    limits = {"to": board["length"], "high": max(board["width"], _far_width(board))}
    for low, high in (("from", "to"), ("low", "high")):
        if at[high] > limits[high]:
            side = "length" if high == "to" else "width"
            rule = f"the mark lies on the board, whose {side} is {plain(limits[high])}"
            yield mark.fault(high, rule)
        elif at[low] >= at[high]:
            yield mark.fault(high, f"a mark has some extent: {high} is more than {low}")


def _mark(mark: Record, board: Record, unit: Unit) -> Mark:
    """Turn a sound row into a mark."""
    return mark_between(mark["kind"], _mark_extent(mark, board), mark["face"], unit)


def mark_between(
    kind: tuple[str, str | None], at: Mapping[str, Fraction], face: str, unit: Unit
) -> Mark:
    """Return a mark that no rounding makes better than it is.

    `kind` is a kind with its tag; `at` tells `from`, `to`, `low` and `high` in the
    project's unit.
    """
    name, tag = kind
    first: Callable[[Fraction, Unit], int] = supply_steps if name in DEFECTS else need_steps
    last: Callable[[Fraction, Unit], int] = need_steps if name in DEFECTS else supply_steps
    return Mark(
        kind=name,
        tag=tag,
        start=first(at["from"], unit),
        end=last(at["to"], unit),
        low=first(at["low"], unit),
        high=last(at["high"], unit),
        face=face,
    )


def _price(record: Record, yards: tuple[str, ...], unit: Unit) -> Price:
    """Turn a sound row into a line of a price list."""

    def limit(column: str) -> int | None:
        return None if record[column] is None else supply_steps(record[column], unit)

    return Price(
        yard=spelled(record["yard"], yards) or record["yard"],
        species=record["species"],
        thickness=record["thickness"],
        grade=record["grade"],
        sawing=record["sawing"],
        price=record["price"],
        narrowest=limit("narrowest"),
        widest=limit("widest"),
        shortest=limit("shortest"),
        longest=limit("longest"),
        surfaced=record["surfaced"],
        available=record["available"],
        note=record["note"] or "",
    )
