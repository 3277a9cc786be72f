"""What lies on the rack and how it came about, as plain text and as a CSV table."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Mapping, Sequence
from fractions import Fraction

from reports.plaintext import aligned, counted, labelled
from stock.boards import Mark
from stock.errors import Fault, InputError
from stock.measures import (
    BOARD_FEET_PER_M3,
    MeasureError,
    Unit,
    format_measure,
    parse_thickness,
    to_unit,
)
from stock.rack_boards import RackBoard
from stock.rack_entries import Change, Entry

_CSV = ("board", "place", "species", "thickness", "length", "width", "width_2", "unit",
        "board_feet", "m3", "grade", "sawing", "figure", "tone", "flitch", "order",
        "surfaced", "price", "moisture", "since", "source", "held_for", "marks",
        "note")  # fmt: skip


def fits(one: RackBoard, wanted: Mapping[str, str | None]) -> bool:
    """Whether a board is what was asked for, whatever the case of its words."""
    own = {"species": one.board.species, "sawing": one.board.sawing or ""}
    words = all(
        (wanted[name] or text).casefold() == text.casefold() for name, text in own.items()
    )
    place = (wanted["place"] or "").casefold()
    return (
        words
        and place in (one.board.place or "").casefold()
        and _is_thick(one, wanted["thickness"])
    )


def list_text(boards: Sequence[RackBoard]) -> str:
    """Return the boards as aligned columns, and their sum."""
    if not boards:
        return "no such board lies on the rack"
    heads = ("board", "place", "species", "thick", "length", "width", "board feet",
             "sawing", "figure", "moisture", "reserved for")  # fmt: skip
    rows = [
        (
            one.name, one.board.place or "", one.board.species, one.thick,
            f"{format_measure(one.board.length, one.unit, 64)} {one.unit.value}",
            widths(one), feet(one.feet), one.board.sawing or "",
            ", ".join(one.board.figure), moisture(one), one.held or "",
        )
        for one in boards
    ]  # fmt: skip
    table = aligned(heads, rows, ("length", "width", "board feet", "moisture"))
    every = sum((one.feet for one in boards), Fraction(0))
    return f"{table}\n{counted(len(boards), 'board')}, {feet(every)} board feet"


def list_csv(boards: Iterable[RackBoard]) -> str:
    """Return the boards as a CSV table: a heading row, plain numbers, else blanks.

    Sizes are numbers in the board's own unit, which stands beside them.
    """
    stream = io.StringIO()
    writer = csv.writer(stream, lineterminator="\n")
    writer.writerow(_CSV)
    for one in boards:
        board = one.board
        size = [to_unit(n, one.unit) for n in (board.length, board.width, board.width2)]
        volume = float(one.feet / BOARD_FEET_PER_M3)
        writer.writerow(
            [
                board.name, board.place, board.species, board.thickness.label, *size,
                one.unit.value, f"{float(one.feet):.6f}", f"{volume:.8f}", board.grade,
                board.sawing, ", ".join(board.figure), board.tone, board.flitch,
                board.order, board.surfaced,
                None if board.price is None else float(board.price), board.moisture,
                one.since, one.source, one.held, marks_text(one), board.note,
            ]
        )  # fmt: skip
    return stream.getvalue().rstrip("\n")


def history_text(name: str, entries: Iterable[Entry]) -> str | None:
    """Return what is known of a board and what happened to it, or None if unknown.

    Of several boards that had the name one after the other it is the last.
    """
    every = tuple(entries)
    number = _last_of(name, every)
    if number is None:
        return None
    past = [(entry, one) for entry in every for one in entry.changes if one.board == number]
    last = past[-1][1].after or next(
        one.before for _, one in reversed(past) if one.before is not None
    )
    lines = _facts(last)
    if past[-1][1].after is None:
        lines.append(("now", "no longer on the rack"))
    lines += [(f"{entry.day}", _event(entry, one)) for entry, one in past]
    return labelled(lines)


def marks_text(one: RackBoard) -> str:
    """Return the marks of a board as a maker jots them down."""
    return "; ".join(_mark_text(mark, one.unit) for mark in one.board.marks)


def widths(one: RackBoard) -> str:
    """Return the width of a board, both of a tapered one."""
    sides = dict.fromkeys((one.board.width, one.board.width2))
    return " to ".join(format_measure(side, one.unit, 64) for side in sides)


def feet(amount: Fraction) -> str:
    """Return board feet with two places."""
    return f"{float(amount):,.2f}"


def moisture(one: RackBoard) -> str:
    """Return the last reading of a board."""
    return "" if one.board.moisture is None else f"{one.board.moisture:g} %"


def _is_thick(one: RackBoard, text: str | None) -> bool:
    """Whether a board is as thick as asked, in its own unit where none is named."""
    if text is None:
        return True
    try:
        return one.board.thickness.nominal == parse_thickness(text, one.unit)[0]
    except MeasureError as error:
        fault = Fault("rack list", None, "thickness", str(error), text)
        raise InputError([fault]) from None


def _last_of(name: str, entries: Iterable[Entry]) -> int | None:
    """Return the number of the last board that had a name, whatever its case."""
    found = None
    for entry in entries:
        for one in entry.changes:
            for side in (one.before, one.after):
                if side and side.name.casefold() == name.casefold():
                    found = one.board
    return found


def _facts(one: RackBoard) -> list[tuple[str, str]]:
    """Return what a board is, a label and a text each."""
    board, unit = one.board, one.unit
    size = f"{format_measure(board.length, unit, 64)} x {widths(one)} {unit.value}"
    shows = (board.grade, board.sawing, *board.figure, board.surfaced)
    facts = [
        ("board", board.name),
        ("wood", f"{board.species} {one.thick}, {size}, {feet(one.feet)} board"
                 " feet"),
        ("shows", ", ".join(word for word in shows if word)),
        ("flitch", " ".join(str(word) for word in (board.flitch, board.order) if word)),
        ("marks", marks_text(one)),
        ("moisture", moisture(one)),
        ("place", board.place or ""),
        ("from", f"{one.source}, since {one.since}" if one.source else one.since),
        ("reserved", f"for {one.held}" if one.held else ""),
        ("note", board.note),
    ]  # fmt: skip
    return [(label, text) for label, text in facts if text]


def _event(entry: Entry, one: Change) -> str:
    """Say what an entry did to a board."""
    took = f" of entry {entry.undoes}" if entry.undoes else ""
    return f"entry {entry.number}, {entry.kind}{took}: {_what(one)} ({entry.reason})"


def _what(one: Change) -> str:
    """Say what changed of a board."""
    before, after = one.before, one.after
    if before is None and after is not None:
        return f"came onto the rack, {feet(after.feet)} board feet"
    if after is None or before is None:
        return "left the rack"
    said = []
    if before.board.moisture != after.board.moisture:
        said.append(f"moisture {moisture(after) or 'not known'}")
    if before.held != after.held:
        said.append(f"reserved for {after.held}" if after.held else "free again")
    if (before.board.length, widths(before)) != (after.board.length, widths(after)):
        length = format_measure(after.board.length, after.unit, 64)
        said.append(f"now {length} x {widths(after)} {after.unit.value}")
    if before.board.place != after.board.place:
        said.append(f"place {after.board.place or 'not known'}")
    return ", ".join(said) or f"as before, moisture {moisture(after) or 'not known'}"


def _mark_text(mark: Mark, unit: Unit) -> str:
    """Return one mark as `stock.marknotes` reads it."""

    def size(steps: int) -> str:
        return format_measure(steps, unit, 64)

    kind = f"{mark.kind}: {mark.tag}" if mark.tag else mark.kind
    where = f"{size(mark.start)} to {size(mark.end)}"
    across = f"across {size(mark.low)} to {size(mark.high)}"
    return f"{kind} {where} {across}" + (" one face" if mark.face == "one" else "")
