"""Ways weighed against each other: what was not checked is not said to fail."""

import numpy as np

from slab_core.correction.placing.placed import Placed, place
from slab_core.correction.placing.weighing import Weighing
from slab_core.correction.task import Task
from slab_core.stages import CHEAPEST, PLANE
from tests.unit.slab_core.correction.placing.test_placement import wavy


def _filled(task: Task, *, mm: float) -> Placed:
    """The whole slab under so much fill: it departs from the rules as it did."""
    fill = np.full(len(task.case.nodes.z_mm), round(mm * 100), dtype=np.int32)
    return place(
        name="",
        task=task,
        grind=np.zeros_like(fill),
        fill=fill,
        poured=fill > 0,
        by_hand=(),
        whole_field=True,
    )


def test_a_dearer_way_is_said_to_be_unchecked_and_a_cheaper_one_that_breaks_a_rule_to_fail() -> None:
    task = wavy().task()
    cheap, dear = _filled(task, mm=8.0), _filled(task, mm=20.0)
    weighing = Weighing(beat=(cheap.cost + dear.cost) / 2.0)
    weighing.offer(cheap, kind="cheap")
    weighing.offer(dear, kind="dear")
    weighing.tell(cheap, kind="one of many")
    weighing.offer(None, kind="too deep")
    told = {one.name: one for one in weighing.considered()}
    assert [told[name].passes for name in ("cheap", "dear", "one of many", "too deep")] == [
        False,
        None,
        None,
        False,
    ]
    assert "the floor would still depart" in told["cheap"].why_not
    assert told["dear"].why_not == "costs more, so it was not checked against the rules"
    assert "costs more" not in told["one of many"].why_not


def test_a_field_on_a_plane_is_not_said_to_fail_where_the_plane_passes_at_the_same_cost() -> None:
    job = wavy()
    plane = job.plan(PLANE)
    assert plane.passes
    (on_a_plane,) = [one for one in job.plan(CHEAPEST).considered if one.name == "on a plane"]
    assert on_a_plane.passes is None
    assert on_a_plane.cost is not None
    assert abs(on_a_plane.cost - plane.solve.objective) < 0.01 * plane.solve.objective
