"""The rack as a ledger: every change is an entry, and the state is what they add up to.

An entry holds, for each board that it changes, the board before and after; so a board's
history is a chain, and an entry is taken back by another one that turns it round. Nothing
is ever removed. Beside its boards an entry books board feet: what came in, what was used,
what was lost. What came equals what lies on the rack and what was used and lost, exactly.
"""

from __future__ import annotations

import datetime
import sqlite3
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from fractions import Fraction
from pathlib import Path
from typing import Self

from stock.errors import Fault, InputError
from stock.rack_boards import RackBoard, board_faults, board_in, board_text
from stock.rack_entries import (
    NOTHING,
    UNDO,
    Change,
    Entry,
    State,
    Step,
    feet_of_board,
)
from stock.rack_file import connect, make, refusal, told, writing
from stock.rack_seals import broken_seals, seal_of

Decide = Callable[[State], Iterable[Step]]


class Rack:
    """A rack's ledger in its file; use it as a context, or close it."""

    def __init__(self, path: Path, base: sqlite3.Connection) -> None:
        self.path = path
        self._base = base

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        """Let go of the file."""
        self._base.close()

    def state(self, before: int | None = None) -> State:
        """Return what lies on the rack, or lay there before an entry."""
        with self._told():
            return self._state(before)

    def entries(self) -> tuple[Entry, ...]:
        """Return the whole ledger, in order."""
        with self._told():
            return tuple(self._entries())

    def book(self, kind: str, reason: str, decide: Decide) -> Entry:
        """Add the entry that `decide` makes of the state at hand, in one transaction.

        Raises
        ------
        InputError
            If two boards would have one name, or nothing changes, or what `decide`
            raises; nothing is booked then.
        """
        with self._told(), writing(self._base):
            state = self._state()
            return self._add(kind, reason, state, tuple(decide(state)))

    def undo(self, reason: str) -> Entry:
        """Take back the last entry that stands, by an entry of its own.

        Raises
        ------
        InputError
            If there is none.
        """
        with self._told(), writing(self._base):
            entries = tuple(self._entries())
            gone = {entry.undoes for entry in entries}
            standing = [e for e in entries if e.kind != UNDO and e.number not in gone]
            if not standing:
                raise refusal(self.path, "there is no entry to take back")
            last = standing[-1]
            turned = tuple(
                Change(board=one.board, before=one.after, after=one.before)
                for one in last.changes
            )
            entry = Entry(
                number=entries[-1].number + 1, made=now(), kind=UNDO, reason=reason,
                undoes=last.number, came=-last.came, used=-last.used, lost=-last.lost,
                changes=turned,
            )  # fmt: skip
            self._write(entry)
            return entry

    def broken_seals(self) -> tuple[int, ...]:
        """Return the entries that are not as they were booked."""
        with self._told():
            return tuple(broken_seals(self._base))

    @contextmanager
    def _told(self) -> Iterator[None]:
        """Turn what goes wrong with the file into what a maker can act on."""
        with told(self.path):
            try:
                yield
            except _UnreadableError as error:
                rule = f"the rack is damaged and was left as it is: {error}"
                raise refusal(self.path, rule) from None

    def _state(self, before: int | None = None) -> State:
        ends = "SELECT max(entry) FROM entries WHERE ? IS NULL OR entry < ?"
        entry = self._base.execute(ends, (before, before)).fetchone()[0] or 0
        last = self._base.execute("SELECT max(board) FROM changes").fetchone()[0] or 0
        rows = self._base.execute(
            "SELECT board, after, max(entry) FROM changes WHERE entry <= ? GROUP BY board",
            (entry,),
        ).fetchall()
        boards = {board: _read(after, at) for board, after, at in rows if after is not None}
        return State(entry, last, boards)

    def _entries(self) -> Iterator[Entry]:
        rows = self._base.execute(
            "SELECT entry, made, kind, reason, undoes, came, used, lost FROM entries"
            " ORDER BY entry"
        ).fetchall()
        for number, made, kind, reason, undoes, *feet in rows:
            changes = self._base.execute(
                "SELECT board, before, after FROM changes WHERE entry = ? ORDER BY board",
                (number,),
            ).fetchall()
            came, used, lost = (_feet(text, number) for text in feet)
            yield Entry(
                number=number, made=made, kind=kind, reason=reason, undoes=undoes,
                came=came, used=used, lost=lost,
                changes=tuple(
                    Change(
                        board=board,
                        before=_read(before, number) if before is not None else None,
                        after=_read(after, number) if after is not None else None,
                    )
                    for board, before, after in changes
                ),
            )  # fmt: skip

    def _add(self, kind: str, reason: str, state: State, steps: tuple[Step, ...]) -> Entry:
        """Write the entry of some steps."""
        changes, last, came, lost = [], state.last, NOTHING, NOTHING
        for step in steps:
            grown = step.used - step.came
            for number, after in step.puts:
                before = None if number is None else state.boards[number]
                last += number is None
                board = last if number is None else number
                changes.append(Change(board=board, before=before, after=after))
                grown += feet_of_board(after) - feet_of_board(before)
            came += step.came + max(grown, NOTHING)
            lost += max(-grown, NOTHING)
        if not changes and not (came or lost):
            raise refusal(self.path, "nothing on the rack would change")
        _refuse_impossible(self.path, changes)
        _refuse_doubles(self.path, state, changes)
        entry = Entry(
            number=state.entry + 1, made=now(), kind=kind, reason=reason, undoes=None,
            came=came, used=sum((step.used for step in steps), NOTHING), lost=lost,
            changes=tuple(changes),
        )  # fmt: skip
        self._write(entry)
        return entry

    def _write(self, entry: Entry) -> None:
        """Write an entry and its seal."""
        number = entry.number
        before = self._base.execute(
            "SELECT seal FROM entries WHERE entry = ?", (number - 1,)
        ).fetchone()
        feet = (str(entry.came), str(entry.used), str(entry.lost))
        self._base.execute(
            "INSERT INTO entries VALUES (?, ?, ?, ?, ?, ?, ?, ?, '')",
            (number, entry.made, entry.kind, entry.reason, entry.undoes, *feet),
        )
        self._base.executemany(
            "INSERT INTO changes VALUES (?, ?, ?, ?)",
            [
                (number, one.board, one.before and board_text(one.before),
                 one.after and board_text(one.after))
                for one in entry.changes
            ],
        )  # fmt: skip
        seal = seal_of(self._base, number, before[0] if before else "")
        self._base.execute("UPDATE entries SET seal = ? WHERE entry = ?", (seal, number))


