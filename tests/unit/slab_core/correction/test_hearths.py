"""Obstacles whose sides the finished floor has to meet, as a hearth."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from slab_core.correction.model import Plan
from slab_core.correction.ramps_model import DoorWays
from slab_core.correction.thresholds import between
from slab_core.numerics.grid import Floats
from slab_core.rooms.build import build_rooms
from slab_core.rooms.model import Obstacle, Room, Threshold
from slab_core.rooms.thresholds import threshold_lines
from slab_core.stages import CHEAPEST, FILL_ONLY, LEVEL, PLANE
from slab_core.surface.area import nodes_inside
from tests.invented_floors import Work, build_up_m, door, work

HEARTH = ((1.2, 0.0), (2.4, 0.0), (2.4, 0.6), (1.2, 0.6))
HAIR_M = 2e-5


def slab(x: Floats, y: Floats) -> Floats:
    """A hollow of 7 mm in the middle of the room."""
    return np.asarray(-7e-3 * np.exp(-((x - 1.8) ** 2 + (y - 2.6) ** 2) / 0.7))


def job(low_m: float | None, high_m: float = 0.0, *, north_m: float | None = None, **changes: object) -> Work:
    """A room whose hearth takes the slab between two heights along its sides; with a door in its north."""
    threshold = None
    if low_m is not None:
        threshold = Threshold(low_m=low_m + build_up_m(), high_m=high_m + build_up_m(), transition="none")
    hearth = Obstacle(id="hearth", kind="hearth", outline=HEARTH, threshold=threshold)
    low = None if north_m is None else build_up_m() + north_m
    north = (
        ()
        if low is None
        else (door(id="north", start=(1.5, 4.5), end=(2.4, 4.5), low_m=low - 5e-4, high_m=low + 5e-4),)
    )
    ring = ((0.0, 0.0), (3.6, 0.0), (3.6, 4.5), (0.0, 4.5))
    room = Room(id="room-1", name="Room", outline=ring, obstacles=(hearth,), openings=north)
    (floor,) = build_rooms(rooms=(room,)).floors
    made = work(floor=floor, height_m=slab, columns=36, **changes)
    inside = nodes_inside(floor=floor, grid=made.surface.grid)
    return replace(made, surface=replace(made.surface, inside=inside))


@cache
def made(alternate: str, low_m: float | None, high_m: float = 0.0) -> Plan:
    return job(low_m, high_m).plan(alternate)


def beside(plan: Plan, one: Work) -> Floats:
    """What the corrected slab lies at, in m, along the sides of the hearth: on the floor a step off them."""
    heights = (one.surface.height - plan.grind + plan.fill) * 1e-5
    step, found = plan.grid.step_m, []
    for held in threshold_lines(one.floor.rooms[0]):
        (x0, y0), (x1, y1) = held.line
        share = np.linspace(0.0, 1.0, 25)
        size = float(np.hypot(x1 - x0, y1 - y0))
        out_x, out_y = (y1 - y0) / size * step, -(x1 - x0) / size * step
        x, y = x0 + share * (x1 - x0) + out_x, y0 + share * (y1 - y0) + out_y
        found.append(between(values=heights, grid=plan.grid, x=x, y=np.maximum(y, 0.0)))
    return np.concatenate(found)


@pytest.mark.parametrize("alternate", [PLANE, LEVEL, FILL_ONLY, CHEAPEST])
def test_the_floor_meets_a_hearth_along_all_its_sides(alternate: str) -> None:
    low_m, high_m = 0.004, 0.006
    one = job(low_m, high_m)
    free, kept = made(alternate, None), made(alternate, low_m, high_m)
    assert beside(free, one).max() < low_m - 0.001
    assert kept.passes
    along = beside(kept, one)
    # Between the hearth and the nodes a step off it a surface falls or rises by no more than this.
    slope_m = 0.0005
    assert along.min() >= low_m - slope_m
    assert along.max() <= high_m + slope_m
    assert kept.solve.objective >= kept.solve.bound > 0.0
    assert kept.fill_m3 > free.fill_m3


def test_a_slab_that_passes_but_misses_its_hearth_is_corrected() -> None:
    flat = replace(job(0.003, 0.004), surface=replace(job(0.0).surface, height=0 * job(0.0).surface.height))
    plan = flat.plan()
    assert flat.report().passes
    assert plan.fill_m3 > 0.0
    assert plan.passes


def test_a_hearth_that_no_plane_meets_is_refused_at_its_own_place() -> None:
    plan = job(-0.030, -0.029).plan()
    (refused,) = [problem for problem in plan.problems if problem.severity == "refusal"]
    assert refused.code == "threshold-unmeetable"
    assert refused.pointer == "/rooms/0/obstacles/0/threshold"
    assert refused.detail.startswith("obstacle hearth: ")
    assert "options.doorways" not in refused.detail


def test_ramps_and_cut_doors_are_for_doorways_and_never_for_a_hearth() -> None:
    plan = job(0.004, 0.006, north_m=0.016, doorways=DoorWays()).plan()
    assert plan.passes
    assert {work.opening for work in plan.doorways} <= {"north"}
    along = beside(plan, job(0.004, 0.006))
    assert along.min() >= 0.0035
    assert along.max() <= 0.0065
    unmet = job(-0.030, -0.029, doorways=DoorWays()).plan()
    assert unmet.solve.status == "infeasible"
