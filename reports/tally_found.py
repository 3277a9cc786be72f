"""A board that was found instead of a listed one, from its row of a tally sheet."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

from nesting.reading import mark_between, spelled
from reports.sheets.found import FOUND
from reports.tally_cart import Cart
from reports.tally_measured import as_measured
from stock.boards import Board, Mark, Thickness
from stock.cells import Record
from stock.marknotes import MarkNote, mark_notes
from stock.measures import Unit, format_measure, steps_per_unit, supply_steps
from stock.rows import suggestion

PLACE = "in place of"


def found_board(cart: Cart, yard: str | None, record: Record) -> Board | None:
    """Return the board of a row, or None after adding what is wrong with it.

    It is of the species, the thickness and the surfacing of the board whose place it
    takes, or like boards of the species that stands there; without either, of all that is
    bought at its yard if that is one kind of wood. A row that names a board of the project
    which the sheet does not list is that board.
    """
    faults = len(cart.findings.faults)
    if yard is None:
        cart.fault(record, None, "no heading above this row names a yard of the project")
    known = _known(cart, yard, record)
    likes = (known,) if known else _likes(cart, yard, record)
    _check_place(cart, record)
    if not known:
        _check_sizes(cart, record)
    if len(cart.findings.faults) > faults or not record.is_whole or not yard or not likes:
        return None
    board = as_measured(cart, record, known) if known else _new(cart, yard, record, likes)
    if board is None:
        return None
    marks = _marks(cart, record, board)
    return None if marks is None else replace(board, marks=(*board.marks, *marks))


def _known(cart: Cart, yard: str | None, record: Record) -> Board | None:
    """Return the board of the project that a row names, if it may be this one."""
    boards = {board.name: board for board in cart.project.boards}
    name = spelled(record.get(FOUND), boards)
    if name not in boards or name is None:
        return None
    board = boards[name]
    if name in cart.listed:
        cart.fault(record, FOUND, "this board stands on the sheet: tick it there")
    elif board.where != yard:
        rule = f"{board.where!r} has a board of this name: give the one found another name"
        cart.fault(record, FOUND, rule)
    elif record.get("thick") not in (None, board.thickness):
        rule = f"the project lists this board as {board.thickness.label!r}: another name?"
        cart.fault(record, "thick", rule)
    return board


def _likes(cart: Cart, yard: str | None, record: Record) -> tuple[Board, ...]:
    """Return the boards of the project that say what wood a found board is of."""
    boards = {board.name: board for board in cart.project.boards}
    place = record.get(PLACE)
    near = tuple(boards[name] for name, under in cart.listed.items() if under == yard)
    if place:
        name = spelled(place, boards)
        if name in boards and name is not None:
            return (boards[name],)
        return _of_species(cart, yard, place, near)
    if yard is None:
        return ()
    species = dict.fromkeys(board.species for board in near)
    if len(species) == 1:
        return near
    said = (
        f"the sheet lists {' and '.join(species)}" if species else "it lists no board here"
    )
    cart.fault(record, PLACE, f"fill in which board it is in place of: {said}")
    return ()


def _of_species(
    cart: Cart, yard: str | None, species: str, near: tuple[Board, ...]
) -> tuple[Board, ...]:
    """Return boards of a species: those listed at the yard, else its others, else any."""
    every = tuple(
        board for board in cart.project.boards if board.species == _species(cart, species)
    )
    here = tuple(board for board in every if board.where == yard)
    return tuple(board for board in near if board in every) or here or every


def _species(cart: Cart, word: str) -> str | None:
    """Return the species of the project that a word names, else None."""
    every = dict.fromkeys(board.species for board in cart.project.boards)
    name = spelled(word, every)
    return name if name in every else None


def _check_place(cart: Cart, record: Record) -> None:
    """Complain of a place that is none, or that is filled already."""
    place = record.get(PLACE)
    if not place:
        return
    boards = {board.name: board for board in cart.project.boards}
    name = spelled(place, boards)
    if (name not in boards or name is None) and _species(cart, place):
        return
    if name not in boards or name is None:
        rule = (
            "use the name of one board of the project, or a species"
            f"{suggestion(place, boards)}"
        )
        cart.fault(record, PLACE, rule)
    elif name in cart.rows and name in cart.listed:
        rule = f"row {cart.rows[name]} ticks that board as taken too: which of both is it?"
        cart.fault(record, PLACE, rule)


def _check_sizes(cart: Cart, record: Record) -> None:
    """Complain of sizes that nobody measured."""
    for column in ("length", "width"):
        if column in record.values and record[column] is None:
            cart.fault(record, column, f"fill in the {column} as measured")


def _new(cart: Cart, yard: str, record: Record, likes: tuple[Board, ...]) -> Board | None:
    """Return a board that the project does not list."""
    thickness = _thickness(cart, record, likes)
    if thickness is None:
        return None
    unit = cart.project.unit
    width = supply_steps(record["width"], unit)
    if thickness.nominal > record["width"]:
        rule = "a board is not thicker than wide: is a figure in the wrong column?"
        cart.fault(record, "width", rule)
        return None
    alike = [board for board in likes if board.thickness == thickness]
    surfaced = {board.surfaced for board in alike}
    board = Board(
        name=record[FOUND] or cart.new_name(),
        where=yard,
        species=likes[0].species,
        thickness=thickness,
        length=supply_steps(record["length"], unit),
        width=width,
        width2=width,
        grade=record["grade"],
        surfaced=surfaced.pop() if len(surfaced) == 1 else "rough",
    )
    return replace(board, price=_price(cart, record, board, alike or likes))


def _thickness(cart: Cart, record: Record, likes: tuple[Board, ...]) -> Thickness | None:
    """Return the thickness that is written, else the only one it can be."""
    written: Thickness | None = record["thick"]
    usual = dict.fromkeys(board.thickness for board in likes)
    if written is None and len(usual) > 1:
        labels = ", ".join(thickness.label for thickness in usual)
        rule = f"fill in the thickness, or what it is in place of: the sheet lists {labels}"
        cart.fault(record, "thick", rule)
        return None
    if written is None or written in usual:
        return next(one for one in usual if written in (None, one))
    return written


def _price(
    cart: Cart, record: Record, board: Board, likes: list[Board] | tuple[Board, ...]
) -> Fraction | None:
    """Return a found board's price: as written, else as its yard's list has it (None).

    Where the list has none, the dearest of the boards like it: what is owed rounds up.
    """
    written = cart.price(record, None)
    if written is not None or cart.rate(board) is not None:
        return written
    rates = (cart.rate(like) for like in likes)
    return max((rate for rate in rates if rate is not None), default=None)


def _marks(cart: Cart, record: Record, board: Board) -> tuple[Mark, ...] | None:
    """Return the marks noted in a row, or None after adding what is wrong with them."""
    faults = len(cart.findings.faults)
    try:
        notes = mark_notes(record["marks"] or "", cart.project.unit)
    except ValueError as error:
        cart.fault(record, "marks", str(error))
        return None
    marks = tuple(noted_mark(note, board, cart.project.unit) for note in notes)
    sides = (board.length, max(board.width, board.width2))
    for mark in marks:
        _check_mark(cart, record, mark, sides)
    if len(cart.findings.faults) > faults:
        return None
    return tuple(
        replace(mark, end=min(mark.end, sides[0]), high=min(mark.high, sides[1]))
        for mark in marks
    )


def noted_mark(note: MarkNote, board: Board, unit: Unit) -> Mark:
    """Return a mark on its board; what its note leaves out reaches to the edges."""
    sides = (board.length, max(board.width, board.width2))
    ends = [Fraction(side, steps_per_unit(unit)) for side in sides]
    start, end = note.along or (Fraction(0), ends[0])
    low, high = note.across or (Fraction(0), ends[1])
    at = {"from": start, "to": end, "low": low, "high": high}
    return mark_between(note.kind, at, note.face, unit)


def _check_mark(cart: Cart, record: Record, mark: Mark, sides: tuple[int, int]) -> None:
    """Complain of a mark that reaches beyond its board by more than both are rounded."""
    for end, side, word in zip(
        (mark.end, mark.high), sides, ("length", "width"), strict=True
    ):
        if end > side + 1:
            size = format_measure(side, cart.project.unit, 64)
            rule = f"the mark {mark.kind!r} lies on the board, whose {word} is {size}"
            cart.fault(record, "marks", rule)
