"""The command line: thin commands, and errors turned into exit codes.

Exit codes: 0 the plan is complete (or accepted); 1 the wood at hand does not make
everything (or the plan is refused); 2 wrong input or a wrong call; 3 our own plan was
refused by our own verifier, so nothing was written; 70 any other bug; 130 given up by a
second Ctrl-C.
"""

from __future__ import annotations

import os
import sys
import traceback
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from importlib import metadata
from pathlib import Path
from typing import Any, NoReturn, TypeVar

import click

from nesting.blanks import blanks_for
from nesting.drawing import is_drawing
from nesting.fitting import misfits
from nesting.plan import COMPLETE, Plan
from nesting.planfile import plan_from_json, write_plan
from nesting.project import Project, read_project
from nesting.racked import stamped
from nesting.solve import SolveParams
from nesting.taken import Taken, with_taken
from nesting.verify import verify as violations_of
from reports.checkup import checkup
from reports.estimates import text_of
from reports.from_drawing import project_from, told
from reports.movement import Asked, answer, question_for
from reports.outputs import default_workbook, refuse_outputs
from reports.plaintext import counted, money
from reports.rack_commands import rack
from reports.rack_work import on_rack
from reports.scenarios import FIRST_SCENARIO, copy_scenario, scenario_names
from reports.shown import Shown
from reports.summary import summary
from reports.tally import read_tally
from reports.watch import search
from reports.workbook import write_estimate, write_workbook
from reports.workers import drawn_answers
from stock.boards import SAWINGS
from stock.errors import Fault, InputError, VerificationError
from stock.measures import Unit
from stock.shop import default_shop

DONE, SHORT_OF_WOOD, WRONG_INPUT, REFUSED, BUG, GIVEN_UP = 0, 1, 2, 3, 70, 130
PIPE_CLOSED = 141  # what a shell reports of a program that lost its reader

Command = TypeVar("Command", bound=Callable[..., int])

DEMO_SECONDS = 20.0
_DEFAULTS = SolveParams()


def _within(low: float, high: float) -> Callable[..., float]:
    """Return a check that a number lies within limits, which `nan` never does."""

    def check(_ctx: click.Context, _param: click.Parameter, number: float) -> float:
        if not low <= number <= high:
            raise click.BadParameter(f"a number from {low:g} to {high:g}, got {number:g}")
        return number

    return check


def main(arguments: Sequence[str] | None = None) -> int:
    """Run a command and return its exit code; an error is a line, without a traceback."""
    try:
        code = commands.main(arguments, prog_name="stavewright", standalone_mode=False)
        sys.stdout.flush()
    except click.ClickException as problem:
        return _tell(WRONG_INPUT, problem.format_message())
    except InputError as problem:
        return _tell(WRONG_INPUT, *map(str, problem.faults))
    except VerificationError as problem:
        return _tell(REFUSED, *map(str, problem.violations), _APOLOGY)
    except (BrokenPipeError, SystemExit):  # click leaves by the latter
        return _abandon_output()
    except OSError as problem:
        return _tell(WRONG_INPUT, str(problem))
    except (KeyboardInterrupt, click.Abort):
        _give_up()
    except Exception:  # noqa: BLE001 - a bug must not look like a shortage (exit 1)
        traceback.print_exc()
        return BUG
    return code if isinstance(code, int) else DONE


_APOLOGY = (
    "the plan failed its own verification and nothing was written: this is a bug in "
    "stavewright, please report it with the project file"
)


def version() -> str:
    """Return the installed version, or that there is none."""
    try:
        return metadata.version("stavewright")
    except metadata.PackageNotFoundError:
        return "(not installed)"


@click.group(
    no_args_is_help=False,
    invoke_without_command=True,
    epilog="Start with the demo: stavewright demo",
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 88},
)
@click.version_option(version(), message="stavewright %(version)s")
@click.pass_context
def commands(ctx: click.Context) -> None:
    """Plan the wood of a piece of furniture: what to buy and how to cut it."""
    if ctx.invoked_subcommand is None:
        click.echo(ctx.get_help())


