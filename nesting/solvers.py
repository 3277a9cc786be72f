"""CP-SAT as every model here runs it."""

from __future__ import annotations

from ortools.sat.python import cp_model


def solver_for(seconds: float, seed: int, work: float = 0.0) -> cp_model.CpSolver:
    """Return a solver with one worker: what it finds depends only on model and seed.

    `work` limits its deterministic time, which is the same on any machine; 0 does not.
    It leaves Ctrl-C to the command line; taken in a worker thread it ends the process.
    """
    solver = cp_model.CpSolver()
    solver.parameters.max_time_in_seconds = seconds
    if work:
        solver.parameters.max_deterministic_time = work
    solver.parameters.num_workers = 1
    solver.parameters.random_seed = seed
    solver.parameters.catch_sigint_signal = False
    return solver
