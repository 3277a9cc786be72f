"""The benchmark commands: a table in Markdown on stdout, progress on stderr."""

from __future__ import annotations

import os
import platform
from collections.abc import Callable
from pathlib import Path
from typing import Any

import click

from nesting.arrange import Effort
from nesting.solve import SolveParams
from tests.benchmark import fences, profiling, published, runs
from tests.benchmark import matching as panels
from tests.benchmark.generated import SIZES, project_for

SIZE = click.Choice(list(SIZES))


@click.group()
def benchmark() -> None:
    """Measure the optimizer."""


def out_option(command: Callable[..., Any]) -> Callable[..., Any]:
    """Add the option to write the table to a file as well."""
    kind = click.Path(dir_okay=False, writable=True, path_type=Path)
    return click.option("--out", type=kind, help="Also write to this file.")(command)


def marks_option(command: Callable[..., Any]) -> Callable[..., Any]:
    """Add the option to mark the boards."""
    return click.option(
        "--marks/--no-marks", default=False, show_default=True, help="Boards with knots."
    )(command)


@benchmark.command()
@click.argument("folder", type=click.Path(exists=True, file_okay=False, path_type=Path))
@click.option(
    "--seconds",
    default=20.0,
    show_default=True,
    help="Most seconds per instance and engine.",
)
@click.option("--only", default="", help="Only instances whose name holds this text.")
@out_option
def literature(folder: Path, seconds: float, only: str, out: Path | None) -> None:
    """Run published instances: JSON files in FOLDER, as `published.py` describes."""
    results, misfits = [], []
    for instance in published.read_instances(folder):
        name = instance["id"]
        if only not in name:
            continue
        why = published.misfit(instance)
        if why is not None:
            misfits.append((name, why))
            continue
        for engine in published.engines(instance):
            say(f"{name}, {engine}")
            results.append(published.run(instance, seconds, engine))
    show(published.report(results, misfits), out)


@benchmark.command()
@click.option("--size", type=SIZE, multiple=True, default=["small", "medium"],
              show_default=True, help="May be given several times.")  # fmt: skip
@click.option("--seeds", default=3, show_default=True, help="Seeds 1 to this.")
@click.option("--seconds", default="10", show_default=True,
              help="Time limits, with commas: 10,60.")  # fmt: skip
@marks_option
@click.option("--runs", "tries", default=200, show_default=True,
              help="Runs of the craftsman.")  # fmt: skip
@click.option("--rival-seconds", default=60.0, show_default=True,
              help="Most seconds for each planner without a search.")  # fmt: skip
@out_option
def projects(
    size: tuple[str, ...],
    seeds: int,
    seconds: str,
    marks: bool,
    tries: int,
    rival_seconds: float,
    out: Path | None,
) -> None:
    """Plan projects of our own making, beside two planners without a search."""
    limits = numbers(seconds)
    found: list[runs.Outcome] = []
    try:
        for name in size:
            # what was done before an interruption is in the list already
            found.extend(
                runs.run_size(
                    name, seeds, limits, marks=marks, runs=tries,
                    rival_seconds=rival_seconds, say=say,
                )
            )  # fmt: skip
    except KeyboardInterrupt:
        say("stopped: what is done is shown")
    show(runs.report(found), out)


@benchmark.command()
@click.option("--seeds", default=1, show_default=True, help="Seeds 1 to this.")
@click.option("--seconds", default=30.0, show_default=True, help="Most per instance.")
@click.option("--rounds", default=2000, show_default=True, help="Most rounds.")
@out_option
def matching(seeds: int, seconds: float, rounds: int, out: Path | None) -> None:
    """Arrange staves of our own making in panels that should look alike."""
    found = []
    for size in panels.SIZES:
        for seed in range(1, seeds + 1):
            say(f"{' / '.join(map(str, size))}, seed {seed}")
            effort = Effort(seconds=seconds, rounds=rounds, idle=150, mixes=400_000)
            found.append(panels.run(*size, seed, effort))
    show(panels.report(found), out)


@benchmark.command("set-ups")
@click.option("--size", type=SIZE, multiple=True, default=["small", "medium"],
              show_default=True, help="May be given several times.")  # fmt: skip
@click.option("--seeds", default=5, show_default=True, help="Seeds 1 to this.")
@click.option("--seconds", default=5.0, show_default=True, help="Time limit of a plan.")
@marks_option
@out_option
def set_ups(
    size: tuple[str, ...], seeds: int, seconds: float, marks: bool, out: Path | None
) -> None:
    """Count how often the rip fence is set, before and after widths agree."""
    found = []
    for name in size:
        for seed in range(1, seeds + 1):
            say(f"{name} {seed}")
            project = project_for(name, seed, marks=marks)
            found.append(fences.run(name, project, seconds))
    show(fences.report(found), out)


@benchmark.command()
@click.option("--size", type=SIZE, default="medium", show_default=True)
@click.option("--seed", default=1, show_default=True)
@click.option("--seconds", default=20.0, show_default=True, help="Time limit.")
@marks_option
@out_option
def profile(size: str, seed: int, seconds: float, marks: bool, out: Path | None) -> None:
    """Profile one solve: functions by their own time, and peak memory."""
    say(f"{size} {seed}: {seconds:g} s")
    project = project_for(size, seed, marks=marks)
    show(profiling.profiled(project, SolveParams(seconds=seconds, seed=seed)), out)


def numbers(text: str) -> tuple[float, ...]:
    """Return numbers above 0 that are written with commas between."""
    try:
        found = tuple(float(word) for word in text.split(","))
    except ValueError as error:
        raise click.BadParameter(f"numbers with commas: 10,60; got {text!r}") from error
    if min(found) <= 0:
        raise click.BadParameter(f"time limits are above 0; got {text!r}")
    return found


def say(text: str) -> None:
    """Tell on stderr what is being done."""
    click.echo(text, err=True)


def show(text: str, out: Path | None) -> None:
    """Print a report with the machine it was made on; write it to a file if asked."""
    machine = f"Python {platform.python_version()}, {os.cpu_count()} cores\n"
    click.echo(f"{text}\n{machine}")
    if out is not None:
        out.write_text(f"{text}\n{machine}", encoding="utf-8")