_project = click.argument(
    "project", type=click.Path(exists=True, path_type=Path), metavar="PROJECT"
)
_seconds = click.option(
    "--time",
    "seconds",
    type=float,
    callback=_within(0.1, 86_400),
    metavar="SECONDS",
    default=_DEFAULTS.seconds,
    show_default=True,
    help="Longest search, in seconds; it stops sooner if the gap is reached.",
)
_tally = click.option(
    "--tally",
    type=click.Path(exists=True, dir_okay=False, path_type=Path),
    metavar="FILE.xlsx",
    help="Workbook whose sheet Buy was filled in at the yards: only what is ticked or "
    "written in there is bought.  [default: all that the project lists]",
)
_racked = click.option(
    "--rack",
    "rack_file",
    is_flag=False,
    flag_value="",
    metavar="[FILE]",
    help="Also with what is free on the shop's rack, that of FILE or the usual one; "
    "write it behind the project.  [default: without]",
)


@dataclass(frozen=True, kw_only=True, slots=True)
class Wood:
    """Which wood counts beside what a project lists.

    Attributes
    ----------
    tally
        Sheet Buy that was filled in: of the yards' wood, only what was taken counts.
    rack_file
        Rack whose free boards count too; the usual one if empty, None for none.
    """

    tally: Path | None = None
    rack_file: str | None = None


ALL_LISTED = Wood()


_seed = click.option(
    "--seed",
    type=click.IntRange(0, 9999),
    metavar="N",
    default=_DEFAULTS.seed,
    show_default=True,
    help="Start of the random choices; another seed may find another plan.",
)


def _output(kind: str) -> Callable[[Command], Command]:
    """Return the option that names the workbook to write."""
    return click.option(
        "-o",
        "--output",
        type=click.Path(dir_okay=False, path_type=Path),
        metavar="FILE.xlsx",
        help=f"Workbook to write.  [default: PROJECT-{kind}.xlsx in the current folder]",
    )


@commands.command(cls=Shown, example="stavewright demo hall-bench")
@click.argument(
    "name",
    type=click.Choice(scenario_names()),
    metavar="[NAME]",
    default=FIRST_SCENARIO,
)
@click.option(
    "--into",
    type=click.Path(file_okay=False, path_type=Path),
    metavar="DIR",
    default=Path(),
    help="Folder to copy the demo into.  [default: the current folder]",
)
@click.option(
    "--time",
    "seconds",
    type=float,
    callback=_within(0.1, 86_400),
    metavar="SECONDS",
    default=DEMO_SECONDS,
    show_default=True,
    help="Longest search, in seconds.",
)
def demo(name: str, into: Path, seconds: float) -> int:
    """Copy a demo project into a folder and plan it.

    NAME is a shipped project: hall-bench (inches; the default), wall-shelves
    (millimetres) or four-doors (a set out of one log). The tables go to DIR/NAME, the
    plan to DIR/NAME-plan.xlsx and DIR/NAME-plan.json. All wood, yards and prices of the
    demos are invented.
    """
    folder = copy_scenario(name, into)
    workbook = into / f"{name}-plan.xlsx"
    return _plan(
        folder, workbook, workbook.with_suffix(".json"), SolveParams(seconds=seconds)
    )


@commands.command(cls=Shown, example="stavewright check hall-bench")
@_project
@click.option("--species", help="Wood of a drawing's parts (no default).")
@click.option("--thickness", help="Finished thickness of these (no default).")
@click.option(
    "--into",
    type=click.Path(path_type=Path),
    help="Folder to make of a drawing; default: its name without the ending.",
)
@click.option(
    "--unit",
    type=click.Choice([unit.value for unit in Unit]),
    help="Unit of that project; default: as the drawing says.",
)
def check(
    project: Path,
    species: str | None,
    thickness: str | None,
    into: Path | None,
    unit: str | None,
) -> int:
    """Report every fault of a project, and what it asks for.

    PROJECT is a workbook (.xlsx) or a folder of CSV files. Prints the rough blanks, the
    panels to glue up, the net wood by species and thickness, and what no listed board
    gives. Of a drawing (.dxf, .svg) a project is made first; else nothing is written.
    """
    if project.is_file() and is_drawing(project):
        if not species or not thickness:
            raise click.UsageError("a drawing needs --species and --thickness")
        made = project_from(
            project, species, thickness, Unit(unit) if unit else None,
            into or Path(project.stem),
        )  # fmt: skip
        click.echo("\n".join(told(made)) + "\n")
        project = made.folder
    elif species or thickness or into or unit:
        raise click.UsageError("--species, --thickness, --into, --unit are for drawings")
    content = read_project(project)
    blanks = blanks_for(content)
    lost = misfits(content, blanks)
    click.echo(checkup(content, blanks, lost))
    return SHORT_OF_WOOD if lost else DONE