def open_rack(path: Path, *, makes: bool = False) -> Rack:
    """Return the rack in a file; with `makes` an empty one if there is none.

    Raises
    ------
    InputError
        If there is none, or the file is no rack, newer, damaged, or locked for too long.
    """
    if makes and not path.exists():
        make(path)
    rack = Rack(path, connect(path))
    try:
        broken = rack.broken_seals()
    except InputError:
        rack.close()
        raise
    if broken:
        rack.close()
        rule = (
            f"the rack is damaged and was left as it is: entry {broken[0]} is not as it was"
            " booked; go back to a copy of the file"
        )
        raise refusal(path, rule)
    return rack


def now() -> str:
    """Return the time as entries keep it."""
    return datetime.datetime.now().astimezone().isoformat(timespec="seconds")


def today() -> str:
    """Return the day as boards keep it."""
    return now()[:10]


class _UnreadableError(ValueError):
    """A text of the file that is not what the rack writes."""


def _read(text: str, entry: int) -> RackBoard:
    try:
        return board_in(text)
    except ValueError as error:
        raise _UnreadableError(f"entry {entry}: {error}") from None


def _feet(text: str, entry: int) -> Fraction:
    try:
        return Fraction(text)
    except (ValueError, ZeroDivisionError):
        raise _UnreadableError(f"entry {entry}: {text!r} are no board feet") from None


def _refuse_impossible(path: Path, changes: list[Change]) -> None:
    """Refuse a board that is none, and one that would change twice at once."""
    rules = [rule for one in changes if one.after for rule in board_faults(one.after)]
    if len({one.board for one in changes}) < len(changes):
        rules.append("a board would change twice in one entry")
    if rules:
        raise InputError(Fault(str(path), None, None, rule) for rule in rules)


def _refuse_doubles(path: Path, state: State, changes: Iterable[Change]) -> None:
    """Refuse names that two boards on the rack would have, whatever their case."""
    boards = {**state.boards, **{one.board: one.after for one in changes}}
    names: dict[str, str] = {}
    faults = []
    for one in filter(None, boards.values()):
        other = names.get(one.name.casefold())
        if other is not None:
            rule = f"the rack has a board {other!r} already: give this one another name"
            faults.append(Fault(str(path), None, None, rule, one.name))
        names[one.name.casefold()] = one.name
    if faults:
        raise InputError(faults)
