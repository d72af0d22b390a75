"""What placing costs beside the cheapest heights: of a known slab, beside many planes, and in its parts."""

from dataclasses import replace

import numpy as np
import pytest

from slab_core.correction.family import ANY_PLANE, FAMILIES
from slab_core.correction.model import Plan
from slab_core.correction.optimum.heights import unrestricted_optimum
from slab_core.correction.planes.best_plane import least_volume
from slab_core.correction.task import Task, restricted
from slab_core.correction.unit_costs import weighted_depth
from slab_core.correction.unrestricted import demand_of_task
from slab_core.correction.work import depths_mm
from slab_core.numerics.budget import Budget
from slab_core.numerics.grid import Floats
from slab_core.stages import CHEAPEST, FILL_ONLY, GRIND_ONLY, LEVEL, PLANE
from tests.invented_floors import Work, rectangle, trough, work
from tests.unit.slab_core.correction.placing.test_placement import wavy

WIDE_M, LONG_M, DEEP_M = 3.0, 4.0, 0.006


def _trough() -> Work:
    return work(
        floor=rectangle(width_m=WIDE_M, length_m=LONG_M),
        height_m=trough(width_m=WIDE_M, depth_m=DEEP_M),
        columns=60,
    )


def _by_volume(task: Task, abc_mm: Floats) -> float:
    """Fill and grinding of a plane at the prices of their volumes, every slice of a cut at its own."""
    costs, area = task.case.costs, task.case.nodes.area_m2
    depth = depths_mm(case=task.case, abc_mm=abc_mm)
    hand = task.case.nodes.hand * (costs.hand_hours_per_m2_mm / costs.hours_per_m2_mm - 1.0)
    cut = weighted_depth(depth_mm=np.maximum(-depth, 0.0), costs=costs)
    hours = float((area * (1.0 + hand)) @ cut) * costs.hours_per_m2_mm
    bags = float(area @ np.maximum(depth, 0.0)) * costs.bags_per_m2_mm
    return bags * costs.per_bag + hours * costs.per_grinding_hour


def test_a_trough_that_is_only_filled_takes_two_thirds_of_its_depth() -> None:
    """The mean of a parabola under its ends, which a level plane has to reach."""
    task = restricted(_trough().task(), family=FAMILIES[FILL_ONLY])
    costs = task.case.costs
    known = WIDE_M * LONG_M * 2 / 3 * DEEP_M * 1e3 * costs.bags_per_m2_mm * costs.per_bag
    assert least_volume(task=task, budget=Budget()) == pytest.approx(known, rel=0.015)


def test_no_plane_of_many_takes_less_by_volume() -> None:
    """The least is taken along the hull of the prices, where deep cuts are cheaper by the mm."""
    task = _trough().task()
    found = least_volume(task=task, budget=Budget())
    assert found is not None
    heights = np.linspace(0.0, 6.0, 61)
    tilts = np.linspace(-1.0, 1.0, 9)
    tried = [_by_volume(task, np.array([a, b, c])) for a in heights for b in tilts for c in tilts]
    assert found <= min(tried) * 1.01
    assert found >= min(tried) * 0.7


@pytest.fixture(scope="module", params=[PLANE, LEVEL, FILL_ONLY, CHEAPEST])
def planned(request: pytest.FixtureRequest) -> Plan:
    return wavy(deep_m=0.004).plan(request.param)


def test_the_parts_add_up_to_what_the_plan_costs_more(planned: Plan) -> None:
    told = planned.workability
    assert told is not None
    assert told.cost == planned.solve.objective
    assert 0.0 < told.shapes_cost < told.cost
    assert sum(part.cost for part in told.parts) == pytest.approx(told.cost - told.shapes_cost)
    assert all(part.cost >= 0.0 for part in told.parts)


def test_the_words_name_the_difference_and_every_part(planned: Plan) -> None:
    told = planned.workability
    assert told is not None
    assert f"{told.cost - told.shapes_cost:.2f} more" in told.words
    assert all(f"{part.cost:.2f} for " in told.words for part in told.parts)


