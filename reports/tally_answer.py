"""What a plan makes of the boards that were taken: what goes back, what is missing."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping

from nesting.blanks import Blank, blanks_for
from nesting.plan import Plan
from nesting.project import Project
from nesting.taken import Taken, put_back
from reports.plaintext import counted
from stock.measures import format_measure

_SHOWN = 12  # blanks that are missing, before the rest is only counted


def taken_words(taken: Taken) -> str:
    """Return what was taken in one line."""
    new = {*taken.corrected, *taken.found}
    listed = sum(board.name not in new for board in taken.boards)
    words = [f"{counted(len(taken.boards), 'board')} taken: {listed} as listed"]
    for what, names in (
        ("measured otherwise", taken.corrected),
        ("written in", taken.found),
    ):
        if names:
            words.append(f"{len(names)} {what} ({', '.join(names)})")
    said = ", ".join([*words, *_sheets(taken.sheets)])
    changed = f"; changed on the sheet: {', '.join(taken.terms)}" if taken.terms else ""
    return f"{said}{changed}"


def back_words(taken: Taken, plan: Plan) -> str:
    """Return what can go back on the stack in one line."""
    boards, sheets = put_back(taken, plan)
    words = [*boards, *_sheets(sheets)]
    if not words:
        return "nothing: this plan cuts all that was taken"
    return f"{', '.join(words)}: not needed by this plan"


def missing_words(project: Project, plan: Plan) -> tuple[str, ...]:
    """Return the blanks that are still missing, a line per part; none if all is made."""
    lacking = Counter(short.part for short in plan.short)
    lines = [
        f"{lacking[blank.part]} of {blank.part}: {_asked(project, blank)}"
        for blank in blanks_for(project)
        if lacking[blank.part]
    ]
    more = len(lines) - _SHOWN
    return (*lines[:_SHOWN], *([f"and {more} more parts"] if more > 0 else []))


def _sheets(sheets: Mapping[str, int]) -> list[str]:
    """Return counts of sheet goods in words."""
    return [
        counted(count, f"sheet of {kind}", f"sheets of {kind}")
        for kind, count in sheets.items()
    ]


def _asked(project: Project, blank: Blank) -> str:
    """Return what to look for: the rough size of a blank, and of what wood."""
    length, width = (format_measure(side, project.unit, 64) for side in blank.sizes[0])
    part, unit = project.part(blank.part), project.unit.value
    if blank.is_sheet:
        return f"{length} x {width} {unit} of {part.species}"
    what = "staves that make" if blank.is_panel else "a blank"
    layers = f"{blank.layers} layers of " if blank.layers > 1 else ""
    thick = format_measure(blank.thickness, project.unit, 64)
    return (
        f"{layers}{what} {length} x {width} {unit}, {thick} thick when dressed, "
        f"of {part.species}"
    )
