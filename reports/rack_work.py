"""The commands of the rack that go with a plan: hold its boards, cut them, let go."""

from __future__ import annotations

import hashlib
import json
from pathlib import Path

import click

from nesting.plan import Plan
from nesting.planfile import plan_from_json, plan_to_json
from nesting.project import Project, read_project
from nesting.rack_cuts import cutting, not_on_rack, released, reservation
from nesting.racked import with_rack
from nesting.taken import with_taken
from reports.plaintext import counted, named
from reports.rack_options import booked, rack_file, why
from reports.rack_views import feet
from reports.shown import Shown
from reports.tally import read_tally
from stock.errors import Fault, InputError
from stock.measures import Unit
from stock.rack import Rack, open_rack, today
from stock.rack_boards import RackBoard
from stock.rack_entries import UNDO, Entry, State, Step
from stock.rack_place import usual_place

_plan_file = click.argument(
    "plan_file",
    type=click.Path(exists=True, dir_okay=False, path_type=Path),
    metavar="PLAN.json",
)


@click.command(cls=Shown, example="stavewright rack reserve hall-bench-plan.json")
@_plan_file
@why("reserved for the plan's project")
@rack_file
def reserve(plan_file: Path, reason: str | None, file: Path) -> None:
    """Hold a plan's boards of the rack for its project.

    Other projects don't plan with them then. What the project held before and this plan
    doesn't cut is free again.
    """
    plan = read_plan(plan_file)
    reason = reason or f"reserved for {plan.project}"
    with open_rack(file) as opened:
        entry = opened.book("reserve", reason, lambda state: reservation(state, plan))
    held = [one.after.name for one in entry.changes if one.after and one.after.held]
    freed = [one.after.name for one in entry.changes if one.after and not one.after.held]
    words = f"{counted(len(held), 'board')} for {plan.project}: {named(held)}"
    click.echo(booked(entry, words + (f"; free again: {named(freed)}" if freed else "")))


@click.command(cls=Shown, example="stavewright rack release hall-bench")
@click.argument("project", metavar="NAME")
@why("released")
@rack_file
def release(project: str, reason: str | None, file: Path) -> None:
    """Free what is reserved for the project NAME."""
    with open_rack(file) as opened:
        entry = opened.book(
            "release", reason or "released", lambda state: released(state, project)
        )
    words = f"{counted(len(entry.changes), 'board')} free again"
    click.echo(booked(entry, words))


@click.command(cls=Shown, example="stavewright rack cut hall-bench-plan.json")
@_plan_file
@click.option(
    "--project",
    type=click.Path(exists=True, path_type=Path),
    metavar="PROJECT",
    help="Its project: offcuts of boards that it bought come too.  [default: they don't]",
)
@click.option(
    "--tally",
    type=click.Path(exists=True, dir_okay=False, path_type=Path),
    metavar="FILE.xlsx",
    help="Sheet Buy that such a plan was made with, beside --project.  [default: none]",
)
@why("cut for the plan's project")
@rack_file
def cut(
    plan_file: Path, project: Path | None, tally: Path | None, reason: str | None,
    file: Path,
) -> None:  # fmt: skip
    """Record that a plan's boards were cut.

    They are used up, and the offcuts to keep come back as boards: with names of their own,
    and with what marks they still have. Write down other sizes with `rack adjust`.
    """
    plan = read_plan(plan_file)
    content = read_project(project) if project else None
    if content and tally:
        content = with_taken(content, read_tally(tally, content))
    sign = _sign(plan)
    reason = f"{reason or f'cut for {plan.project}'} (plan {sign})"
    with open_rack(file) as opened:

        def decide(state: State) -> tuple[Step, ...]:
            _refuse_second(opened, plan_file, sign)
            return cutting(state, plan, content, today())

        owned = not_on_rack(opened.state(), plan, bought=False)
        bought = not_on_rack(opened.state(), plan, bought=True)
        entry = opened.book("cut", reason, decide)
    click.echo(booked(entry, _cut_words(entry)))
    if owned:
        click.echo(f"note: not on the rack and so not booked: {named(owned)}")
    if bought and content is None:
        words = "bought and so not booked; with --project their offcuts come too"
        click.echo(f"note: {words}: {named(bought)}")


def on_rack(project: Project, file: str) -> Project:
    """Return a project with what is free on a rack; the usual one if its name is empty."""
    with open_rack(Path(file) if file else usual_place()) as opened:
        state, entries = opened.state(), opened.entries()
    return with_rack(project, state.boards.values(), _gone(entries, state))


def read_plan(path: Path) -> Plan:
    """Return the plan in a file, in whatever unit it is.

    Raises
    ------
    InputError
        If it is no plan file.
    """
    try:
        text = path.read_text(encoding="utf-8")
        unit = Unit(json.loads(text)["unit"])
    except (ValueError, LookupError, TypeError, RecursionError):
        raise InputError([Fault(str(path), None, None, "is no plan file")]) from None
    return plan_from_json(text, unit)


def _gone(entries: tuple[Entry, ...], state: State) -> list[RackBoard]:
    """Return boards that were on the rack and are not, as they were last."""
    last = {
        one.board: one.before
        for entry in entries
        if entry.kind != UNDO
        for one in entry.changes
        if one.before and one.after is None
    }
    return [one for number, one in last.items() if number not in state.boards]


def _refuse_second(opened: Rack, plan_file: Path, sign: str) -> None:
    """Refuse to book the cutting of one plan a second time."""
    entries = opened.entries()
    undone = {entry.undoes for entry in entries}
    for entry in entries:
        if entry.reason.endswith(f"(plan {sign})") and entry.number not in undone:
            rule = f"this plan was cut already, by entry {entry.number} of {entry.day}"
            raise InputError([Fault(str(plan_file), None, None, rule)])


def _sign(plan: Plan) -> str:
    """Return a short sign of a plan."""
    return hashlib.sha256(plan_to_json(plan).encode()).hexdigest()[:12]


def _cut_words(entry: Entry) -> str:
    """Say what a cutting did to the rack."""
    gone = [one.before.name for one in entry.changes if one.before and not one.after]
    come = [one.after.name for one in entry.changes if one.after and not one.before]
    words = f"{counted(len(gone), 'board')} of the rack used up"
    if come:
        words += f"; {counted(len(come), 'offcut')} back: {named(come, 12)}"
    used, lost = feet(entry.used), feet(entry.lost)
    return f"{words}; {used} board feet in pieces, {lost} lost to kerfs and waste"
