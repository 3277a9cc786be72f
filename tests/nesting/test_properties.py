"""What holds for any project: its plan is sound, and costs no less than its bound."""

from __future__ import annotations

from hypothesis import HealthCheck, given, note, settings

from nesting.alternatives import compare
from nesting.planfile import plan_from_json, plan_to_json
from nesting.solve import SolveParams, solve
from nesting.spares import spares_for
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


@settings(few, max_examples=8)
@given(projects())
def test_what_is_found_out_beside_a_plan_leaves_it_sound(project):
    first = solve(project, QUICK)
    plan, found = compare(project, first, QUICK)
    note(plan_to_json(plan))
    assert verify(project, plan) == ()
    assert plan.totals.cost <= first.totals.cost
    for one in found.others if found else ():
        assert one.cost is None or plan.totals.cost <= one.cost
        assert one.cost is None or one.bound <= one.cost
    spares = spares_for(project, plan)
    used = {cut.board for cut in plan.boards}
    for loss in spares.losses if spares else ():
        assert loss.board in used
        assert loss.by not in used


@few
@given(projects())
def test_a_plan_is_as_sound_when_it_is_read_back_from_its_file(project):
    plan = solve(project, QUICK)
    again = plan_from_json(plan_to_json(plan), project.unit)
    assert verify(project, again) == ()
    assert again.totals.cost == plan.totals.cost
