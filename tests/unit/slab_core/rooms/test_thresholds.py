"""Where the finished floor has a range of heights: at doorways and along sides of obstacles."""

from dataclasses import replace

import pytest

from slab_core.rooms.check import check_rooms
from slab_core.rooms.model import Obstacle, Opening, Ring, Room, Threshold
from slab_core.rooms.thresholds import threshold_lines

RANGE = Threshold(low_m=0.01, high_m=0.012, transition="none")
DEN = Room(id="den", name="Den", outline=((0, 0), (5, 0), (5, 4), (0, 4)))


def box(x0: float, y0: float, x1: float, y1: float) -> Ring:
    return ((x0, y0), (x1, y0), (x1, y1), (x0, y1))


def hearth(outline: Ring, *, id: str = "hearth", threshold: Threshold | None = RANGE) -> Obstacle:
    return Obstacle(id=id, kind="hearth", outline=outline, threshold=threshold)


def test_a_hearth_at_a_wall_is_met_at_its_front_and_both_sides() -> None:
    lines = threshold_lines(replace(DEN, obstacles=(hearth(box(1, -0.005, 3, 0.6)),)))
    assert [one.line for one in lines] == [
        ((3, -0.005), (3, 0.6)),
        ((3, 0.6), (1, 0.6)),
        ((1, 0.6), (1, -0.005)),
    ]
    assert {(one.id, one.pointer, one.is_door) for one in lines} == {
        ("hearth", "obstacles/0/threshold", False)
    }


def test_a_side_is_met_where_nothing_else_stands_against_it() -> None:
    island, box_beside = box(1, 1, 3, 2), box(1, 2.01, 2, 3)
    room = replace(DEN, obstacles=(hearth(box_beside, id="box", threshold=None), hearth(island)))
    back = [one.line for one in threshold_lines(room) if one.line[0][1] == one.line[1][1] == 2]
    ((start, end),) = back
    assert start == pytest.approx((3.0, 2.0))
    assert end == pytest.approx((2.0, 2.0))


def test_doorways_come_first_and_what_has_no_threshold_is_no_line() -> None:
    door = Opening(id="door", start=(0, 1), end=(0, 2), threshold=RANGE)
    plain = replace(door, id="plain", threshold=None)
    room = replace(DEN, openings=(plain, door), obstacles=(hearth(box(2, 1, 3, 2), threshold=None),))
    (line,) = threshold_lines(room)
    assert (line.id, line.pointer, line.is_door) == ("door", "openings/1/threshold", True)


def test_a_range_of_an_obstacle_that_is_none_is_refused_with_its_place() -> None:
    high = hearth(box(2, 1, 3, 2), threshold=replace(RANGE, low_m=0.02))
    (problem,) = check_rooms(rooms=(replace(DEN, obstacles=(high,)),))
    assert (problem.code, problem.pointer) == ("threshold-reversed", "/rooms/0/obstacles/0/threshold")
    assert "obstacle “hearth”" in problem.detail
