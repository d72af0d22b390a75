"""A hall with doors at many heights, each of which is met."""

import numpy as np

from slab_core.correction.ramps_model import DoorWays
from tests.invented_floors import Work, build_up_m, door, rectangle, work
from tests.unit.slab_core.correction.ramps.rooms_with_doors import HALF_M, finished


def hall(misses_mm: tuple[float, ...]) -> Work:
    """A dished floor with doors along both long sides, each so much above the rim."""
    doors = []
    for k, miss in enumerate(misses_mm):
        x, y = 5.0 * (k % 2), 0.4 + 1.9 * (k // 2)
        finished = build_up_m() + miss * 1e-3
        ends = {"start": (x, y), "end": (x, y + 0.8)}
        doors.append(door(id=f"d{k}", **ends, low_m=finished - HALF_M, high_m=finished + HALF_M))
    floor = rectangle(width_m=5.0, length_m=10.0, openings=tuple(doors))
    return work(
        floor=floor,
        height_m=lambda x, y: -7e-3 * np.sin(np.pi * x / 5.0) * np.sin(np.pi * y / 10.0),
        columns=26,
        doorways=DoorWays(),
    )


def test_a_floor_with_many_doors_at_many_heights_gets_a_plan_that_meets_each() -> None:
    case = hall((0.0, 7.0, -4.0, 3.0, 5.0, -6.0, 2.0, -3.0, -8.0, 6.0))
    plan = case.plan()
    assert plan.passes, plan.problems
    assert plan.solve.bound <= plan.solve.objective
    height = finished(case, plan)
    changed = {work.opening: work for work in plan.doorways}
    assert len(changed) >= 5
    ys, step = case.surface.grid.ys(), case.surface.grid.step_m
    for room_door in case.floor.rooms[0].openings:
        assert room_door.threshold is not None
        low, high = room_door.threshold.low_m, room_door.threshold.high_m
        if room_door.id in changed:
            low, high = changed[room_door.id].low_m, changed[room_door.id].high_m
        column = 0 if room_door.start[0] == 0.0 else -1
        beside = (ys >= room_door.start[1] - step / 2) & (ys <= room_door.end[1] + step / 2)
        there = height[beside, column] + build_up_m()
        # Beside the door's very line a ramp or a tilt makes a little of a step's way.
        assert there.min() >= low - 0.01 * step
        assert there.max() <= high + 0.01 * step


def test_of_many_doors_the_words_say_that_not_all_choices_were_weighed() -> None:
    many, few = hall((9.0, -7.0, 8.0, -9.0)).plan(), hall((9.0, 0.0, 0.0, 0.0)).plan()
    assert len(many.doorways) > 2
    assert all("were weighed, not all" in work.why for work in many.doorways)
    assert few.doorways
    assert not any("not all" in work.why for work in few.doorways)
