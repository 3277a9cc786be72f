"""The rack's file: one SQLite database, opened with care and never half-written.

It keeps SQLite's rollback journal, not a write-ahead log: at rest the rack is one file
that can be copied, mailed and kept on a network drive, and a shop books a few entries a
day, so nothing is gained by readers that need not wait. `synchronous` is `EXTRA`: what is
confirmed has reached the disk, the removal of the journal too.
"""

from __future__ import annotations

import contextlib
import os
import sqlite3
from collections.abc import Iterator
from pathlib import Path

from stock.errors import Fault, InputError
from stock.rack_seals import seal_of

APPLICATION_ID = 0x5357524B  # "SWRK": tells a rack from any other database
VERSION = 2
WAIT_SECONDS = 15.0

# what is wrong with the disk, the folder or the rights to it, not with the file
_OUTSIDE = {
    sqlite3.SQLITE_PERM, sqlite3.SQLITE_READONLY, sqlite3.SQLITE_IOERR,
    sqlite3.SQLITE_FULL, sqlite3.SQLITE_CANTOPEN, sqlite3.SQLITE_AUTH,
}  # fmt: skip
_MAGIC = b"SQLite format 3\x00"
_VERSION_1 = """
CREATE TABLE entries (
    entry INTEGER PRIMARY KEY,
    made TEXT NOT NULL,
    kind TEXT NOT NULL,
    reason TEXT NOT NULL,
    undoes INTEGER REFERENCES entries (entry),
    came TEXT NOT NULL,
    used TEXT NOT NULL,
    lost TEXT NOT NULL
);
CREATE TABLE changes (
    entry INTEGER NOT NULL REFERENCES entries (entry),
    board INTEGER NOT NULL,
    before TEXT,
    after TEXT,
    PRIMARY KEY (entry, board)
);
"""


def refusal(path: Path, rule: str) -> InputError:
    """Return the error about a whole rack."""
    return InputError([Fault(str(path), None, None, rule)])


def make(path: Path) -> None:
    """Make an empty rack, unless something lies there already.

    It is made aside and put in place at once, so nobody finds half of one.
    """
    path.parent.mkdir(parents=True, exist_ok=True)
    aside = path.with_name(f".{path.name}.{os.getpid()}.part")
    aside.unlink(missing_ok=True)
    base = sqlite3.connect(aside, isolation_level=None)
    try:
        _write_schema(base, VERSION)
    finally:
        base.close()
    try:
        with contextlib.suppress(FileExistsError):  # another process was first
            os.link(aside, path)
    except OSError:  # a file system without links
        if not path.exists():
            aside.rename(path)
    finally:
        aside.unlink(missing_ok=True)


def connect(path: Path, wait: float = WAIT_SECONDS) -> sqlite3.Connection:
    """Return a connection to a sound rack of this version, migrated if it was older.

    Raises
    ------
    InputError
        If there is none, or it is something else, newer, damaged or locked; the file is
        then as it was, to the byte.
    """
    version = _version_of(path)
    with told(path):
        base = sqlite3.connect(
            f"{path.absolute().as_uri()}?mode=rw", uri=True, timeout=wait,
            isolation_level=None,
        )  # fmt: skip
        try:
            base.execute("PRAGMA synchronous = EXTRA")
            base.execute("PRAGMA foreign_keys = ON")
            refuse_damage(base, path)
            if version < VERSION:
                _migrate(base, path)
        except BaseException:
            base.close()
            raise
    return base


def refuse_damage(base: sqlite3.Connection, path: Path) -> None:
    """Refuse a rack whose pages SQLite finds damaged."""
    found = [row[0] for row in base.execute("PRAGMA integrity_check(3)")]
    if found != ["ok"]:
        raise _damaged(path, "; ".join(str(one) for one in found))


@contextlib.contextmanager
def writing(base: sqlite3.Connection) -> Iterator[None]:
    """Run a block as one transaction that no other process can come between."""
    base.execute("BEGIN IMMEDIATE")
    try:
        yield
        base.execute("COMMIT")
    except BaseException:
        if base.in_transaction:
            base.execute("ROLLBACK")
        raise


