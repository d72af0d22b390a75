"""Slopes of the expected work against the work itself, averaged over errors of the heights."""

from typing import Any

import numpy as np
import pytest

from slab_core.correction.kernels import FILL, GRIND
from slab_core.correction.marginal import bags_per_mm, cost_per_mm
from slab_core.correction.task import Task
from slab_core.correction.work import work_of_depths
from slab_core.materials.model import Compound
from slab_core.numerics.grid import Floats
from tests.invented_floors import FEATHERED, LIFTED, rectangle, work


def _task(compound: Compound) -> Task:
    floor = rectangle(width_m=2.0, length_m=3.0)
    return work(floor=floor, height_m=lambda x, y: 0.0 * x * y, columns=20, compound=compound).task()


def _averaged_slopes(task: Task, depth_mm: Floats, sd_mm: float) -> tuple[float, float]:
    """Slopes of the mean bags and running cost as all nodes are shifted, by the density's own slope.

    Every node may take the same error: the work is a sum over nodes, so its mean does not see the
    difference. For a normal error e, d/dm E g(m + e) is E g(m + e) e / sd².
    """
    errors = np.linspace(-6.0, 6.0, 16001)
    density = np.exp(-0.5 * errors**2) / np.sqrt(2 * np.pi) * (errors[1] - errors[0])
    total = np.zeros(2)
    for error, weight in zip(errors, density, strict=True):
        depth = depth_mm + sd_mm * error
        state: Any = np.where(depth > 0.0, FILL, GRIND).astype(np.int8)
        work = work_of_depths(case=task.case, depth_mm=depth, state=state)
        total += weight * error / sd_mm * np.array([work.quantities.unrounded_bags, work.running_cost])
    return float(total[0]), float(total[1])


@pytest.mark.parametrize("compound", [FEATHERED, LIFTED], ids=["feathered", "with a least lift"])
@pytest.mark.parametrize("sd_mm", [0.3, 2.0])
@pytest.mark.parametrize(("low_mm", "high_mm"), [(-9.0, -0.5), (-2.0, 2.0), (1.0, 12.0)])
def test_slopes_are_those_of_the_work_itself(
    compound: Compound, sd_mm: float, low_mm: float, high_mm: float
) -> None:
    task = _task(compound)
    nodes = task.case.nodes
    depth = np.random.default_rng(1).uniform(low_mm, high_mm, len(nodes.x))
    sd = np.full(len(depth), sd_mm)
    bags, cost = _averaged_slopes(task, depth, sd_mm)
    assert bags_per_mm(case=task.case, depth_mm=depth, sd_mm=sd).sum() == pytest.approx(
        bags, rel=2e-3, abs=1e-6
    )
    assert cost_per_mm(case=task.case, depth_mm=depth, sd_mm=sd).sum() == pytest.approx(
        cost, rel=2e-3, abs=1e-3
    )


def test_far_below_the_plane_a_millimetre_more_costs_the_compound_it_takes() -> None:
    task = _task(FEATHERED)
    costs, area = task.case.costs, task.case.nodes.area_m2
    depth, sd = np.full(len(area), 15.0), np.ones(len(area))
    assert bags_per_mm(case=task.case, depth_mm=depth, sd_mm=sd) == pytest.approx(costs.bags_per_m2_mm * area)
    assert cost_per_mm(case=task.case, depth_mm=depth, sd_mm=sd) == pytest.approx(
        costs.per_bag * costs.bags_per_m2_mm * area
    )


def test_far_above_the_plane_a_millimetre_more_of_it_spares_grinding() -> None:
    task = _task(FEATHERED)
    costs, area = task.case.costs, task.case.nodes.area_m2
    depth, sd = np.full(len(area), -2.0), np.full(len(area), 0.1)
    assert bags_per_mm(case=task.case, depth_mm=depth, sd_mm=sd) == pytest.approx(0.0, abs=1e-12)
    by_machine = costs.hours_per_m2_mm * costs.factors[0] * costs.per_grinding_hour * area
    middle = task.case.nodes.hand == 0.0
    assert cost_per_mm(case=task.case, depth_mm=depth, sd_mm=sd)[middle] == pytest.approx(-by_machine[middle])
