"""The commands of the rack that look after it: counting, readings, worth, export."""

from __future__ import annotations

from pathlib import Path

import click

from nesting.project import read_project
from reports.outputs import refuse_output
from reports.plaintext import counted, named
from reports.rack_count import Counted, counted_stock
from reports.rack_export import write_boards, write_count
from reports.rack_options import booked, rack_file, why
from reports.rack_value import priced, value_text
from reports.shown import Shown
from stock.errors import Fault, InputError
from stock.rack import open_rack, today
from stock.rack_boards import RackBoard
from stock.rack_entries import State, Step


@click.command(cls=Shown, example="stavewright rack moisture R1 9.5")
@click.argument("board", metavar="BOARD")
@click.argument("percent", type=click.FloatRange(0, 100), metavar="PERCENT")
@why("a reading")
@rack_file
def moisture(board: str, percent: float, reason: str | None, file: Path) -> None:
    """Note a moisture reading of a board.

    `rack show` lists them all; plans go by the last one.
    """

    def decide(state: State) -> tuple[Step, ...]:
        number = state.number(board)
        if number is None:
            rule = "no such board lies on the rack"
            raise InputError([Fault(str(file), None, None, rule, board)])
        one = state.boards[number]
        return (Step(puts=((number, one.with_board(moisture=percent)),)),)

    with open_rack(file) as opened:
        entry = opened.book("moisture", reason or "a reading", decide)
    click.echo(booked(entry, f"{board}, {percent:g} %"))


@click.command(cls=Shown, example="stavewright rack count -o rack-count.xlsx")
@click.option(
    "-o",
    "--output",
    type=click.Path(dir_okay=False, path_type=Path),
    metavar="FILE.xlsx",
    default=Path("rack-count.xlsx"),
    show_default=True,
    help="Workbook to write.",
)
@rack_file
def count(output: Path, file: Path) -> None:
    """Write a sheet to take stock with.

    Print it, walk along the rack, fill it in; `rack adjust` reads it back.
    """
    refuse_output(output, ".xlsx")
    with open_rack(file) as opened:
        state = opened.state()
    write_count(output, tuple(state.boards.values()), state.entry)
    click.echo(f"{counted(len(state.boards), 'board')}, written to {output}")


@click.command(cls=Shown, example="stavewright rack adjust rack-count.xlsx")
@click.argument(
    "sheet",
    type=click.Path(exists=True, dir_okay=False, path_type=Path),
    metavar="FILE.xlsx",
)
@why("stock was taken")
@rack_file
def adjust(sheet: Path, reason: str | None, file: Path) -> None:
    """Book what a sheet of `rack count` says is otherwise.

    Boards marked as gone are booked as lost, others as measured; what is neither ticked
    nor gone stays as it is.
    """
    found = Counted()

    def decide(state: State) -> tuple[Step, ...]:
        nonlocal found
        found = counted_stock(sheet, state, today())
        return tuple(found.steps)

    with open_rack(file) as opened:
        if decide(opened.state()):
            entry = opened.book("count", reason or "stock was taken", decide)
            click.echo(booked(entry, _differences(found)))
        else:
            click.echo("all that was looked at is as booked")
    if found.unseen:
        click.echo(f"neither ticked nor gone, left as booked: {named(found.unseen)}")


@click.command(cls=Shown, example="stavewright rack value")
@click.option(
    "--longest",
    type=click.IntRange(1),
    metavar="NUMBER",
    default=5,
    show_default=True,
    help="How many of the boards that lie longest are listed.",
)
@click.option(
    "--prices",
    type=click.Path(exists=True, path_type=Path),
    metavar="PROJECT",
    help="Project whose yards price boards without a price.  [default: not counted]",
)
@rack_file
def value(longest: int, prices: Path | None, file: Path) -> None:
    """Say what the rack holds, is worth, how old it is.

    By species and thickness, and what has lain longest. Boards count at their own price.
    Age is that of the wood: an offcut is as old as the board that it was cut from.
    """
    with open_rack(file) as opened:
        boards = tuple(opened.state().boards.values())
    if prices:
        boards = priced(boards, read_project(prices))
    click.echo(value_text(boards, today(), longest))


@click.command(cls=Shown, example="stavewright rack export rack-boards.xlsx")
@click.argument(
    "output", type=click.Path(dir_okay=False, path_type=Path), metavar="FILE.xlsx"
)
@rack_file
def export(output: Path, file: Path) -> None:
    """Write the rack as the tables Boards and Marks.

    `plan` and `rack import` read them again.
    """
    refuse_output(output, ".xlsx")
    with open_rack(file) as opened:
        boards = sorted(opened.state().boards.values(), key=_name)
    write_boards(output, boards)
    click.echo(f"{counted(len(boards), 'board')}, written to {output}")


def _name(one: RackBoard) -> str:
    return one.name


def _differences(found: Counted) -> str:
    """Say what a counting changed."""
    lists = (("otherwise", found.changed), ("gone", found.gone), ("new", found.new))
    said = [f"{len(names)} {word}: {named(names)}" for word, names in lists if names]
    return "; ".join(said)
