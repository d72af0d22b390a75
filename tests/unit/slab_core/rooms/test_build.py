"""Rooms joined into floors: areas, walls and doorways against figures worked out by hand."""

from dataclasses import replace
from math import cos, hypot, pi, sin

import pytest
from hypothesis import given
from hypothesis import strategies as st

from slab_core.errors import InputRefused
from slab_core.rooms.build import build_rooms
from slab_core.rooms.geometry import floor_polygon, room_polygon, walls
from slab_core.rooms.model import Obstacle, Opening, Point, Ring, Room


def box(x0: float, y0: float, x1: float, y1: float) -> Ring:
    return ((x0, y0), (x1, y0), (x1, y1), (x0, y1))


def shoelace(ring: Ring) -> float:
    pairs = zip(ring, ring[1:] + ring[:1], strict=True)
    return sum(ax * by - bx * ay for (ax, ay), (bx, by) in pairs) / 2


DEN = Room(id="den", name="Den", outline=box(0, 0, 5, 4))
HALL = Room(id="hall", name="Hall", outline=box(5.2, 0, 7, 4), phase=2)
INTO_HALL = Opening(id="a", start=(5, 1), end=(5, 2), to_room="hall")
INTO_DEN = Opening(id="b", start=(5.2, 2), end=(5.2, 1), to_room="den")


def test_one_room_is_one_floor_counter_clockwise_whichever_way_it_was_drawn() -> None:
    (floor,) = build_rooms(rooms=(replace(DEN, outline=DEN.outline[::-1]),)).floors
    assert (floor.id, floor.shell, floor.gaps) == ("den", box(0, 0, 5, 4), ())
    assert (floor.area_m2, floor.wall_m) == (20.0, 18.0)


@pytest.mark.parametrize("openings", [(True, True), (True, False), (False, True)])
def test_a_doorway_between_two_faces_of_a_wall_is_floor(openings: tuple[bool, bool]) -> None:
    den = replace(DEN, openings=(INTO_HALL,) if openings[0] else ())
    hall = replace(HALL, openings=(INTO_DEN,) if openings[1] else ())
    (floor,) = build_rooms(rooms=(hall, den)).floors
    assert floor.area_m2 == pytest.approx(20 + 7.2 + 0.2 * 1.0, abs=1e-9)
    assert floor.wall_m == pytest.approx(18 + 11.6 - sum(openings), abs=1e-9)
    assert [(room.id, room.phase) for room in floor.rooms] == [("den", 1), ("hall", 2)]
    assert len(floor.shell) == 12


def test_openings_that_do_not_quite_face_each_other_meet_by_their_own_ends() -> None:
    hall = replace(HALL, openings=(replace(INTO_DEN, start=(5.2, 2.1), end=(5.2, 1.1)),))
    (floor,) = build_rooms(rooms=(replace(DEN, openings=(INTO_HALL,)), hall)).floors
    # The passage is the hull of both: 1 m on each face, 0.1 m askew; each way also from its other side.
    assert 27.4 - 1e-9 <= floor.area_m2 <= 27.4 + 0.1 * 0.2 + 1e-9


@pytest.mark.parametrize("shift", [0.0, 0.003, -0.003, 0.02, -0.015])
def test_rooms_measured_along_one_wall_line_join_in_spite_of_small_misfits(shift: float) -> None:
    hall = replace(HALL, outline=box(5 + shift, 0, 7, 4))
    (floor,) = build_rooms(rooms=(replace(DEN, openings=(INTO_HALL,)), hall)).floors
    assert floor.area_m2 == pytest.approx(28 - (shift * 3 if shift > 0 else 0), abs=1e-6)


def test_a_doorway_into_a_narrower_room_does_not_grow_past_its_walls() -> None:
    hall = replace(HALL, outline=box(5.2, 1.2, 7, 1.8))
    (floor,) = build_rooms(rooms=(replace(DEN, openings=(INTO_HALL,)), hall)).floors
    assert floor.area_m2 == pytest.approx(20 + 1.8 * 0.6 + 0.2 * 0.8, abs=0.055 * 0.2 * 2)


