"""The commands of the rack: what the shop owns, kept in one file."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path
from typing import Any

import click

from reports.plaintext import counted, named
from reports.rack_keeping import adjust, count, export, moisture, value
from reports.rack_options import Command, booked, rack_file, why
from reports.rack_reading import Incoming, read_incoming, typed_board
from reports.rack_views import feet, fits, history_text, list_csv, list_text
from reports.rack_work import cut, release, reserve
from reports.shown import Shown, ShownGroup
from stock.errors import Fault, InputError
from stock.measures import Unit
from stock.rack import open_rack, today
from stock.rack_check import check_rack, feet_of
from stock.rack_entries import Step

FAULTY = 1


@click.group(cls=ShownGroup, example="stavewright rack list --species 'white oak'")
def rack() -> None:
    """Keep what the shop owns: boards in, reserved, cut, offcuts back, counted.

    The rack is one file, a ledger: every change is an entry with its date and reason, and
    none is ever removed.
    """


_unit = click.option(
    "--unit",
    type=click.Choice([unit.value for unit in Unit]),
    default=Unit.INCH.value,
    show_default=True,
    help="Unit of sizes, where the file doesn't say.",
)
_since = click.option(
    "--since",
    type=click.DateTime(["%Y-%m-%d"]),
    metavar="DATE",
    help="Day on which the wood came in, as 2026-03-09.  [default: today]",
)


@rack.command("import", cls=Shown, example="stavewright rack import hall-bench")
@click.argument("source", type=click.Path(exists=True, path_type=Path), metavar="FILE")
@click.option(
    "--project",
    type=click.Path(exists=True, path_type=Path),
    metavar="PROJECT",
    help="Project that a sheet Buy was planned for.  [default: FILE is no sheet Buy]",
)
@click.option(
    "--all", "every", is_flag=True,
    help="Also boards listed at a yard.  [default: only those on the rack]",
)  # fmt: skip
@_unit
@_since
@why("imported from FILE")
@rack_file
def import_boards(
    source: Path, project: Path | None, every: bool, unit: str,  # noqa: FBT001
    since: Any, reason: str | None, file: Path,  # noqa: ANN401 - click's date
) -> None:  # fmt: skip
    """Put boards onto the rack, with their marks.

    FILE is a workbook or folder with a table Boards, a CSV file of boards, or a plan's
    workbook whose sheet Buy was ticked at the yards. Boards that are listed at a yard are
    not taken unless --all says so.
    """
    incoming = read_incoming(
        source, unit=Unit(unit), since=_day(since), project=project, every=every
    )
    for warning in incoming.warnings:
        click.echo(f"note: {warning}", err=True)
    click.echo(_put(file, "import", reason or f"imported from {source.name}", incoming))


_COLUMNS = (
    ("--species", "species", "Species."),
    ("--thickness", "thickness", "Rough thickness, as 4/4; real if surfaced."),
    ("--length", "length", "Length."),
    ("--width", "width", "Width at the butt end."),
    ("--width-2", "width 2", "Width at the far end."),
    ("--grade", "grade", "NHLA grade."),
    ("--sawing", "sawing", "plain, rift or quarter."),
    ("--figure", "figure", "What it shows, parted by commas."),
    ("--tone", "tone", "1 (pale) to 5 (dark)."),
    ("--flitch", "flitch", "Its log."),
    ("--order", "order", "Its place in the log."),
    ("--surfaced", "surfaced", "rough, S2S, S3S or S4S."),
    ("--price", "price", "Per board foot, with --unit mm per m3."),
    ("--moisture", "moisture", "Last reading, percent."),
    ("--place", "place", "Where it lies."),
    ("--note", "note", "Anything else."),
)
_NEEDED = {"species", "thickness", "length", "width"}


def _columns(command: Command) -> Command:
    """Add an option per column of Boards."""
    for flag, column, words in reversed(_COLUMNS):
        needed = column in _NEEDED
        default = "It has no default." if needed else "[default: none]"
        command = click.option(
            flag, column.replace(" ", "_"), metavar="VALUE", required=needed,
            help=f"{words}  {default}",
        )(command)  # fmt: skip
    return command


@rack.command(
    cls=Shown,
    example="stavewright rack add R9 --species 'white oak' --thickness 4/4 --length 60"
    " --width '7 1/4' --marks 'knot 20 to 26'",
)
@click.argument("board", metavar="BOARD")
@_columns
@click.option(
    "--marks", default="", metavar="TEXT",
    help="As 'knot 20 to 26 across 2 to 4; check 0 to 3'.  [default: clear]",
)  # fmt: skip
@click.option(
    "--from", "source", default="", metavar="TEXT",
    help="Where it came from.  [default: not said]",
)  # fmt: skip
@_unit
@_since
@why("added")
@rack_file
def add(
    board: str, marks: str, source: str, unit: str, since: Any,  # noqa: ANN401
    reason: str | None, file: Path, **columns: str | None,
) -> None:  # fmt: skip
    """Put one board onto the rack."""
    cells: dict[str, object] = {name.replace("_", " "): columns[name] for name in columns}
    cells["board"] = board
    one = typed_board(cells, marks, Unit(unit), _day(since), source)
    click.echo(_put(file, "add", reason or "added", Incoming(boards=(one,))))


@rack.command("list", cls=Shown, example="stavewright rack list --sawing quarter")
@click.option("--species", metavar="NAME", help="Only this species.  [default: any]")
@click.option("--thickness", metavar="SIZE", help="Only this, as 4/4.  [default: any]")
@click.option("--sawing", metavar="WORD", help="Only this sawing.  [default: any]")
@click.option(
    "--place",
    metavar="TEXT",
    help="Only where the place says so.  [default: any]",
)
@click.option("--free", is_flag=True, help="Only what is not reserved.  [default: all]")
@click.option("--csv", "as_csv", is_flag=True, help="As CSV.  [default: aligned text]")
@rack_file
def list_boards(
    species: str | None, thickness: str | None, sawing: str | None, place: str | None,
    free: bool, as_csv: bool, file: Path,  # noqa: FBT001
) -> None:  # fmt: skip
    """List what lies on the rack."""
    wanted = {"species": species, "thickness": thickness, "sawing": sawing, "place": place}
    with open_rack(file) as opened:
        boards = sorted(opened.state().boards.values(), key=lambda one: one.name)
    shown = [one for one in boards if fits(one, wanted) and not (free and one.held)]
    click.echo(list_csv(shown) if as_csv else list_text(shown))


@rack.command(cls=Shown, example="stavewright rack show R1")
@click.argument("board", metavar="BOARD")
@rack_file
def show(board: str, file: Path) -> None:
    """Show a board and its history.

    What it is, where it came from, and each entry that changed it.
    """
    with open_rack(file) as opened:
        text = history_text(board, opened.entries())
    if text is None:
        raise InputError([Fault(str(file), None, None, "no such board was here", board)])
    click.echo(text)


@rack.command(cls=Shown, example="stavewright rack undo")
@why("taken back")
@rack_file
def undo(reason: str | None, file: Path) -> None:
    """Take back the last entry that stands, by an entry of its own."""
    with open_rack(file) as opened:
        entry = opened.undo(reason or "taken back")
        kinds = {one.number: one for one in opened.entries()}
    last = kinds[entry.undoes or 0]
    words = f"entry {last.number} of {last.day}, {last.kind} ({last.reason})"
    click.echo(f"entry {entry.number}: takes back {words}")


@rack.command(cls=Shown, example="stavewright rack check")
@rack_file
def check(file: Path) -> int:
    """Check the rack's file and whether its ledger adds up.

    The exit code is 0 if all of it holds, else 1, with a line for each thing that doesn't.
    """
    with open_rack(file) as opened:
        broken, entries = check_rack(opened), opened.entries()
        boards = opened.state().boards.values()
    for line in broken:
        click.echo(line)
    if broken:
        return FAULTY
    came, used, lost = map(feet, feet_of(entries))
    lies = feet(sum((one.feet for one in boards), Fraction(0)))
    booked_so_far = counted(len(entries), "entry", "entries")
    click.echo(
        f"sound: {booked_so_far}, {counted(len(boards), 'board')}; {came} board feet came"
        f" in, {lies} lie here, {used} used, {lost} lost"
    )
    return 0


def _put(file: Path, kind: str, reason: str, incoming: Incoming) -> str:
    """Put boards onto the rack and say so."""
    steps = [Step(puts=((None, one),)) for one in incoming.boards]
    with open_rack(file, makes=True) as opened:
        entry = opened.book(kind, reason, lambda _: steps)
    words = f"{counted(len(steps), 'board')}, {feet(entry.came)} board feet, to {file}"
    if incoming.skipped:
        words += f"; at yards and so not taken: {named(incoming.skipped)}"
    return booked(entry, words)


def _day(since: Any) -> str:  # noqa: ANN401
    return since.date().isoformat() if since else today()


for _one in (reserve, release, cut, moisture, count, adjust, value, export):
    rack.add_command(_one)
