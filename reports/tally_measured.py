"""A board as listed, and as it was measured at the yard."""

from __future__ import annotations

from dataclasses import replace

from reports.tally_cart import Cart
from stock.boards import Board, Mark
from stock.cells import Record


def as_measured(cart: Cart, record: Record, listed: Board) -> Board:
    """Return a listed board with the length, width, grade and price written in a row.

    What is blank, or as listed, stays as listed.
    """
    real = _resized(
        listed,
        cart.size(record, "length", listed.length),
        cart.size(record, "width", min(listed.width, listed.width2)),
    )
    if real != listed and listed.marks:
        rule = "the marks of this board are still those of the project: look at it again"
        cart.warn(record, None, rule)
    price = cart.price(record, cart.rate(listed))
    return replace(
        real,
        grade=record["grade"] or listed.grade,
        price=listed.price if price is None else price,
    )


def _resized(listed: Board, length: int, narrow: int) -> Board:
    """Return a board with another length, or another width at its narrow end.

    Of a tapered board whose width is another one, no more than a parallel board is sure;
    one that is shorter keeps its slope from the narrow end on.
    """
    ends = sorted((listed.width, listed.width2))
    if narrow != ends[0]:
        ends = [narrow, narrow]
    elif length < listed.length:
        ends[1] = ends[0] + (ends[1] - ends[0]) * length // listed.length
    if listed.width > listed.width2:
        ends.reverse()
    real = replace(listed, length=length, width=ends[0], width2=ends[1])
    if real == listed:
        return listed
    moved = (_within(mark, listed, real) for mark in listed.marks)
    kept = tuple(mark for mark in moved if mark.start < mark.end and mark.low < mark.high)
    return replace(real, marks=kept)


def _within(mark: Mark, listed: Board, real: Board) -> Mark:
    """Return a mark cut to the real board; a defect up to an edge still reaches it."""

    def end(at: int, was: int, now: int) -> int:
        return now if mark.is_defect and at >= was else min(at, now)

    was, now = (max(board.width, board.width2) for board in (listed, real))
    return replace(
        mark,
        end=end(mark.end, listed.length, real.length),
        high=end(mark.high, was, now),
    )