def test_rooms_without_a_way_between_them_are_floors_of_their_own_in_order_of_id() -> None:
    rooms = build_rooms(rooms=(HALL, DEN))
    assert [floor.id for floor in rooms.floors] == ["den", "hall"]


def test_four_rooms_around_a_core_make_one_floor_with_a_gap() -> None:
    def way(name: str, start: Point, end: Point) -> tuple[Opening, ...]:
        return (Opening(id="w", start=start, end=end, to_room=name),)

    rooms = (
        Room(id="s", name="S", outline=box(0, 0, 6, 2), openings=way("e", (4.5, 2), (5.5, 2))),
        Room(id="e", name="E", outline=box(4, 2, 6, 6), openings=way("n", (4.5, 6), (5.5, 6))),
        Room(id="n", name="N", outline=box(0, 6, 6, 8), openings=way("w", (0.5, 6), (1.5, 6))),
        Room(id="w", name="W", outline=box(0, 2, 2, 6), openings=way("s", (0.5, 2), (1.5, 2))),
    )
    (floor,) = build_rooms(rooms=rooms).floors
    assert (floor.id, len(floor.rooms)) == ("e", 4)
    assert floor.area_m2 == pytest.approx(6 * 8 - 2 * 4)
    assert [abs(shoelace(gap)) for gap in floor.gaps] == [pytest.approx(8.0)]


def test_a_room_inside_the_hole_of_another_joins_it_through_its_door() -> None:
    door = Opening(id="d", start=(2, 1), end=(2.8, 1), to_room="bath")
    den = replace(DEN, holes=(box(1, 1, 3, 3),), openings=(door,))
    bath = Room(id="bath", name="Bath", outline=box(1.1, 1.1, 2.9, 2.9))
    (floor,) = build_rooms(rooms=(den, bath)).floors
    assert floor.area_m2 == pytest.approx(20 - 4 + 1.8**2 + 0.1 * 0.8)
    assert floor.wall_m == pytest.approx(18 + 8 - 0.8 + 4 * 1.8)


@given(st.floats(0, 6.3), st.floats(0.0, 0.5), st.floats(0.1, 3.0), st.floats(0.3, 0.9))
def test_two_rooms_and_their_doorway_have_one_area_however_the_plan_lies(
    turn: float, wall: float, low: float, width: float
) -> None:
    def turned(*points: Point) -> Ring:
        return tuple((x * cos(turn) - y * sin(turn), x * sin(turn) + y * cos(turn)) for x, y in points)

    start, end = turned((5, low), (5, low + width))
    door = Opening(id="d", start=start, end=end, to_room="hall")
    den = Room(id="den", name="Den", outline=turned(*box(0, 0, 5, 4)), openings=(door,))
    hall = Room(id="hall", name="Hall", outline=turned(*box(5 + wall, 0, 9, 4)))
    (floor,) = build_rooms(rooms=(den, hall)).floors
    assert floor.area_m2 == pytest.approx(20 + (4 - wall) * 4 + wall * width, abs=1e-6)
    assert floor.wall_m == pytest.approx(18 - width + 2 * (8 - wall), abs=1e-6)


def test_holes_and_obstacles_are_not_floor_and_a_hearth_hides_its_wall() -> None:
    hearth = Obstacle(id="h", kind="hearth", outline=box(0, 1, 0.6, 2.8))
    column = Obstacle(id="c", kind="column", outline=box(2, 2, 2.4, 2.4))
    room = replace(DEN, holes=(box(3, 1, 4, 2),), obstacles=(hearth, column))
    (floor,) = build_rooms(rooms=(room,)).floors
    assert floor.area_m2 == pytest.approx(20 - 1 - 0.6 * 1.8 - 0.16)
    assert len(floor.gaps) == 2
    assert floor.wall_m == pytest.approx(18 - 1.8 + 4)
    assert room_polygon(room).area == pytest.approx(floor.area_m2)
    assert floor_polygon(floor).area == pytest.approx(floor.area_m2)


