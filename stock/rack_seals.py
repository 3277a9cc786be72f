"""Seals of a rack's entries: whether any of its history has been changed or damaged.

SQLite's own check finds broken pages, but not a letter that changed within one.
"""

from __future__ import annotations

import hashlib
import json
import sqlite3
from collections.abc import Iterator

_ENTRY = "SELECT entry, made, kind, reason, undoes, came, used, lost FROM entries"
_CHANGES = "SELECT board, before, after FROM changes WHERE entry = ? ORDER BY board"


def seal_of(base: sqlite3.Connection, number: int, before: str) -> str:
    """Return the seal of an entry, by all it says and the seal of the entry before it."""
    entry = base.execute(f"{_ENTRY} WHERE entry = ?", (number,)).fetchone()
    changes = base.execute(_CHANGES, (number,)).fetchall()
    text = json.dumps([before, entry, changes], default=repr)  # bytes, where it is spoiled
    return hashlib.sha256(text.encode()).hexdigest()


def broken_seals(base: sqlite3.Connection) -> Iterator[int]:
    """Yield the entries whose seal is not what they say."""
    before = ""
    rows = base.execute("SELECT entry, seal FROM entries ORDER BY entry").fetchall()
    for number, seal in rows:
        if seal_of(base, number, before) != seal:
            yield number
        before = seal