@commands.command(cls=Shown, example="stavewright estimate hall-bench --piles 100")
@_project
@_output("estimate")
@click.option(
    "--piles",
    type=click.IntRange(10, 10_000),
    metavar="NUMBER",
    default=300,
    show_default=True,
    help="Random piles to draw from each line of the price lists.",
)
@click.option(
    "--pick",
    is_flag=True,
    help="Pick the best boards of a pile.  [default: take boards as they come]",
)
@_seed
@click.option(
    "--workers",
    type=click.IntRange(1, 256),
    metavar="NUMBER",
    default=os.cpu_count() or 1,
    help="Processes to share the piles.  [default: as many as the machine has cores]",
)
@click.option(
    "--cluster",
    metavar="ADDRESS",
    help="Dask scheduler that shares the piles (extra `cluster`).  [default: none]",
)
def estimate(
    project: Path,
    output: Path | None,
    piles: int,
    pick: bool,  # noqa: FBT001 - click hands flags over so
    seed: int,
    workers: int,
    cluster: str | None,
) -> int:
    """Say how many board feet to buy before any board is seen.

    PROJECT is a workbook (.xlsx) or a folder of CSV files with a Prices table. Random
    piles of boards are drawn from each line of the price lists, by grade; each is cut, and
    the spread of what they take tells how much to buy for the shop's `confidence`.
    """
    content = read_project(project)
    workbook = output or default_workbook(project, "estimate")
    refuse_outputs(project, workbook, None)
    answers = drawn_answers(
        content, piles=piles, seed=seed, picks=pick, workers=workers, cluster=cluster
    )
    write_estimate(workbook, content, answers, piles=piles)
    click.echo(text_of(content, answers, piles=piles))
    click.echo(f"written to {workbook}")
    return DONE if all(answer.cheapest for answer in answers) else SHORT_OF_WOOD


@commands.command(
    cls=Shown, example="stavewright plan hall-bench --time 30 --json hall-bench-plan.json"
)
@_project
@_output("plan")
@click.option(
    "--json",
    "json_file",
    type=click.Path(dir_okay=False, path_type=Path),
    metavar="FILE.json",
    help="Also write the plan as JSON, for other programs.  [default: not written]",
)
@_seconds
@_seed
@click.option(
    "--gap",
    type=float,
    callback=_within(0, 100),
    metavar="PERCENT",
    default=100 * _DEFAULTS.gap,
    show_default=True,
    help="Stop once the cost is proven to be within this many percent of the least.",
)
@click.option(
    "--steps",
    type=click.IntRange(1),
    metavar="NUMBER",
    help="Stop after so many steps, not a time: the same plan anywhere. By default none.",
)
@_tally
@_racked
def plan(
    project: Path,
    output: Path | None,
    json_file: Path | None,
    seconds: float,
    seed: int,
    gap: float,
    steps: int | None,
    **wood: Any,  # noqa: ANN401 - one per option
) -> int:
    """Plan what to buy and how to cut it, and write a workbook.

    PROJECT is a workbook (.xlsx) or a folder of CSV files. Ctrl-C once ends the search
    and keeps the best plan so far; twice gives up and writes nothing. Other choices of
    yards are compared after that time. A plan file that is there already is replaced.
    """
    params = SolveParams(seconds=seconds, seed=seed, gap=gap / 100, steps=steps or 0)
    kind = "tallied" if wood["tally"] else "plan"
    workbook = output or default_workbook(project, kind)
    return _plan(project, workbook, json_file, params, Wood(**wood))


@commands.command(cls=Shown, example="stavewright verify hall-bench hall-bench-plan.json")
@_project
@click.argument(
    "plan_file",
    type=click.Path(exists=True, dir_okay=False, path_type=Path),
    metavar="PLAN.json",
)
@_tally
@_racked
def verify(project: Path, plan_file: Path, **wood: Any) -> int:  # noqa: ANN401
    """Check a plan file against its project, whoever made it.

    The exit code is 0 if the plan keeps every rule, 1 if not; each broken rule is a
    line.
    """
    content, _ = _read(project, Wood(**wood))
    made = plan_from_json(_read_text(plan_file), content.unit)
    broken = violations_of(content, made)
    for violation in broken:
        click.echo(str(violation))
    click.echo(_verdict(made, len(broken)))
    return SHORT_OF_WOOD if broken else DONE


_YEAR = default_shop(Unit.INCH)


