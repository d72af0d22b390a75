"""A pour without pins is offered only where the compound stays as it is poured."""

from dataclasses import replace

import numpy as np
import pytest

from slab_core.correction.placing.free_pour import TWISTED, cannot_be_free
from slab_core.correction.placing.on_surface import near_surface
from slab_core.correction.placing.placed import Placed, poured_free
from slab_core.correction.placing.placement import NEAR
from slab_core.correction.placing.weighing import Weighing
from slab_core.correction.ramps.ramped import Chosen, with_doorways
from slab_core.correction.ramps_model import DoorWays
from slab_core.correction.task import Task
from slab_core.materials.model import Compound
from slab_core.numerics.grid import Floats
from slab_core.stages import CHEAPEST
from slab_core.tolerance.model import Rule
from tests.invented_floors import FEATHERED, FOOT_M, INCH_M, Work, door, rectangle, work

SIDE_M = 6.0
WIDE_RULE = Rule(length_m=10 * FOOT_M, gap_m=3 * INCH_M / 8)
"""So wide that what a free pour is off by fits into it."""


def hollows(*, slope: float, compound: Compound = FEATHERED, deep_m: float = 0.03) -> Work:
    """A floor that falls along x, with two hollows too deep for the trowel, on nodes 200 mm apart, and a
    door on its low side that meets it."""

    def height_m(x: Floats, y: Floats) -> Floats:
        first = np.exp(-((x - 2.0) ** 2 + (y - 2.0) ** 2) / 1.6)
        second = np.exp(-((x - 4.2) ** 2 + (y - 4.4) ** 2) / 1.2)
        return slope * x - deep_m * (first + second)

    opening = door(id="d", start=(0.0, 2.5), end=(0.0, 3.5), low_m=0.0, high_m=0.05)
    floor = rectangle(width_m=SIDE_M, length_m=SIDE_M, openings=(opening,))
    return work(floor=floor, height_m=height_m, columns=30, rules=(WIDE_RULE,), compound=compound)


def poured(task: Task, *, slope: float, twist_mm: float = 0.0, deep_mm: float = 0.0) -> Placed:
    """Everything filled up to the plane that the hollows lie in, and `deep_mm` more, without pins."""
    nodes = task.case.nodes
    placed = near_surface(
        name="",
        task=task,
        height_mm=slope * nodes.x * 1e3 + deep_mm,
        spared_mm=1.0,
        abc_mm=nodes.from_plane((deep_mm * 1e-3, slope, 0.0)),
        twist_mm=twist_mm,
    )
    assert placed is not None
    assert placed.poured.any()
    return poured_free(placed, task=task)


def refusal(*, slope: float) -> str:
    """Why such a pour is not taken when it is offered."""
    weighing = Weighing()
    found = weighing.offer(poured(hollows(slope=slope).task(), slope=slope), kind="free")
    (told,) = weighing.considered()
    assert found.passes == (told.why_not == "")
    return told.why_not


@pytest.mark.parametrize(("slope", "creeps"), [(0.0, False), (0.01, False), (0.011, True), (0.06, True)])
def test_a_free_pour_is_taken_up_to_an_eighth_of_an_inch_in_a_foot_and_not_beyond(
    slope: float, creeps: bool
) -> None:
    assert ("creeps" in refusal(slope=slope)) == creeps
    assert (refusal(slope=slope) == "") != creeps


def test_what_creeps_is_told_with_its_slope() -> None:
    assert refusal(slope=0.06) == (
        'a free pour creeps on more than 1/8" in a foot; this surface falls 18.3 mm in a foot'
    )


def test_a_twisted_surface_is_never_poured_free() -> None:
    assert cannot_be_free(poured(hollows(slope=0.0).task(), slope=0.0, twist_mm=0.5)) == TWISTED


def test_a_ramp_adds_to_the_slope_of_what_is_poured() -> None:
    """Two falls of 1/160 in the same direction come to more than 1/96, against each other to nothing."""
    job, slope = hollows(slope=1 / 160, deep_m=0.0), 1 / 160
    ramp = Chosen(door=0, way="ramp", length_m=6 * FOOT_M, rise_m=6 * FOOT_M / 160)
    for rise_m, creeps in ((-ramp.rise_m, True), (ramp.rise_m, False)):
        chosen = (replace(ramp, rise_m=rise_m),)
        task = with_doorways(task=job.task(), ways=DoorWays(), chosen=chosen)
        assert task is not None
        assert ("creeps" in cannot_be_free(poured(task, slope=slope, deep_mm=16.0))) == creeps


def test_a_pour_so_thin_that_a_bag_would_run_farther_than_it_heals_is_not_free() -> None:
    """A bag of 12.7 L at a mean depth of some 8 mm covers a circle of about 0.7 m around the bucket."""
    reaches, stops = (replace(FEATHERED, heals_radius_m=radius_m) for radius_m in (3 * FOOT_M, 2 * FOOT_M))
    assert cannot_be_free(poured(hollows(slope=0.0, compound=reaches).task(), slope=0.0)) == ""
    why = cannot_be_free(poured(hollows(slope=0.0, compound=stops).task(), slope=0.0))
    assert "2' 0\" around the bucket" in why


@pytest.mark.parametrize("slope", [0.0, 0.02])
def test_the_cheapest_floor_says_why_it_is_not_poured_free(slope: float) -> None:
    plan = hollows(slope=slope).plan(CHEAPEST)
    assert plan.passes
    (free,) = [one for one in plan.considered if one.name == f"{NEAR}, poured free"]
    assert ("creeps" in free.why_not) == (slope > 1 / 96)
    if slope > 1 / 96:
        assert not any(pour.method == "free" for pour in plan.pours)
