"""What a rack's ledger is made of: entries, the steps they book, the state they leave."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

from stock.rack_boards import RackBoard

UNDO = "undo"  # the kind of entry that takes another back
NOTHING = Fraction(0)


@dataclass(frozen=True, kw_only=True, slots=True)
class Change:
    """A board before and after an entry; None where it is not on the rack."""

    board: int
    before: RackBoard | None
    after: RackBoard | None


@dataclass(frozen=True, kw_only=True, slots=True)
class Entry:
    """One entry of the ledger.

    Attributes
    ----------
    made
        When it was booked: local time with its distance to UTC.
    kind
        The command that booked it.
    undoes
        Number of the entry that it takes back, or None.
    came, used, lost
        Board feet that came in, that went into pieces, and that went otherwise; an entry
        that takes another back books the same below zero.
    """

    number: int
    made: str
    kind: str
    reason: str
    undoes: int | None
    came: Fraction
    used: Fraction
    lost: Fraction
    changes: tuple[Change, ...]

    @property
    def day(self) -> str:
        """The day it was booked on."""
        return self.made[:10]


@dataclass(frozen=True, kw_only=True, slots=True)
class Step:
    """Boards that change together, as a board that is cut and its offcuts.

    Attributes
    ----------
    puts
        Number of a board and what it is from now on, None if it leaves the rack; the
        number is None for a board that comes.
    used
        Board feet that go into pieces.
    came
        Board feet that came into the shop and are cut at once.
    """

    puts: tuple[tuple[int | None, RackBoard | None], ...]
    used: Fraction = NOTHING
    came: Fraction = NOTHING


@dataclass(frozen=True, slots=True)
class State:
    """What lies on the rack after some entry, by the boards' numbers.

    Attributes
    ----------
    entry
        Number of the last entry, 0 if there is none.
    last
        Highest number that a board was ever given.
    """

    entry: int
    last: int
    boards: Mapping[int, RackBoard]

    def number(self, name: str) -> int | None:
        """Return the number of a board by its name: the very same, else but for case."""
        exact = [n for n, one in self.boards.items() if one.name == name]
        alike = (
            n for n, one in self.boards.items() if one.name.casefold() == name.casefold()
        )
        return exact[0] if exact else next(alike, None)


def feet_of_board(one: RackBoard | None) -> Fraction:
    """Return the board feet of a board, 0 of none."""
    return one.feet if one else NOTHING
