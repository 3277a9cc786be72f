"""The linear master: an abnormal end must neither lose the plan nor prove too much."""

import pytest
from ortools.linear_solver import pywraplp

from nesting import columns, select
from nesting.columns import Master, kernels_for, relax, rows_for
from nesting.patterns import Section, Strip
from nesting.solve import SolveParams, solve
from tests.benchmark.engine import problem_of
from tests.benchmark.generated import Size, project_of

BOARDS, PIECES = [(100, 10, 30), (60, 20, 40)], [(50, 10, 2), (30, 10, 2)]


def master():
    """A master with one column: two pieces of 50 from the first board."""
    problem = problem_of(BOARDS, PIECES)
    rows = rows_for(problem)
    found = Master(problem, rows)
    section = Section(50, (Strip(10, ((0, 0, False),)),))
    adds = rows.coefficients(problem, [section, section])
    found.add(columns.Column(0, 30.0, adds, (section, section)))
    return found


def test_a_master_that_ends_abnormally_is_solved_anew(monkeypatch):
    plain = master().solve()[0]
    astray = master()
    solve_once, asked = astray.solver.Solve, []

    def first_time_abnormal(*parameters):
        asked.append(len(parameters))
        return solve_once(*parameters) if parameters else pywraplp.Solver.ABNORMAL

    monkeypatch.setattr(astray.solver, "Solve", first_time_abnormal)
    assert astray.solve()[0] == pytest.approx(plain)
    assert asked == [0, 1]


def test_a_master_that_no_way_solves_says_so(monkeypatch):
    astray = master()
    monkeypatch.setattr(astray.solver, "Solve", lambda *_: pywraplp.Solver.ABNORMAL)
    with pytest.raises(ArithmeticError, match="linear master"):
        astray.solve()


def unsolvable(*_):
    raise ArithmeticError("the linear master ended with status 4")


def test_column_generation_keeps_what_it_proved_when_a_master_fails(monkeypatch):
    problem = problem_of(BOARDS, PIECES)
    kernels, rows = kernels_for(problem), rows_for(problem)
    whole = relax(problem, kernels, rows, stop=lambda: False)
    good, count = Master.solve, iter(range(1000))

    def fails_late(self):
        return good(self) if next(count) < 3 else unsolvable()

    monkeypatch.setattr(Master, "solve", fails_late)
    cut_short = relax(problem, kernels, rows, stop=lambda: False)
    assert 0 <= cut_short.bound <= whole.bound + 1e-6


@pytest.mark.parametrize(("where", "name"), [(Master, "solve"), (select, "priced_on")])
def test_a_plan_is_made_though_no_master_can_be_solved(where, name, monkeypatch):
    monkeypatch.setattr(where, name, unsolvable)
    project = project_of(Size(parts=4, panels=1, boards=6, most=2), 1, marks=False)
    plan = solve(project, SolveParams(seconds=1.5))
    assert plan.status == "complete"
    assert plan.totals.bound <= plan.totals.cost
