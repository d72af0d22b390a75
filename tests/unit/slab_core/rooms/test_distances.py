"""Places found again with a tape from two walls."""

from dataclasses import replace
from math import cos, pi, sin

import pytest
from hypothesis import given
from hypothesis import strategies as st

from slab_core.rooms.build import build_rooms
from slab_core.rooms.distances import said_place, wall_distances
from slab_core.rooms.model import Floor, Obstacle, Opening, Ring, Room

ELL: Ring = ((0, 0), (6, 0), (6, 3), (2.5, 3), (2.5, 5), (0, 5))


def floor_of(*rooms: Room) -> Floor:
    return build_rooms(rooms=rooms).floors[0]


@given(st.floats(0.01, 4.99), st.floats(0.01, 3.99))
def test_in_a_rectangle_the_distances_are_to_the_nearer_of_each_pair(x: float, y: float) -> None:
    floor = floor_of(Room(id="r", name="R", outline=((0, 0), (5, 0), (5, 4), (0, 4))))
    distances = wall_distances(floor=floor, at=(x, y))
    assert sorted(d for _, _, d in distances) == pytest.approx(sorted((min(x, 5 - x), min(y, 4 - y))))


def test_walls_are_named_and_the_nearest_comes_first() -> None:
    floor = floor_of(Room(id="r", name="R", outline=ELL))
    assert wall_distances(floor=floor, at=(5.5, 2.0)) == (("r", "2-3", 0.5), ("r", "3-4", 1.0))


def test_a_wall_that_the_place_does_not_face_is_passed_over() -> None:
    floor = floor_of(Room(id="r", name="R", outline=ELL))
    # The line of wall 4-5 is 0.3 m away, but that wall ends at y = 3: squarely the place faces 3-4 and 6-1.
    distances = wall_distances(floor=floor, at=(2.8, 2.8))
    assert [(name, pytest.approx(d)) for _, name, d in distances] == [("3-4", 0.2), ("6-1", 2.8)]


def test_a_tape_does_not_go_through_a_column_or_end_in_a_doorway() -> None:
    column = Obstacle(id="c", kind="column", outline=((0.4, 1.8), (0.6, 1.8), (0.6, 2.2), (0.4, 2.2)))
    opening = Opening(id="d", start=(0.5, 0), end=(1.5, 0))
    room = Room(
        id="r", name="R", outline=((0, 0), (5, 0), (5, 4), (0, 4)), obstacles=(column,), openings=(opening,)
    )
    distances = wall_distances(floor=floor_of(room), at=(1.0, 2.0))
    assert distances == (("r", "3-4", 2.0), ("r", "2-3", 4.0))


def test_a_round_room_still_gives_two_walls() -> None:
    ring = tuple((2 * cos(2 * pi * k / 72), 2 * sin(2 * pi * k / 72)) for k in range(72))
    distances = wall_distances(floor=floor_of(Room(id="r", name="R", outline=ring)), at=(1.0, 0.3))
    assert len(distances) == 2
    assert all(d <= 2 for _, _, d in distances)


def test_a_place_in_a_doorway_is_measured_in_the_nearer_room() -> None:
    den = Room(
        id="den",
        name="Den",
        outline=((0, 0), (5, 0), (5, 4), (0, 4)),
        openings=(Opening(id="a", start=(5, 1), end=(5, 2), to_room="hall"),),
    )
    hall = Room(id="hall", name="Hall", outline=((5.2, 0), (7, 0), (7, 4), (5.2, 4)))
    distances = wall_distances(floor=floor_of(den, hall), at=(5.05, 1.5))
    assert {room for room, _, _ in distances} == {"den"}


def test_a_place_is_said_with_two_tapes_and_with_the_room_where_there_are_more() -> None:
    opening = Opening(id="a", start=(105, 51), end=(105, 52), to_room="hall")
    den = Room(id="den", name="Den", outline=((100, 50), (105, 50), (105, 54), (100, 54)))
    tapes = """3' 3-3/8" (1.00 m) from wall 4-1 and 6' 6-3/4" (2.00 m) from wall 1-2"""
    assert said_place(floor=floor_of(den), at=(101.0, 52.0)) == tapes
    hall = Room(id="hall", name="Hall", outline=((105.2, 50), (107, 50), (107, 54), (105.2, 54)))
    den = replace(den, openings=(opening,))
    assert said_place(floor=floor_of(den, hall), at=(101.0, 52.0)) == f"{tapes} of “Den”"


def test_a_corner_is_said_to_be_at_both_its_walls() -> None:
    den = Room(id="den", name="Den", outline=((0, 0), (5, 0), (5, 4), (0, 4)))
    assert said_place(floor=floor_of(den), at=(5.0, 0.0)) == "at wall 1-2 and at wall 2-3"