def _percent(flag: str, name: str, text: str, value: Fraction) -> Callable[..., Any]:
    """Return an option for a relative humidity."""
    return click.option(
        flag, name, type=float, metavar="PERCENT",
        default=float(value), show_default=f"{float(value):g}", help=text,
    )  # fmt: skip


@commands.command(
    cls=Shown, example="stavewright movement --species walnut --width 18 --sawing plain"
)
@click.option(
    "--species", metavar="NAME", required=True, help="Species. It has no default."
)
@click.option(
    "--width",
    metavar="SIZE",
    required=True,
    help="Width across the grain, as 18 or 17 1/2. It has no default.",
)
@click.option(
    "--sawing",
    type=click.Choice(SAWINGS),
    help="Sawing of the board.  [default: not known, so the one that moves most]",
)
@_percent("--from", "before", "Relative humidity at first.", _YEAR.humidity_low)
@_percent("--to", "after", "Relative humidity later.", _YEAR.humidity_high)
@click.option(
    "--temperature",
    type=float,
    metavar="DEGREES",
    help="In F, in C with --unit mm.  [default: 70 F, 20 C]",
)
@click.option(
    "--distance",
    metavar="SIZE",
    help="Of a fixing from where the part is held.  [default: half the width]",
)
@click.option(
    "--moisture",
    type=float,
    metavar="PERCENT",
    help="Of the wood when fitted.  [default: not known, so its driest]",
)
@click.option(
    "--unit",
    type=click.Choice([unit.value for unit in Unit]),
    default=Unit.INCH.value,
    show_default=True,
    help="Unit of sizes.",
)
def movement(**asked: Any) -> int:  # noqa: ANN401 - one per option
    """Say how far wood moves across the grain, and what room that takes."""
    click.echo(answer(question_for(Asked(**asked))))
    return DONE


def _plan(
    project: Path,
    workbook: Path,
    json_file: Path | None,
    params: SolveParams,
    wood: Wood = ALL_LISTED,
) -> int:
    """Plan a project and write the plan; nothing is written unless all of it went well."""
    content, taken = _read(project, wood)
    refuse_outputs(project, workbook, json_file, wood.tally)
    for warning in content.warnings:
        click.echo(f"note: {warning}", err=True)
    # what was taken is in the cart: no other yard is left to go to
    made, advice = search(content, params, sys.stderr, compares=taken is None)
    made = stamped(made, content.stamps)
    write_workbook(workbook, content, made, taken, advice)
    if json_file:
        write_plan(json_file, made)
    click.echo(summary(content, made, taken, advice))
    click.echo(f"written to {workbook}" + (f" and {json_file}" if json_file else ""))
    return DONE if made.status == COMPLETE else SHORT_OF_WOOD


def _read(project: Path, wood: Wood) -> tuple[Project, Taken | None]:
    """Return a project; with a tally sheet, its wood as it was taken, and what that is."""
    content = read_project(project)
    if wood.rack_file is not None:
        content = on_rack(content, wood.rack_file)
    if wood.tally is None:
        return content, None
    taken = read_tally(wood.tally, content)
    return with_taken(content, taken), taken


def _read_text(path: Path) -> str:
    """Return the text of a file.

    Raises
    ------
    InputError
        If it is not UTF-8 text.
    """
    try:
        return path.read_text(encoding="utf-8")
    except UnicodeDecodeError:
        raise InputError([Fault(str(path), None, None, "is not UTF-8 text")]) from None


def _verdict(made: Plan, broken: int) -> str:
    """Return the last line of a verification."""
    if broken:
        return f"refused: {counted(broken, 'rule')} broken"
    pieces = sum(len(board.pieces) for board in (*made.boards, *made.sheets))
    return (
        f"accepted: {counted(len(made.boards), 'board')}, {counted(pieces, 'piece')}, "
        f"{counted(len(made.panels), 'panel')}, cost {money(made.totals.cost)}"
    )


def _tell(code: int, *lines: str) -> int:
    """Write error lines to stderr and return the exit code."""
    for line in lines:
        click.echo(line, err=True)
    return code


def _abandon_output() -> int:
    """Return the exit code after the reader of our output went away."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
    return PIPE_CLOSED


def _give_up() -> NoReturn:
    """Leave at once: a search that still runs in its thread must not hold us back."""
    click.echo("given up", err=True)
    sys.stderr.flush()
    os._exit(GIVEN_UP)


commands.add_command(rack)

if __name__ == "__main__":
    sys.exit(main())
