"""The part of the machining sheet that lists set-ups in order, with their test pieces."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from itertools import groupby

from nesting.milling import (
    EVEN,
    FACED,
    GLUED,
    GLUED_WIDTH,
    LENGTH,
    PLANE,
    SHEETS,
    THIN,
    WIDTH,
)
from nesting.set_ups import AFTER, FENCE, LINE, PLANER, STOP, Run, SetUp
from reports.plaintext import counted, in_order, ranged
from reports.sheets.cauls import cauls_of
from reports.sheets.cells import (
    HEAD,
    TICK_ROW,
    Cell,
    Row,
    head_row,
    heading_row,
    length,
    text,
    tick,
)
from reports.sheets.content import Content
from reports.sheets.page import Page
from reports.trial_cuts import Trial, least_length, least_width, needed_size, trials_for

_STAGES = {
    0: "Crosscut the boards into sections, at the lines", 1: "Rip the sections",
    2: "Crosscut the strips into blanks", EVEN: "Plane staves even, not under the setting",
    PLANE: "Plane to thickness", WIDTH: "Rip to finished width: gangs whole",
    AFTER: "Cut gangs apart", THIN: "Plane what is thinner than the rest of its gang",
    GLUED: "Once glued: plane panels", FACED: "Once glued: plane laminates",
    GLUED_WIDTH: "Rip to finished width: what was glued, and the narrow ones of gangs",
    LENGTH: "Crosscut to finished length: square one end, the other at the stop",
}  # fmt: skip


def set_up_words(content: Content) -> str:
    """Return how many set-ups there are, by machine."""
    ways = Counter(one.way for one in content.set_ups if one.is_counted)
    words = [f"{ways[way]} of the {way}" for way in (FENCE, STOP, PLANER) if ways[way]]
    total = counted(ways.total(), "set-up")
    return f"{total}: {', '.join(words)}" if words else total


def add_set_ups(page: Page, content: Content) -> None:
    """Append the set-ups, stage by stage, and the test pieces they name."""
    set_ups = content.set_ups
    taken = {(strip.board, strip.offcut) for strip in cauls_of(content).strips}
    trials = trials_for(content.project, content.plan, set_ups, taken)
    numbers = iter(range(1, len(set_ups) + 1))
    page.keep(HEAD + 4 * TICK_ROW)
    page.heading(f"Set-ups, in order: {set_up_words(content)}")
    _add_order(page, content)
    pairs = zip(set_ups, trials, strict=True)
    for phase, some in groupby(pairs, key=lambda pair: pair[0].phase):
        rows = [
            _set_up_row(content, next(numbers) if one.is_counted else None, one, trial)
            for one, trial in some
        ]
        page.table(rows, [heading_row(_stage(phase), len(page.widths)), _head()])
    _add_trials(page, content, trials)


def _add_order(page: Page, content: Content) -> None:
    """Say how the order was found, and what widths that agree have saved."""
    words = (
        "Equal settings run together as far as the cuts of each board, in their order, let"
        " them. Try each setting on its test piece and measure before the wood runs; where"
        " none serves, make the first cut a little large, measure, and correct."
    )
    rips = content.plan.rips
    if rips and rips.settings < rips.before:
        words += (
            f" Rough rips take {counted(rips.settings, 'setting')} of the fence; before the"
            f" plan made stave widths agree, at no cost, they took {rips.before}."
        )
    page.paragraph(words)


def _head() -> Row:
    return head_row("", "no.", "set", "at", "cuts", "what runs", "test piece", "mind")


def _stage(phase: int) -> str:
    """Return the heading of a stage of the work."""
    if phase >= SHEETS:
        words = ("crosscut", "rip")[phase % 2]
        return f"Sheet goods: {words}" + (" again" if phase > SHEETS + 2 else "")
    if phase in _STAGES:
        return _STAGES[phase]
    late = ", out of gangs" if phase > AFTER else ""
    return ("Crosscut again", "Rip again")[phase % 2] + late


def _set_up_row(
    content: Content, number: int | None, one: SetUp, trial: Trial | None
) -> Row:
    """Return one set-up."""
    minds = list(_minds(content, one))
    is_check = any(words.startswith("CHECK") for words in minds)
    return Row(
        cells=(
            tick(),
            Cell(value=number, style="count"),
            text(_way(one)),
            length(one.setting, content.unit),
            Cell(value=len(one.runs), style="count"),
            text(_runs_words(one)),
            _trial_cell(content, one, trial),
            text("; ".join(minds) or None, "check" if is_check else "text"),
        ),
        height=TICK_ROW,
        is_ticked=True,
    )


def _way(one: SetUp) -> str:
    """Return what is set."""
    return f"{one.way}, {one.angle:g}\N{DEGREE SIGN}" if one.angle else one.way


def _runs_words(one: SetUp) -> str:
    """Return what runs in a set-up: cuts board by board, or what is milled by name."""
    if not any(run.board for run in one.runs):
        return ranged(in_order(name for run in one.runs for name in run.names))
    words = []
    for board, some in groupby(one.runs, key=lambda run: run.board):
        runs = list(some)
        cuts = ranged([f"cut {run.cut}" for run in runs], ", ").replace("cut ", "")
        noun = "cut" if len(runs) == 1 else "cuts"
        words.append(f"{board}, {noun} {cuts}: {ranged(map(_run_words, runs))}")
    return "; ".join(words)


def _run_words(run: Run) -> str:
    """Return what comes off in one run, and what is left behind it."""
    words = ranged(run.names, " + ") or "waste"
    return f"{words}, leaves {ranged(run.leaves, ' + ')}" if run.leaves else words


def _trial_cell(content: Content, one: SetUp, trial: Trial | None) -> Cell:
    """Return the test piece of a set-up, or what to keep for it."""
    if not _is_exact(one):
        return text(None)
    if trial is None:
        size = content.size(*needed_size(content.project, one))
        return text(f"none: keep a cut-off of {size} or more", "note")
    return text(f"T{trial.number}, now {content.size(trial.length, trial.width)}")


def _is_exact(one: SetUp) -> bool:
    """Whether a set-up is worth a test: no waste off an edge, no cut at a line."""
    return one.is_counted and any(run.names or run.leaves for run in one.runs)


def _minds(content: Content, one: SetUp) -> Iterator[str]:
    """Yield what to mind at a set-up."""
    unit, shop = content.unit, content.project.shop
    if one.way != LINE:
        if not _is_exact(one):
            yield "waste: need not be exact"
        least = least_length(shop.shortest_machined, unit)
        short = [run for run in one.runs if run.length < least]
        if short and one.way == PLANER:
            yield f"CHECK: {_names(short)}: too short for the planer, find another way"
        elif short and one.way == FENCE:
            yield f"CHECK: {_names(short)}: too short for the fence, hold in a carrier"
        elif one.way == STOP and one.setting and one.setting < least // 2:
            yield "CHECK: short: clamp it down, hands stay away"
    if one.way == FENCE:
        yield from _fence_minds(content, one)


def _fence_minds(content: Content, one: SetUp) -> Iterator[str]:
    """Yield what to mind where wood runs along the fence."""
    if one.setting and one.setting < least_width(content.unit):
        yield "CHECK: narrow: push sticks, or the wide part at the fence"
    across = [run for run in one.runs if run.width > run.length]
    if across:
        yield f"CHECK: {_names(across)}: wider than long: on a sled, not along the fence"


def _names(runs: list[Run]) -> str:
    """Return what some runs hold, the surplus only counted."""
    names = [name for run in runs for name in run.names] or ["waste"]
    more = f" and {len(names) - 3} more" if len(names) > 3 else ""
    return ", ".join(names[:3]) + more


def _add_trials(page: Page, content: Content, trials: tuple[Trial | None, ...]) -> None:
    """Append where test pieces come from."""
    first: dict[int, Trial] = {}
    for trial in trials:
        if trial:
            first.setdefault(trial.number, trial)
    rows = [
        Row(
            cells=(
                tick(),
                text(f"T{trial.number}", "label"),
                text(trial.board, span=3),
                text(
                    f"{content.size(trial.length, trial.width)}, from"
                    f" {content.size(trial.x)} off the butt end and"
                    f" {content.size(trial.y)} off the lower edge"
                ),
                text(trial.name or "waste", span=2),
            ),
            height=TICK_ROW,
            is_ticked=True,
        )
        for trial in first.values()
    ]
    if not rows:
        return
    head = head_row("", "piece", ("board", 3), "size and place", ("comes from", 2))
    page.table(
        rows,
        [heading_row("Test pieces: mark them as they come off", len(page.widths)), head],
    )
    for words in (
        "A test piece is planed with the wood that it stands for, and goes to the fence"
        " with a flat face and a jointed edge like any other. Once it is shorter than the"
        " shop machines safely it is scrap.",
        "An offcut with a name is one to keep: tried on, it is smaller and worth less than"
        " the plan counts.",
    ):
        page.paragraph(words, "plain")
