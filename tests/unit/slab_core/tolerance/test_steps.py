"""Steps at declared joints in the tolerance report."""

from dataclasses import replace

import numpy as np
import pytest

from slab_core.numerics.budget import Budget
from slab_core.rooms.model import Joint
from slab_core.surface.fit import fit_surface
from slab_core.surface.model import SurfaceOptions
from slab_core.tolerance.model import Rule, ToleranceReport, ToleranceSpec
from slab_core.tolerance.report import report
from tests.slabs import Slab, places_beside_joint, read_slab, rectangle

STEP_M = 0.005
RULE = Rule(length_m=1.0, gap_m=0.003)


def _report(*, declared: bool) -> ToleranceReport:
    rng = np.random.default_rng(0)
    floor = rectangle(3.0, 4.0)
    slab = Slab(floor=floor, height=lambda x, y: np.asarray(0.1 + STEP_M * (x < 1.5) + 0.0 * y))
    seen = read_slab(slab=slab, places=places_beside_joint(rng=rng), rng=rng, sd_m=0.0003)
    if declared:
        joint = Joint(id="cut", kind="control", start=(1.5, 0.0), end=(1.5, 4.0))
        floor = replace(floor, rooms=(replace(floor.rooms[0], joints=(joint,)),))
    surface = fit_surface(
        floor=floor, observations=seen, options=SurfaceOptions(grid_step_m=0.05), budget=Budget()
    )
    spec = ToleranceSpec(rules=(RULE,))
    return report(floor=floor, surface=surface, profiles=(), spec=spec, budget=Budget())


def test_a_step_is_reported_with_its_height_side_and_place_by_two_walls() -> None:
    (step,) = _report(declared=True).steps
    assert (step.room, step.joint, step.higher) == ("A", "cut", "left")
    assert step.height_m == pytest.approx(STEP_M, abs=0.0008)
    assert 0.0 < step.sd_m < 0.001
    assert step.at[0] == pytest.approx(1.5)
    assert {wall.wall for wall in step.walls} <= {"1-2", "2-3", "3-4", "4-1"}
    assert 1.5 in [pytest.approx(wall.distance_m) for wall in step.walls]


def test_an_edge_across_the_joint_shows_its_step() -> None:
    # On two level slabs an edge lies on the lip and on the low slab, as long as it overhangs least:
    # the gap at the foot of the lip comes near the step's own height.
    (rule,) = _report(declared=True).rules
    assert not rule.passes
    assert rule.largest_m > 0.8 * STEP_M
    assert rule.worst[0].at[0] == pytest.approx(1.5, abs=0.11)


def test_a_floor_without_joints_has_no_steps() -> None:
    assert _report(declared=False).steps == ()
