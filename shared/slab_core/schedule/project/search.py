"""The shortest schedule of a project within the budget: a genetic search, then branch and bound where the
project is small, else the solver from there."""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import ceil, isfinite

from slab_core.numerics.budget import Budget
from slab_core.schedule.project.branching import branched
from slab_core.schedule.project.genetic import Genetic
from slab_core.schedule.project.model import Project, check
from slab_core.schedule.project.solver import solve_project

LEAST_POPULATION = 40
"""And not fewer than activities: chosen on other projects than those that judge the search."""

SCHEDULES = 30_000
"""Serial schedules made where no clock ends the search sooner."""

FEW_ACTIVITIES = 40
"""So many are proven sooner by branching than by the solver."""

LEAST_SHARE = 0.1

NODES = 200_000
"""Of branching where no clock ends it sooner."""

EFFORT = 1.0
"""The solver's own measure of work, where no clock ends it sooner."""

WORTH_SOLVING = 0.25
"""Seconds below which the solver is not asked: it would still be reading the model."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ProjectPlan:
    """Starts, the makespan and a proven bound on it; `optimal` when the two are equal."""

    starts: tuple[int, ...]
    makespan: int
    bound: int
    optimal: bool


def plan_project(*, project: Project, budget: Budget, workers: int = 1) -> ProjectPlan:
    """Starts that keep every order and capacity, with the least makespan that was found.

    Raises
    ------
    InputRefused
        when the project cannot be done: see `check`.
    Stopped
        when the budget says so.
    """
    check(project)
    if project.count == 0:
        return ProjectPlan(starts=(), makespan=0, bound=0, optimal=True)
    left = budget.left_s()
    bound = least_makespan(project)
    search = Genetic(project=project, population=max(LEAST_POPULATION, project.count))
    search.run(
        budget=_part(budget, seconds=_share(project) * left),
        schedules=float("inf") if isfinite(left) else SCHEDULES,
        good_enough=bound,
    )
    found = ProjectPlan(
        starts=search.starts,
        makespan=search.makespan,
        bound=bound,
        optimal=search.makespan <= bound,
    )
    if not found.optimal and project.count <= FEW_ACTIVITIES:
        found = _branched(project, found, budget, workers)
    left = budget.left_s()
    return found if found.optimal or left < WORTH_SOLVING else _solved(project, found, left, workers)


def least_makespan(project: Project) -> int:
    """What no schedule can beat: the longest path, and the work of each resource."""
    work = [
        -(
            -sum(length * row[k] for length, row in zip(project.lengths, project.demands, strict=True))
            // capacity
        )
        for k, capacity in enumerate(project.capacities)
        if capacity > 0
    ]
    return max([*project.tails(), *work], default=0)


def _share(project: Project) -> float:
    """The genetic search's part of the time: small projects are proven quickly, and the solver helps large
    ones little."""
    few = project.count <= FEW_ACTIVITIES
    return LEAST_SHARE if few else min(1.0, (project.count - 10) / 110)


def _part(budget: Budget, *, seconds: float) -> Budget:
    if not isfinite(seconds):
        return budget
    return replace(budget, deadline_s=min(budget.deadline_s, budget.clock() + seconds))


def _branched(project: Project, found: ProjectPlan, budget: Budget, workers: int) -> ProjectPlan:
    nodes = float("inf") if isfinite(budget.left_s()) else NODES
    better = branched(project=project, makespan=found.makespan, budget=budget, nodes=nodes, workers=workers)
    bound = better.makespan if better.proven else found.bound
    starts = better.starts or found.starts
    return ProjectPlan(starts=starts, makespan=better.makespan, bound=bound, optimal=better.proven)


def _solved(project: Project, found: ProjectPlan, left: float, workers: int) -> ProjectPlan:
    solved = solve_project(
        project=project,
        horizon=found.makespan,
        seconds=left,
        hint=found.starts,
        workers=workers,
        effort=float("inf") if isfinite(left) else EFFORT,
    )
    starts = solved.starts or found.starts
    makespan = max(start + length for start, length in zip(starts, project.lengths, strict=True))
    bound = min(makespan, max(found.bound, ceil(solved.bound)))
    return ProjectPlan(starts=starts, makespan=makespan, bound=bound, optimal=bound == makespan)
