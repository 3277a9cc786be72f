"""Options that the commands of the rack share, and how they answer."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar

import click

from stock.rack_entries import Entry
from stock.rack_place import usual_place

Command = TypeVar("Command", bound=Callable[..., Any])


def _place(_ctx: click.Context, _param: click.Parameter, path: Path | None) -> Path:
    """Return the rack's file, the usual one if none is named."""
    return path or usual_place()


rack_file = click.option(
    "--rack",
    "file",
    type=click.Path(dir_okay=False, path_type=Path),
    callback=_place,
    metavar="FILE",
    help="The rack's file.  [default: rack.sqlite in the folder for your own data]",
)


def why(usual: str) -> Callable[[Command], Command]:
    """Return the option that says why the ledger changes."""
    return click.option(
        "--reason", metavar="TEXT", help=f"Reason in the ledger.  [default: {usual}]"
    )


def booked(entry: Entry, words: str) -> str:
    """Return the line that answers a command that changed the rack."""
    return f"entry {entry.number}: {words}"
