"""What is done for a doorway runs out gently, and costs what a crew takes for it."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from slab_core.correction.model import Plan
from slab_core.correction.placing.followed import HAND
from slab_core.correction.placing.placed import place
from slab_core.correction.placing.run_out import LIP_MM, run_out_mm
from slab_core.correction.placing.weighing import STEEP, Weighing
from slab_core.correction.ramps.ramped import Chosen, with_doorways
from slab_core.correction.ramps_model import DoorWays
from slab_core.correction.task import Task
from slab_core.materials import starter
from slab_core.numerics.grid import Floats, Mask, to_metres
from slab_core.stages import CHEAPEST
from tests.invented_floors import FOOT_M, INCH_M, Work, build_up_m, door, rectangle, work

WIDE_M, LONG_M, STEP_M = 3.6, 4.0, 0.05
LEFT_M, RIGHT_M = 1.0, 1.9
HALF_M = INCH_M / 32
PER_MM = INCH_M / 8 / FOOT_M
"""1/8 in in a foot."""


def flat(x: Floats, y: Floats) -> Floats:
    return 0.0 * x


def room(
    rise_mm: float,
    slab: Callable[[Floats, Floats], Floats] = flat,
    *,
    right_m: float = RIGHT_M,
    **changes: object,
) -> Work:
    """A room whose one door is flush with a floor `rise_mm` higher than where the slab is 0."""
    at_m = rise_mm * 1e-3 + build_up_m()
    opening = door(id="d", start=(LEFT_M, 0.0), end=(right_m, 0.0), low_m=at_m - HALF_M, high_m=at_m + HALF_M)
    return work(
        floor=rectangle(width_m=WIDE_M, length_m=LONG_M, openings=(opening,)),
        height_m=slab,
        columns=72,
        compound=starter.compound(),
        **changes,
    )


def finished_mm(job: Work, plan: Plan) -> Floats:
    return to_metres(job.surface.height - plan.grind + plan.fill) * 1e3


def steepest(mm: Floats) -> float:
    """The steepest fall over a foot along the rows and columns of nodes, so that a lip counts little."""
    foot = round(FOOT_M / STEP_M)
    return max(float(np.abs(mm[foot:] - mm[:-foot]).max()), float(np.abs(mm[:, foot:] - mm[:, :-foot]).max()))


@pytest.mark.parametrize("rise_mm", [2.0, 4.0, 5.0, 6.0, -2.0, -4.0])
def test_a_door_higher_or_lower_than_a_flat_slab_is_met_over_a_foot_for_each_eighth(rise_mm: float) -> None:
    job = room(rise_mm)
    plan = job.plan(CHEAPEST)
    mm = finished_mm(job, plan)
    assert plan.passes
    assert mm[0, 20:38] == pytest.approx(rise_mm, abs=HALF_M * 1e3 + 0.02)
    assert steepest(mm) <= INCH_M / 8 * 1e3 + LIP_MM
    assert np.abs(np.diff(mm, axis=0)).max() <= PER_MM * STEP_M * 1e3 + LIP_MM


@pytest.mark.parametrize(
    ("rise_mm", "most_m2", "least_cost", "most_cost"),
    [(4.0, 0.8, 80.0, 140.0), (5.0, 2.5, 80.0, 160.0), (6.0, 3.0, 80.0, 160.0)],
)
def test_a_threshold_some_millimetres_higher_costs_a_visit_and_a_bag_of_patch_and_no_pour(
    rise_mm: float, most_m2: float, least_cost: float, most_cost: float
) -> None:
    """A doorway 0.9 m wide that 3 to 5 mm are feathered to: a bag, and an hour or two with the set-up."""
    plan = room(rise_mm).plan(CHEAPEST)
    assert plan.passes
    assert plan.pour_days == 0
    assert plan.bags == 1
    assert 0.2 < plan.fill_m2 < most_m2
    assert least_cost < plan.solve.objective < most_cost


def test_a_narrow_door_that_asks_for_hardly_more_than_a_skim_is_patched_and_not_poured() -> None:
    plan = room(4.3, right_m=LEFT_M + 0.5).plan(CHEAPEST)
    assert plan.passes
    assert plan.pour_days == 0


def test_fill_that_only_stands_beside_a_door_is_turned_away() -> None:
    """Two rows of nodes filled, and nothing beyond: 3.2 mm in one node."""
    task = room(4.0).task()
    nodes = task.case.nodes
    beside = (nodes.y < 1.5 * STEP_M) & (nodes.x > LEFT_M - 0.08) & (nodes.x < RIGHT_M + 0.08)
    ledge = place(
        name=HAND,
        task=task,
        grind=np.zeros(len(nodes.x), dtype=np.int32),
        fill=np.where(beside, 321, 0).astype(np.int32),
        poured=np.zeros_like(beside),
        by_hand=(),
    )
    weighing = Weighing()
    assert not weighing.offer(ledge, kind=HAND).passes
    assert [one.why_not for one in weighing.considered()] == [STEEP]


def limits_at(task: Task, *, y_m: float) -> tuple[float, float]:
    """Lowest and highest heights in mm so far in front of the middle of the door."""
    nodes = task.case.nodes
    n = int(np.argmin(np.hypot(nodes.x - 1.45, nodes.y - y_m)))
    lowest, highest = run_out_mm(task=task, doors=task.doors)
    return float(lowest[n]), float(highest[n])


def test_a_slab_that_drops_beyond_a_door_that_it_meets_may_stay_as_it_is() -> None:
    """A wall band 5 mm high, a foot wide, meets the door: nothing has to be filled beyond it."""
    job = room(5.0, lambda x, y: 0.005 * (y < FOOT_M) + 0.0 * x)
    lowest, _ = limits_at(job.task(), y_m=0.4)
    assert lowest <= 0.0


def test_a_slab_that_rises_beyond_a_door_is_not_ground_for_it() -> None:
    """The same door of a slab that is 5 mm higher from a foot on."""
    job = room(0.0, lambda x, y: 0.005 * (y >= FOOT_M) + 0.0 * x)
    _, highest = limits_at(job.task(), y_m=0.4)
    assert highest >= 5.0


def test_a_slab_that_drops_beyond_a_door_above_it_is_filled_as_the_door_is_and_run_out() -> None:
    job = room(5.0, lambda x, y: 0.003 * (y < 0.2) + 0.0 * x)
    asked_mm = 5.0 - HALF_M * 1e3 - 3.0
    lowest, _ = limits_at(job.task(), y_m=0.25)
    assert lowest == pytest.approx(asked_mm - 1e3 * PER_MM * (0.25 - STEP_M), abs=0.05)


def test_fill_beyond_a_door_that_the_slab_meets_rises_no_faster_either() -> None:
    _, highest = limits_at(room(0.0).task(), y_m=0.35)
    assert highest == pytest.approx(HALF_M * 1e3 + 1e3 * PER_MM * (0.35 - STEP_M), abs=0.05)


def test_the_fall_of_the_slab_itself_is_no_run_out() -> None:
    """A garage that falls a quarter of an inch in a foot away from its door asks for nothing."""
    job = room(0.0, lambda x, y: -y / 48 + 0.0 * x)
    task = job.task()
    lowest, highest = run_out_mm(task=task, doors=task.doors)
    z_mm = task.case.nodes.z_mm
    far = task.case.nodes.y > 2 * STEP_M
    assert (lowest <= z_mm)[far].all()
    assert (highest >= z_mm)[far].all()


def test_no_doorway_is_held_behind_a_wall_or_beyond_six_feet() -> None:
    task = room(4.0).task()
    lowest, _ = run_out_mm(task=task, doors=task.doors)
    nodes = task.case.nodes
    away = np.hypot(nodes.x - np.clip(nodes.x, LEFT_M, RIGHT_M), nodes.y)
    assert np.array_equal(np.isfinite(lowest), away <= 6 * FOOT_M)
    walled = replace(
        task, floor=replace(task.floor, gaps=(((0.0, 0.4), (3.0, 0.4), (3.0, 0.5), (0.0, 0.5)),))
    )
    lowest, _ = run_out_mm(task=walled, doors=task.doors)
    behind: Mask = (nodes.y > 0.5) & (nodes.x < 1.5)
    assert not np.isfinite(lowest[behind]).any()


def test_a_ramp_may_always_be_made_and_nothing_on_it_is_steeper() -> None:
    """A ramp of 4 ft up by half an inch, as steep as ramps may be: with what is filled on it no more."""
    ramp = Chosen(door=0, way="ramp", length_m=4 * FOOT_M, rise_m=INCH_M / 2)
    task = with_doorways(task=room(14.0).task(), ways=DoorWays(), chosen=(ramp,))
    assert task is not None
    assert task.ramped is not None
    lift_mm, nodes = task.ramped.lift * 1e-2, task.case.nodes
    lowest, highest = run_out_mm(task=task, doors=task.doors)
    low, high = task.doors[0].low_m * 1e3, task.doors[0].high_m * 1e3
    assert (lowest <= low + 1e-9).all()
    assert (highest >= high - 1e-9).all()
    front = (np.abs(nodes.x - 1.45) < STEP_M / 2) & (nodes.y > 2 * STEP_M) & (nodes.y < 4 * FOOT_M)
    top = (highest + lift_mm)[front] - (high + lift_mm.max())
    assert (top <= 1e3 * PER_MM * nodes.y[front] + 0.05).all()
