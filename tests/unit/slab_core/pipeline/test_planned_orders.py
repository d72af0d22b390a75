"""What is done to a floor follows what was found on it."""

from dataclasses import replace

import numpy as np

from slab_core.numerics.grid import Floats
from slab_core.pipeline.line import run
from slab_core.stages import PLANE
from slab_core.tolerance.classes import BY_CODE
from slab_core.tolerance.model import ToleranceSpec
from tests.sample_jobs import one_room_job


def _dish(x: Floats, y: Floats) -> Floats:
    """Metres: 13 mm deep over 3 m."""
    return np.asarray(0.006 * (x - 1.5) ** 2 + 0.0 * y)


def test_a_plan_keeps_the_rules_of_the_class_that_its_floor_has_room_for() -> None:
    spec = ToleranceSpec(rules=BY_CODE["din-18202-row-3"].rules)
    room = one_room_job(width_m=3.0, depth_m=2.5, count=60, tolerance=spec, truth=_dish)
    job = replace(room, alternates=(PLANE,))
    line = run(job=job)
    found, plan = line.models["tolerance", "studio", ""], line.models["correction", "studio", PLANE]
    assert not found.passes
    assert plan.passes
    assert [after.rule for after in plan.after] == [rule.rule for rule in found.rules]
    assert max(after.rule.length_m for after in plan.after) < 4.0
