"""Projects: published optima, every order of small ones counted out, and what a schedule must keep."""

import json
from itertools import permutations
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from slab_core.errors import InputRefused
from slab_core.numerics.budget import Budget
from slab_core.schedule.project.genetic import Genetic
from slab_core.schedule.project.model import Project
from slab_core.schedule.project.search import least_makespan, plan_project
from tests.support.projects import broken, generated_project, read_project
from tests.support.small_projects import in_order, small_projects

DATA = Path(__file__).parents[4] / "reference/data/projects"


def test_a_published_project_of_thirty_activities_is_proven_to_end_at_43() -> None:
    # Kolisch and Sprecher's library, instance j301_1: optimum 43.
    project = read_project(DATA / "j301_1.sm")
    plan = plan_project(project=project, budget=Budget())
    assert (plan.makespan, plan.bound, plan.optimal) == (43, 43, True)
    assert broken(project, plan.starts) == []


def test_a_job_shop_is_a_project_with_resources_of_one() -> None:
    # Fisher and Thompson (1963), six jobs on six machines: optimum 55.
    shop = json.loads((DATA / "ft06.json").read_text())
    machines = [m for row in shop["machines"] for m in row]
    lengths = [length for row in shop["lengths"] for length in row]
    project = Project(
        lengths=tuple(lengths),
        demands=tuple(tuple(int(m == k) for k in range(6)) for m in machines),
        capacities=(1,) * 6,
        before=tuple((i - 1,) if i % 6 else () for i in range(36)),
    )
    plan = plan_project(project=project, budget=Budget())
    assert (plan.makespan, plan.bound) == (55, 55)
    assert broken(project, plan.starts) == []


@given(small_projects())
@settings(max_examples=60, deadline=None)
def test_small_projects_end_as_early_as_the_best_of_all_orders(project: Project) -> None:
    plan = plan_project(project=project, budget=Budget())
    assert plan.makespan == min(in_order(project, order) for order in permutations(range(project.count)))
    assert plan.optimal
    assert broken(project, plan.starts) == []


@given(st.integers(0, 10_000), st.integers(1, 9), st.integers(10, 40))
@settings(max_examples=20, deadline=None)
def test_the_genetic_search_keeps_every_order_and_capacity(seed: int, resources: int, count: int) -> None:
    # Nine resources need two words of 64 bits.
    project = generated_project(
        seed=seed, count=count, complexity=1.5, factor=0.75, strength=0.2, resources=resources
    )
    search = Genetic(project=project, population=10, seed=seed)
    search.run(budget=Budget(), schedules=500, good_enough=0)
    assert broken(project, search.starts) == []
    ends = [start + length for start, length in zip(search.starts, project.lengths, strict=True)]
    assert max(ends) == search.makespan >= least_makespan(project)


def test_large_capacities_share_no_bits() -> None:
    project = Project(
        lengths=(3, 4, 5),
        demands=((2**29, 1), (2**29, 2**30), (2**29 + 1, 0)),
        capacities=(2**30, 2**30),
        before=((), (), ()),
    )
    plan = plan_project(project=project, budget=Budget())
    # The first two need 2^30 + 1 of the second resource, and either with the third 2^30 + 1 of the first.
    assert (plan.makespan, plan.optimal) == (12, True)


def test_a_search_gives_the_same_schedule_again() -> None:
    project = generated_project(seed=5, count=60, complexity=1.8, factor=0.75, strength=0.2)
    found = []
    for _ in range(2):
        search = Genetic(project=project, population=20)
        search.run(budget=Budget(), schedules=6_000, good_enough=0)
        found.append(search.starts)
    assert found[0] == found[1]


LINE = Project(lengths=(1, 2), demands=((1,), (1,)), capacities=(1,), before=((), (0,)))


@pytest.mark.parametrize(
    ("project", "pointer"),
    [
        (Project(lengths=(1, -2), demands=((1,), (1,)), capacities=(1,), before=((), (0,))), "/lengths/1"),
        (Project(lengths=(1, 2), demands=((1,), (2,)), capacities=(1,), before=((), (0,))), "/demands/1/0"),
        (Project(lengths=(1, 2), demands=((1,), ()), capacities=(1,), before=((), (0,))), "/demands/1"),
        (Project(lengths=(1, 2), demands=((1,), (1,)), capacities=(1,), before=((), (7,))), "/before/1"),
        (Project(lengths=(1, 2), demands=((1,), (1,)), capacities=(1,), before=((1,), (0,))), "/before"),
        (Project(lengths=(1,), demands=((1,), (1,)), capacities=(1,), before=((), (0,))), ""),
    ],
)
def test_what_cannot_be_done_is_refused_with_its_place(project: Project, pointer: str) -> None:
    assert plan_project(project=LINE, budget=Budget()).makespan == 3
    with pytest.raises(InputRefused) as refused:
        plan_project(project=project, budget=Budget())
    assert refused.value.problems[0].pointer == pointer
