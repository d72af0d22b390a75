"""Specks: what no rule needs is dropped, what one needs is made large enough to work, and no plan has any."""

from collections.abc import Callable

import numpy as np
import pytest

from slab_core.correction.evaluate import to_mm
from slab_core.correction.model import Plan
from slab_core.correction.placing.mended import Mender
from slab_core.correction.placing.pinned import strips_over
from slab_core.correction.placing.placed import Placed
from slab_core.correction.placing.spots import placed_parts
from slab_core.correction.placing.tidied import tidied
from slab_core.correction.placing.trowel import LEAST_M2
from slab_core.correction.placing.weighing import Weighing
from slab_core.correction.task import Task
from slab_core.correction.work import SKIN_MM
from slab_core.materials import starter
from slab_core.numerics.budget import Budget
from slab_core.numerics.grid import Floats, Mask
from slab_core.stages import CHEAPEST
from tests.invented_floors import rectangle, work
from tests.real_slabs import real_slab

HAIR_M2, HAIR_MM = 1e-9, 0.01
AT = (1.5, 1.0)
"""Where a speck lies on a floor of 3 by 2 m."""


def _task(height_m: Callable[[Floats, Floats], Floats]) -> Task:
    floor = rectangle(width_m=3.0, length_m=2.0)
    return work(floor=floor, height_m=height_m, columns=60, compound=starter.compound()).task()


def _at(task: Task) -> Mask:
    nodes = task.case.nodes
    return np.asarray((np.abs(nodes.x - AT[0]) < 0.01) & (np.abs(nodes.y - AT[1]) < 0.01))


def _level(x: Floats, y: Floats) -> Floats:
    return 0.0 * x


def _spot(mm: float) -> Callable[[Floats, Floats], Floats]:
    """A level slab with one node so much above it."""
    return lambda x, y: np.where((np.abs(x - AT[0]) < 0.01) & (np.abs(y - AT[1]) < 0.01), mm * 1e-3, 0.0)


def _changed(task: Task, *, mm: float) -> Placed:
    """The one node filled, or ground, by so much."""
    change = np.where(_at(task), mm, 0.0)
    placed = placed_parts(
        name="", task=task, fill_mm=np.maximum(change, 0.0), grind_mm=np.maximum(-change, 0.0),
        poured=np.zeros(len(change), dtype=np.bool_), pours=[],
    )  # fmt: skip
    assert placed is not None
    return placed


def _tidied(placed: Placed, task: Task) -> Placed:
    found = tidied(placed, task=task, mender=Mender(task=task, budget=Budget()))
    assert found is not None
    return found


@pytest.mark.parametrize("mm", [0.1, 1.0, -SKIN_MM])
def test_a_speck_that_no_rule_needs_is_dropped(mm: float) -> None:
    task = _task(_level)
    left = _tidied(_changed(task, mm=mm), task)
    assert not left.fill.any()
    assert not left.grind.any()


@pytest.mark.parametrize(("spot_mm", "mm"), [(-3.7, 0.15), (-4.0, 0.5), (3.9, -SKIN_MM)])
def test_a_speck_that_a_rule_needs_is_made_as_large_and_deep_as_a_tool_works(
    spot_mm: float, mm: float
) -> None:
    """A spot of so much is just beyond what is planned, 3.57 mm under a rule of 3/16 in."""
    task = _task(_spot(spot_mm))
    found = _tidied(_changed(task, mm=mm), task)
    changed = (found.fill > 0) | (found.grind > 0)
    assert changed[_at(task)].all()
    assert task.case.nodes.area_m2[changed].sum() >= LEAST_M2 - HAIR_M2
    assert to_mm(np.maximum(found.fill, found.grind)).max() >= SKIN_MM
    weighing = Weighing()
    assert weighing.offer(found, kind="").passes


def test_a_hair_too_thin_place_in_the_middle_of_a_pour_is_poured_with_it() -> None:
    """A hollow 8 mm deep with a stone of 4.9 mm in it, over which the pour lacks a hair of its least lift."""

    def height_m(x: Floats, y: Floats) -> Floats:
        deep = (np.abs(x - AT[0]) < 0.8) & (np.abs(y - AT[1]) < 0.7)
        return np.where(deep, -0.008, 0.0) + _spot(4.9)(x, y)

    task = _task(height_m)
    fill = np.maximum(-task.case.nodes.z_mm, 0.0)
    poured = fill >= task.case.least_mm
    assert not poured[_at(task)].any()
    placed = placed_parts(
        name="", task=task, fill_mm=fill, grind_mm=np.zeros(len(fill)), poured=poured,
        pours=strips_over(nodes=task.case.nodes, poured=poured),
    )  # fmt: skip
    assert placed is not None
    assert len(placed.by_hand) == 1
    found = _tidied(placed, task)
    assert found.by_hand == ()
    assert found.poured[_at(task)].all()
    assert to_mm(found.fill)[_at(task)].min() >= task.case.least_mm - 1e-9
    bays = found.task.case.nodes.bays.of_node
    assert bays[_at(task)][0] in bays[placed.poured]


@pytest.fixture(scope="module", params=[301, 304, 308])
def planned(request: pytest.FixtureRequest) -> Plan:
    """Of slabs with every fault that crews meet, on nodes 50 mm apart."""
    real = real_slab(rng=np.random.default_rng(request.param), width_m=3.0, depth_m=4.0)
    return work(floor=real.slab.floor, height_m=real.slab.height, compound=starter.compound()).plan(CHEAPEST)


def test_no_plan_has_places_that_nobody_can_work(planned: Plan) -> None:
    assert planned.passes
    assert planned.patches or planned.grind_areas
    assert all(patch.greatest_depth_m * 1e3 >= SKIN_MM - HAIR_MM for patch in planned.patches)
    assert all(patch.area_m2 >= LEAST_M2 - HAIR_M2 for patch in planned.patches)
    assert all(area.area_m2 >= LEAST_M2 - HAIR_M2 for area in planned.grind_areas)


def test_a_tidied_plan_is_told_at_its_own_cost(planned: Plan) -> None:
    (taken,) = [one for one in planned.considered if one.why_not == ""]
    assert taken.cost == planned.solve.objective