def test_days_of_pouring_are_those_of_the_plan() -> None:
    job = wavy(deep_m=0.004)
    plan = job.plan(PLANE)
    assert plan.workability is not None
    days = sum(part.cost for part in plan.workability.parts if part.cause == "days")
    assert plan.pour_days > 0
    assert days == pytest.approx(plan.pour_days * job.task().case.costs.per_pour_day)


@pytest.fixture(scope="module", params=[PLANE, CHEAPEST])
def beside_its_optimum(request: pytest.FixtureRequest) -> Plan:
    """With places too deep for a trowel, so that the cheapest floor is poured in part."""
    job = wavy(deep_m=0.018)
    return replace(job, changes=job.changes | {"lower_bound": True}).plan(request.param)


def test_where_the_optimum_is_asked_for_placing_costs_the_price_of_realism(beside_its_optimum: Plan) -> None:
    told, optimum = beside_its_optimum.workability, beside_its_optimum.unrestricted
    assert told is not None
    assert optimum is not None
    assert told.shapes_cost == optimum.cost
    assert told.cost - told.shapes_cost == pytest.approx(optimum.price_of_realism)
    assert f"{optimum.price_of_realism:.2f} more than the cheapest heights of all" in told.words
    assert sum(part.cost for part in told.parts) == pytest.approx(optimum.price_of_realism)
    assert all(part.cost > 0.0 for part in told.parts)


@pytest.mark.parametrize("deep_m", [0.006, 0.018])
def test_heights_cost_what_their_volumes_take_more_at_the_same_prices(deep_m: float) -> None:
    """All fill at the price of a pour's compound, whoever places it, as in the unrestricted optimum."""
    job = wavy(deep_m=deep_m)
    plan, task = job.plan(CHEAPEST), job.task()
    told, costs = plan.workability, task.case.costs
    assert told is not None
    hours = plan.grinder_hours + plan.hand_grinder_hours
    placed = plan.fill_m3 * 1e3 * costs.bags_per_m2_mm * costs.per_bag + hours * costs.per_grinding_hour
    heights = sum(part.cost for part in told.parts if part.cause == "heights")
    assert heights == pytest.approx(placed - told.shapes_cost, abs=0.01)
    assert unrestricted_optimum(demand=demand_of_task(task), budget=Budget()).bound <= told.shapes_cost
    assert "cheapest heights that were drawn" in told.words


def test_what_a_trowel_takes_is_told_apart_from_the_heights() -> None:
    job = wavy(deep_m=0.006)
    plan, placing = job.plan(CHEAPEST), job.task().placing
    assert plan.patches
    assert plan.pour_days == 0
    assert plan.workability is not None
    costs = job.task().case.costs
    m2_mm = sum(patch.volume_m3 for patch in plan.patches) * 1e3
    hours = sum(patch.person_hours for patch in plan.patches) + placing.ph_per_visit
    dearer = placing.per_bag * placing.bags_per_m2_mm - costs.per_bag * costs.bags_per_m2_mm
    (by_hand,) = [part.cost for part in plan.workability.parts if part.cause == "by-hand"]
    assert by_hand == pytest.approx(hours * placing.per_ph + m2_mm * dearer)


def test_a_narrower_family_takes_no_less_by_volume() -> None:
    task = wavy(deep_m=0.004).task()
    any_plane = least_volume(task=restricted(task, family=ANY_PLANE), budget=Budget())
    assert any_plane is not None
    for alternate in (LEVEL, FILL_ONLY):
        narrower = least_volume(task=restricted(task, family=FAMILIES[alternate]), budget=Budget())
        assert narrower is not None
        assert narrower >= 0.99 * any_plane


def test_a_plan_that_is_refused_or_not_needed_has_none() -> None:
    assert wavy(deep_m=0.009).plan(GRIND_ONLY).workability is None
    level = work(floor=rectangle(width_m=WIDE_M, length_m=LONG_M), height_m=lambda x, y: 0.0 * x, columns=30)
    assert level.plan().workability is None
