"""A project by OR-tools CP-SAT: the model, and a run from a known schedule."""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil, isfinite

from ortools.sat.python import cp_model

from slab_core.schedule.project.model import Project


@dataclass(frozen=True, slots=True, kw_only=True)
class Solved:
    """What the solver has: starts (None when it found nothing), and a proven least makespan."""

    starts: tuple[int, ...] | None
    bound: int


def solve_project(
    *,
    project: Project,
    horizon: int,
    seconds: float,
    hint: tuple[int, ...] | None = None,
    workers: int = 1,
    effort: float = float("inf"),
) -> Solved:
    """The shortest schedule that ends by `horizon`. `effort` is the solver's own measure of work, so that
    answers repeat; `seconds` the limit on the wall clock."""
    model, starts = project_model(project=project, horizon=horizon, hint=hint)
    solver = _solver(seconds=seconds, workers=workers, effort=effort)
    status = solver.solve(model)
    bound = max(0, ceil(solver.best_objective_bound - 1e-6))
    if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return Solved(starts=None, bound=bound)
    return Solved(starts=tuple(int(solver.value(variable)) for variable in starts), bound=bound)


def project_model(
    *, project: Project, horizon: int, hint: tuple[int, ...] | None = None
) -> tuple[cp_model.CpModel, list[cp_model.IntVar]]:
    """The solver's model, and the variables of the starts; the makespan is its objective."""
    model = cp_model.CpModel()
    starts = [model.new_int_var(0, horizon - length, "start") for length in project.lengths]
    makespan = model.new_int_var(0, horizon, "makespan")
    for later, earlier in enumerate(project.before):
        for one in earlier:
            model.add(starts[later] >= starts[one] + project.lengths[one])
        model.add(makespan >= starts[later] + project.lengths[later])
    _add_resources(model, project, starts)
    model.minimize(makespan)
    if hint is not None:
        for variable, value in zip(starts, hint, strict=True):
            model.add_hint(variable, value)
        model.add_hint(makespan, max(map(sum, zip(hint, project.lengths, strict=True)), default=0))
    return model, starts


def _add_resources(model: cp_model.CpModel, project: Project, starts: list[cp_model.IntVar]) -> None:
    spans = [
        model.new_fixed_size_interval_var(start, length, "work")
        for start, length in zip(starts, project.lengths, strict=True)
    ]
    for k, capacity in enumerate(project.capacities):
        users = [i for i in range(project.count) if project.demands[i][k] > 0]
        model.add_cumulative([spans[i] for i in users], [project.demands[i][k] for i in users], capacity)


def _solver(*, seconds: float, workers: int, effort: float) -> cp_model.CpSolver:
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = workers
    solver.parameters.random_seed = 1
    if isfinite(effort):
        solver.parameters.max_deterministic_time = effort
    if isfinite(seconds):
        solver.parameters.max_time_in_seconds = max(0.01, seconds)
    return solver
