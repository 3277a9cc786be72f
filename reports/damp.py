"""Wood that is far from where the shop's air takes it, and panels of unlike moisture.

Air and wood: the shop's `humidity low` and `humidity high`, by the equation that
`stock.moisture` states. A reading is far if it lies more than a point outside of what wood
comes to between them, as hand meters err by about a point (from memory). Staves whose
moisture differs by more than 2 points go on moving against each other once they are glued
(common practice, no source); letting stock stand for 7 to 14 days in the shop is a glue
maker's advice.
"""

from __future__ import annotations

from collections.abc import Iterator

from nesting.plan import PanelPlan, Plan
from nesting.project import Project
from reports.glueups import panel_name
from reports.plaintext import named
from reports.seasons import seasons_for

FAR = 1.0  # points of moisture outside of the shop's range
APART = 2.0  # points of moisture between boards of one panel


def damp_words(project: Project, plan: Plan) -> Iterator[tuple[str, str]]:
    """Yield what to mind about the moisture of a plan's boards: topic and words."""
    readings = {
        board.name: board.moisture for board in project.boards if board.moisture is not None
    }
    used = {cut.board: readings[cut.board] for cut in plan.boards if cut.board in readings}
    far = _far(project, used)
    if far:
        seasons = seasons_for(project.shop)
        yield (
            "Moisture and the shop",
            f"{named(far)}: the shop's air takes wood to {seasons.driest:.1f} to"
            f" {seasons.dampest:.1f} %. Let it stand there, stickered, and read it again"
            " before milling.",
        )
    apart = [words for panel in plan.panels if (words := _apart(panel, used))]
    if apart:
        yield (
            "Moisture within a panel",
            f"{named(apart)}: more than {APART:g} points apart. Let these boards stand"
            " together, one to two weeks, and read them again before gluing.",
        )


def _far(project: Project, used: dict[str, float]) -> list[str]:
    """Return the boards that are far from the shop's equilibrium, with their readings."""
    seasons = seasons_for(project.shop)
    low, high = seasons.driest - FAR, seasons.dampest + FAR
    return [
        f"{name} ({reading:g} %)"
        for name, reading in used.items()
        if not low <= reading <= high
    ]


def _apart(panel: PanelPlan, used: dict[str, float]) -> str:
    """Return the driest and the dampest board of a panel if they are too far apart."""
    read = {stave.board: used[stave.board] for stave in panel.staves if stave.board in used}
    if not read:
        return ""
    dry, damp = min(read, key=read.__getitem__), max(read, key=read.__getitem__)
    if read[damp] - read[dry] <= APART:
        return ""
    return f"{panel_name(panel)} ({dry} {read[dry]:g} %, {damp} {read[damp]:g} %)"