@contextlib.contextmanager
def told(path: Path) -> Iterator[None]:
    """Turn what SQLite complains of into what a maker can act on."""
    try:
        yield
    except sqlite3.OperationalError as error:
        code = getattr(error, "sqlite_errorcode", 0) & 0xFF
        if code in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED):
            rule = (
                "another stavewright is writing to the rack and did not finish in time:"
                " wait for it, then try again"
            )
            raise refusal(path, rule) from None
        if code in _OUTSIDE:
            raise refusal(path, f"the rack can't be read or written ({error})") from None
        raise _damaged(path, str(error)) from None
    except (sqlite3.DatabaseError, UnicodeDecodeError) as error:  # or a spoiled text in it
        raise _damaged(path, str(error)) from None


def _damaged(path: Path, what: str) -> InputError:
    """Return the refusal of a damaged rack."""
    rule = f"the rack is damaged and was left as it is: go back to a copy of it ({what})"
    return refusal(path, rule)


def _version_of(path: Path) -> int:
    """Return the version of a rack by its first bytes, before SQLite touches anything."""
    if not path.exists():
        rule = "there is no rack here yet: begin one with 'rack add' or 'rack import'"
        raise refusal(path, rule)
    try:
        with path.open("rb") as stream:
            head = stream.read(100)
    except OSError as error:
        raise refusal(path, f"the rack can't be read ({error.strerror})") from None
    if len(head) < 100 or not head.startswith(_MAGIC):
        raise refusal(path, "this is not a rack, or its beginning is damaged")
    if int.from_bytes(head[68:72], "big") != APPLICATION_ID:
        raise refusal(path, "this is a database of another program, not a rack")
    version = int.from_bytes(head[60:64], "big")
    if version < 1:
        raise refusal(path, "this is not a rack, or its beginning is damaged")
    if version > VERSION:
        rule = (
            f"the rack is of version {version}, and this stavewright knows versions up to"
            f" {VERSION}: use the newer stavewright that wrote it"
        )
        raise refusal(path, rule)
    return version


def _write_schema(base: sqlite3.Connection, version: int) -> None:
    """Write the tables of an empty rack."""
    with writing(base):
        base.execute(f"PRAGMA application_id = {APPLICATION_ID}")
        base.execute("PRAGMA user_version = 1")
        for statement in _VERSION_1.split(";"):
            base.execute(statement)
        for older in range(1, version):
            _STEPS[older](base)
            base.execute(f"PRAGMA user_version = {older + 1}")


def _migrate(base: sqlite3.Connection, path: Path) -> None:
    """Bring a rack to this version in one transaction, its old file kept beside it."""
    with writing(base):
        version = base.execute("PRAGMA user_version").fetchone()[0]
        if version == VERSION:  # another process was first
            return
        _back_up(path, version)
        for older in range(version, VERSION):
            _STEPS[older](base)
            base.execute(f"PRAGMA user_version = {older + 1}")


def _back_up(path: Path, version: int) -> None:
    """Copy an older rack beside itself, over nothing that is there.

    SQLite copies it: to open and close the file by other means would drop the lock that
    keeps others from writing meanwhile.
    """
    number, kept = 1, path.with_name(f"{path.stem}-version-{version}{path.suffix}")
    while kept.exists():
        number += 1
        kept = path.with_name(f"{path.stem}-version-{version}-{number}{path.suffix}")
    aside = kept.with_name(f".{kept.name}.{os.getpid()}.part")
    aside.unlink(missing_ok=True)
    source = sqlite3.connect(f"{path.absolute().as_uri()}?mode=ro", uri=True)
    copy = sqlite3.connect(aside)
    try:
        source.backup(copy)
    finally:
        copy.close()
        source.close()
    aside.replace(kept)


def _add_seals(base: sqlite3.Connection) -> None:
    """Version 2: every entry carries a seal over itself and the seal before it."""
    base.execute("ALTER TABLE entries ADD COLUMN seal TEXT NOT NULL DEFAULT ''")
    base.execute("CREATE INDEX changes_by_board ON changes (board, entry)")
    before = ""
    for (number,) in base.execute("SELECT entry FROM entries ORDER BY entry").fetchall():
        before = seal_of(base, number, before)
        base.execute("UPDATE entries SET seal = ? WHERE entry = ?", (before, number))


_STEPS = {1: _add_seals}
