"""The check of a plan against its project, whoever made the plan.

It walks from the project file to the plan: what is made, from which wood, how large,
where it lies, how the cuts free it, and what it costs. Everything is computed again from
the project; nothing here knows how plans are found.
"""

from __future__ import annotations

from nesting.plan import Plan
from nesting.planfile import plan_from_json
from nesting.project import Project
from nesting.verify_cuts import check_cuts
from nesting.verify_leaves import check_leaves
from nesting.verify_money import check_money
from nesting.verify_nests import check_nests
from nesting.verify_panels import check_panels
from nesting.verify_parts import check_parts
from nesting.verify_rules import RULES, Violation, case_for
from nesting.verify_sizes import check_sizes
from nesting.verify_windows import check_windows
from nesting.verify_wood import check_wood

__all__ = ["RULES", "Violation", "verify", "verify_file"]

CHECKS = (
    check_parts,
    check_leaves,
    check_nests,
    check_windows,
    check_wood,
    check_sizes,
    check_panels,
    check_cuts,
    check_money,
)


def verify(project: Project, plan: Plan) -> tuple[Violation, ...]:
    """Return every way in which a plan breaks a rule; nothing if it is sound.

    The rules are those of `RULES`. A plan may come from anywhere, so no
    name in it is taken for granted.
    """
    case = case_for(project, plan)
    return tuple(violation for check in CHECKS for violation in check(case))


def verify_file(project: Project, text: str) -> tuple[Violation, ...]:
    """Return what is wrong with the plan in the text of a plan file.

    Raises
    ------
    InputError
        If the text is no plan file in the project's unit.
    """
    return verify(project, plan_from_json(text, project.unit))