def test_a_hearth_a_hair_off_its_wall_leaves_no_sliver_of_floor_behind_it() -> None:
    blocks = Obstacle(id="h", kind="hearth", outline=box(0.005, 0, 0.6, 4))
    (floor,) = build_rooms(rooms=(replace(DEN, obstacles=(blocks,)),)).floors
    assert floor.area_m2 == pytest.approx(4.4 * 4)


def test_a_floor_cut_into_parts_is_refused() -> None:
    island = Obstacle(id="i", kind="island", outline=box(2, 0, 2.5, 4))
    with pytest.raises(InputRefused) as refused:
        build_rooms(rooms=(replace(DEN, obstacles=(island,)),))
    (problem,) = refused.value.problems
    assert (problem.code, problem.pointer) == ("floor-in-parts", "/rooms/0")
    assert "8.00 m², 10.00 m²" in problem.detail


def test_building_refuses_with_every_problem_of_the_check() -> None:
    with pytest.raises(InputRefused) as refused:
        build_rooms(rooms=(replace(DEN, outline=DEN.outline[:2]), replace(HALL, phase=0)))
    assert [p.code for p in refused.value.problems] == ["too-few-vertices", "phase-below-one"]


def test_openings_wider_than_one_edge_and_on_top_of_each_other_are_taken_off_once() -> None:
    outline = ((0, 0), (2, 0), (5, 0), (5, 4), (0, 4))
    openings = (
        Opening(id="a", start=(1, 0), end=(3, 0)),
        Opening(id="b", start=(3.5, 0), end=(2.5, 0)),
    )
    (floor,) = build_rooms(rooms=(replace(DEN, outline=outline, openings=openings),)).floors
    assert floor.wall_m == pytest.approx(18 - 2.5)


def test_walls_are_named_by_room_and_vertices_from_one() -> None:
    (floor,) = build_rooms(rooms=(DEN,)).floors
    assert [name for _, name, _, _ in walls(floor)] == ["1-2", "2-3", "3-4", "4-1"]
    assert walls(floor)[3] == ("den", "4-1", (0, 4), (0, 0))


@given(st.lists(st.floats(1.0, 9.0), min_size=3, max_size=12), st.floats(-50, 50), st.booleans())
def test_area_and_wall_of_any_star_shape_are_those_of_its_vertices(
    radii: list[float], shift: float, reverse: bool
) -> None:
    n = len(radii)
    ring = tuple(
        (shift + r * cos(2 * pi * k / n), r * sin(2 * pi * k / n) - shift) for k, r in enumerate(radii)
    )
    try:
        (floor,) = build_rooms(rooms=(replace(DEN, outline=ring[::-1] if reverse else ring),)).floors
    except InputRefused as refused:
        # Very unequal neighbours may make a needle: the only thing a star shape can be refused for.
        assert {p.code for p in refused.problems} <= {"spike", "room-size-absurd"}  # noqa: PT017 # rare way out
        return
    pairs = list(zip(ring, ring[1:] + ring[:1], strict=True))
    assert floor.area_m2 == pytest.approx(shoelace(ring), rel=1e-12)
    assert floor.wall_m == pytest.approx(sum(hypot(b[0] - a[0], b[1] - a[1]) for a, b in pairs), rel=1e-12)
    assert shoelace(floor.shell) > 0


@given(st.permutations([0, 1, 2]))
def test_the_order_of_posting_changes_nothing(order: list[int]) -> None:
    den = replace(DEN, openings=(INTO_HALL,))
    rooms = (den, HALL, Room(id="attic", name="Attic", outline=box(20, 0, 24, 3)))
    built = build_rooms(rooms=tuple(rooms[i] for i in order))
    assert built == build_rooms(rooms=rooms)
