"""What holds for any project: its plan is sound, and costs no less than its bound."""

from __future__ import annotations

from hypothesis import HealthCheck, given, note, settings

from nesting.planfile import plan_from_json, plan_to_json
from nesting.solve import SolveParams, solve
from nesting.verify import verify
from tests.strategies import projects

QUICK = SolveParams(seconds=1.0, seed=1)
few = settings(max_examples=12, deadline=None, suppress_health_check=[HealthCheck.too_slow])


@few
@given(projects())
def test_any_plan_is_sound_and_not_below_its_bound(project):
    plan = solve(project, QUICK)
    note(plan_to_json(plan))
    assert [str(violation) for violation in verify(project, plan)] == []
    assert plan.totals.bound <= plan.totals.cost


@few
@given(projects())
def test_a_plan_is_as_sound_when_it_is_read_back_from_its_file(project):
    plan = solve(project, QUICK)
    again = plan_from_json(plan_to_json(plan), project.unit)
    assert verify(project, again) == ()
    assert again.totals.cost == plan.totals.cost
