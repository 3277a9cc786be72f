"""Widths of staves made to agree, so that the rip fence is set less often.

Nothing else changes: each panel is as wide as it must be, cuts are as many, kept offcuts
and the cost are no worse, joints and edges keep their rules. The plan takes other widths
only if they really save a set-up.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import replace

from nesting.agreeing_widths import Patience, Widths, agreed_widths
from nesting.arranged import with_points_anew
from nesting.loose import LooseSection, loose_sections
from nesting.plan import CutBoard, PanelPlan, Plan, RipCount
from nesting.problem import problem_for
from nesting.project import Project
from nesting.resized import Resize, resized
from nesting.set_ups import fence_settings
from nesting.totals import totals_for


def with_widths_agreed(project: Project, plan: Plan, patience: Patience) -> Plan:
    """Return the plan with stave widths that need fewer settings of the rip fence.

    It says how many there are, and how many there were.
    """
    kerf = project.shop.kerf
    before = fence_settings(plan.boards, kerf)
    same = replace(plan, rips=RipCount(settings=before, before=before))
    sections = loose_sections(project, plan)
    if not sections:
        return same
    widths = agreed_widths(project, plan, sections, patience)
    changed = _changed(project, plan, _resizes(sections, widths))
    if changed is None:
        return same
    after = fence_settings(changed.boards, kerf)
    if after >= before or changed.totals.cost > plan.totals.cost:
        return same
    return replace(changed, rips=RipCount(settings=after, before=before))


def _resizes(sections: Sequence[LooseSection], widths: Widths) -> dict[str, list[Resize]]:
    """Return, by board, the sections in which some width changes."""
    found: dict[str, list[Resize]] = defaultdict(list)
    for s, section in enumerate(sections):
        old = tuple(strip.width for strip in section.strips)
        new = tuple(widths.get((s, k), width) for k, width in enumerate(old))
        if new != old:
            found[section.board].append(Resize(section, new))
    return found


def _changed(
    project: Project, plan: Plan, resizes: Mapping[str, Sequence[Resize]]
) -> Plan | None:
    """Return the plan with other widths; None if nothing changes or an offcut loses."""
    if not resizes:
        return None
    problem = problem_for(project)
    boards = tuple(
        resized(project, problem, cut, resizes.get(cut.board, ())) for cut in plan.boards
    )
    if any(_worth(a) < _worth(b) for a, b in zip(boards, plan.boards, strict=True)):
        return None
    widths = {piece.name: piece.width for cut in boards for piece in cut.pieces}
    joint = project.shop.joint_allowance
    panels = tuple(_with_widths(panel, widths, joint) for panel in plan.panels)
    totals = totals_for(
        project, boards, plan.sheets, (plan.totals.bound, plan.totals.bound_name),
        plan.totals.seconds,
    )  # fmt: skip
    changed = {at for at, panel in enumerate(panels) if panel != plan.panels[at]}
    plan = replace(plan, boards=boards, panels=panels, totals=totals)
    return with_points_anew(project, plan, changed)


def _worth(cut: CutBoard) -> tuple[int, int]:
    """Return the credit in cents of the offcuts kept, and how many they are."""
    kept = [offcut for offcut in cut.offcuts if offcut.keep]
    return sum(int(offcut.credit * 100) for offcut in kept), len(kept)


def _with_widths(panel: PanelPlan, widths: Mapping[str, int], joint: int) -> PanelPlan:
    """Return a panel with the widths that its staves now have."""
    staves = tuple(
        replace(one, width=widths[one.piece], net_width=widths[one.piece] - joint)
        for one in panel.staves
    )
    return replace(panel, staves=staves, net_width=sum(one.net_width for one in staves))
