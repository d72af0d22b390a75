"""Branch and bound: it finds the best by itself, whichever end it begins from, and proves nothing false."""

from itertools import permutations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from slab_core.numerics.budget import Budget
from slab_core.schedule.project.branching import Branching, branched
from slab_core.schedule.project.model import Project
from slab_core.schedule.project.solver import solve_project
from tests.support.projects import broken, generated_project
from tests.support.small_projects import in_order, small_projects


def _explored(project: Project, *, makespan: int) -> Branching:
    search = Branching(project=project, makespan=makespan)
    while not (search.proven or search.given_up):
        search.go_on()
    return search


def _backwards(project: Project) -> Project:
    return Project(
        lengths=project.lengths,
        demands=project.demands,
        capacities=project.capacities,
        before=project.after,
    )


@given(small_projects())
@settings(max_examples=150, deadline=None)
def test_from_any_schedule_it_comes_to_the_best_of_all_orders(project: Project) -> None:
    best = min(in_order(project, order) for order in permutations(range(project.count)))
    for one in (project, _backwards(project)):
        search = _explored(one, makespan=sum(project.lengths) + 1)
        assert search.makespan == best
        assert search.starts is not None
        assert broken(one, search.starts) == []


@given(
    st.integers(0, 10_000),
    st.integers(8, 16),
    st.sampled_from([0.25, 0.5, 1.0]),
    st.sampled_from([0.0, 0.2, 0.5]),
)
@settings(max_examples=40, deadline=None)
def test_it_ends_where_the_solver_does(seed: int, count: int, factor: float, strength: float) -> None:
    project = generated_project(seed=seed, count=count, complexity=1.5, factor=factor, strength=strength)
    longest = sum(project.lengths) + 1
    solved = solve_project(project=project, horizon=longest, seconds=60.0)
    assert solved.starts is not None
    for one in (project, _backwards(project)):
        search = _explored(one, makespan=longest)
        assert (search.proven, search.makespan) == (True, solved.bound)
        assert broken(one, search.starts or ()) == []


@pytest.mark.parametrize("workers", [1, 2])
def test_both_ends_together_give_the_starts_from_the_beginning(workers: int) -> None:
    project = generated_project(seed=3, count=20, complexity=1.5, factor=1.0, strength=0.2)
    longest = sum(project.lengths) + 1
    found = branched(project=project, makespan=longest, budget=Budget(), workers=workers)
    assert found.proven
    assert found.starts is not None
    assert broken(project, found.starts) == []
    ends = [start + length for start, length in zip(found.starts, project.lengths, strict=True)]
    assert max(ends) == found.makespan


def test_a_best_schedule_that_is_known_is_proven_without_starts() -> None:
    project = generated_project(seed=3, count=20, complexity=1.5, factor=1.0, strength=0.2)
    longest = sum(project.lengths) + 1
    best = branched(project=project, makespan=longest, budget=Budget()).makespan
    known = branched(project=project, makespan=best, budget=Budget())
    assert (known.proven, known.makespan, known.starts) == (True, best, None)


def test_it_stops_when_there_were_so_many_nodes() -> None:
    project = generated_project(seed=1, count=50, complexity=1.5, factor=1.0, strength=0.1)
    found = branched(project=project, makespan=sum(project.lengths), budget=Budget(), nodes=1)
    assert not found.proven
