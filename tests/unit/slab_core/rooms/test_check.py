"""Rooms that cannot be computed with are refused with the place named."""

from dataclasses import replace
from math import cos, nan, pi, sin

import pytest
from hypothesis import given
from hypothesis import strategies as st

from slab_core.rooms.check import check_rooms
from slab_core.rooms.model import KeepOut, Obstacle, Opening, Ring, Room, Threshold

SQUARE: Ring = ((0.0, 0.0), (5.0, 0.0), (5.0, 4.0), (0.0, 4.0))
DEN = Room(id="den", name="Den", outline=SQUARE)


def at(x: float, y: float, *, outline: Ring = SQUARE) -> Ring:
    return tuple((px + x, py + y) for px, py in outline)


def block(x: float, y: float, size: float = 0.5) -> Ring:
    return ((x, y), (x + size, y), (x + size, y + size), (x, y + size))


def door(start: tuple[float, float], end: tuple[float, float], **more: object) -> Opening:
    return Opening(id="d1", start=start, end=end, **more)  # type: ignore[arg-type] # a test's short hand


def found(*rooms: Room) -> set[tuple[str, str]]:
    problems = check_rooms(rooms=rooms)
    assert all(problem.severity == "refusal" for problem in problems)
    return {(problem.code, problem.pointer) for problem in problems}


def detail(*rooms: Room) -> str:
    return " | ".join(problem.detail for problem in check_rooms(rooms=rooms))


def test_a_sound_room_has_no_problems_either_way_round() -> None:
    whole = replace(
        DEN,
        holes=(block(1, 1),),
        obstacles=(Obstacle(id="hearth", kind="hearth", outline=block(-0.005, 2)),),
        openings=(door((1, 0.04), (2, -0.04), threshold=Threshold(low_m=0.01, high_m=0.01)),),
    )
    assert found(whole) == set()
    assert found(replace(whole, outline=SQUARE[::-1])) == set()


@pytest.mark.parametrize(
    ("outline", "code", "pointer"),
    [
        ((), "too-few-vertices", ""),
        (SQUARE[:2], "too-few-vertices", ""),
        ((*SQUARE, SQUARE[0]), "repeated-vertex", "/4"),
        ((*SQUARE[:2], SQUARE[1], *SQUARE[2:]), "repeated-vertex", "/2"),
        ((*SQUARE[:2], (5.0, 0.0005), *SQUARE[2:]), "repeated-vertex", "/2"),
        (((0, 0), (5, nan), (5, 4)), "not-finite", "/1/1"),
        (((0, 0), (5, 0), (2e5, 4)), "too-far-out", "/2/0"),
        (((0, 0), (5, 0), (7, 0), (5, 0.001), (5, 4), (0, 4)), "spike", "/2"),
        (((0, 0), (5, 0), (3, 0), (3, 4), (0, 4)), "spike", "/1"),
        (((0, 0), (5, 0), (0, 4), (5, 4)), "self-crossing", "/3"),
        (((0, 0), (5, 0), (5, 4), (2, 0), (0, 4)), "self-crossing", "/2"),
        (at(0, 0, outline=((0, 0), (600, 0), (600, 4), (0, 4))), "room-size-absurd", ""),
        (at(0, 0, outline=((0, 0), (0.2, 0), (0.2, 4), (0, 4))), "room-size-absurd", ""),
    ],
)
def test_an_unsound_outline_is_refused_with_the_vertex_named(outline: Ring, code: str, pointer: str) -> None:
    assert (code, f"/rooms/0/outline{pointer}") in found(replace(DEN, outline=outline))


def test_a_crossing_outline_is_refused_with_both_edges_named() -> None:
    text = detail(replace(DEN, outline=((0, 0), (5, 0), (0, 4), (5, 4))))
    assert "edge 2-3" in text
    assert "edge 4-1" in text
    assert "(2.500, 2.000) m" in text


def test_an_outline_drawn_as_a_circle_is_sound() -> None:
    ring = tuple((3 * cos(2 * pi * k / 360), 3 * sin(2 * pi * k / 360)) for k in range(360))
    assert found(replace(DEN, outline=ring)) == set()


@pytest.mark.parametrize(
    ("hole", "code", "pointer"),
    [
        (block(6, 1), "hole-outside", "/0"),
        (block(4.8, 1), "hole-outside", "/1"),
        (block(1, 1)[:2], "too-few-vertices", ""),
        ((*block(1, 1), (1.0, 1.0)), "repeated-vertex", "/4"),
    ],
)
def test_an_unsound_hole_is_refused(hole: Ring, code: str, pointer: str) -> None:
    assert found(replace(DEN, holes=(hole,))) == {(code, f"/rooms/0/holes/0{pointer}")}


def test_a_hole_whose_edge_alone_leaves_the_room_is_refused_with_the_edge() -> None:
    ell = ((0, 0), (5, 0), (5, 1), (1, 1), (1, 4), (0, 4))
    hole = ((0.5, 0.5), (4.5, 0.5), (0.5, 3.5))
    assert found(replace(DEN, outline=ell, holes=(hole,))) == {("hole-crossing", "/rooms/0/holes/0/1")}


def test_obstacles_outside_or_over_each_other_are_refused() -> None:
    column = Obstacle(id="c1", kind="column", outline=block(4.7, 1))
    island = Obstacle(id="i", kind="island", outline=block(1, 1, 1.0))
    other = Obstacle(id="c2", kind="column", outline=block(1.5, 1.5, 1.0))
    assert found(replace(DEN, obstacles=(column, island, other))) == {
        ("obstacle-outside", "/rooms/0/obstacles/0/outline/1"),
        ("obstacle-overlapping", "/rooms/0/obstacles/2/outline"),
    }


@pytest.mark.parametrize(
    ("opening", "code", "pointer"),
    [
        (door((1, 0), (2, 0.06)), "opening-off-outline", "/end"),
        (door((4.5, 0), (5, 0.5)), "opening-off-outline", ""),
        (door((1, 0), (1.04, 0)), "opening-without-length", ""),
        (door((1, 0), (nan, 0)), "not-finite", "/end/0"),
        (
            door((1, 0), (2, 0), threshold=Threshold(low_m=0.02, high_m=0.01)),
            "threshold-reversed",
            "/threshold",
        ),
        (
            door((1, 0), (2, 0), threshold=Threshold(low_m=nan, high_m=0.01)),
            "threshold-not-a-height",
            "/threshold/low",
        ),
        (door((1, 0), (2, 0), to_room="attic"), "opening-to-unknown-room", "/to_room"),
        (door((1, 0), (2, 0), to_room="den"), "opening-to-itself", "/to_room"),
    ],
)
def test_an_unsound_opening_is_refused(opening: Opening, code: str, pointer: str) -> None:
    assert found(replace(DEN, openings=(opening,))) == {(code, f"/rooms/0/openings/0{pointer}")}


def test_a_second_obstacle_of_the_same_name_is_refused() -> None:
    twice = (
        Obstacle(id="c", kind="column", outline=block(1, 1)),
        Obstacle(id="c", kind="column", outline=block(3, 1)),
    )
    assert found(replace(DEN, obstacles=twice)) == {("obstacle-id-duplicate", "/rooms/0/obstacles/1/id")}


def test_an_opening_may_lie_on_the_border_of_a_hole_and_a_room_in_the_hole() -> None:
    den = replace(DEN, holes=(block(1, 1, 2.0),), openings=(door((1.5, 1), (2.3, 1), to_room="bath"),))
    assert found(den, Room(id="bath", name="Bath", outline=block(1.1, 1.1, 1.8))) == set()
    assert found(den, Room(id="bath", name="Bath", outline=block(1.1, 1.1, 2.2))) == {
        ("rooms-overlapping", "/rooms/1/outline")
    }


def test_a_second_opening_of_the_same_name_is_refused() -> None:
    twice = (door((1, 0), (2, 0)), door((3, 0), (4, 0)))
    assert found(replace(DEN, openings=twice)) == {("opening-id-duplicate", "/rooms/0/openings/1/id")}


def test_a_joined_room_behind_a_wall_of_half_a_metre_passes_and_farther_is_refused() -> None:
    den = replace(DEN, openings=(door((5, 1), (5, 2), to_room="hall"),))
    near = Room(id="hall", name="Hall", outline=at(5.5, 0))
    assert found(den, near) == set()
    away = replace(near, outline=at(5.6, 0))
    assert found(den, away) == {("joined-rooms-apart", "/rooms/0/openings/0/to_room")}


def test_rooms_may_share_a_wall_but_not_floor() -> None:
    hall = Room(id="hall", name="Hall", outline=at(5, 0))
    assert found(DEN, hall) == set()
    assert found(DEN, replace(hall, outline=at(4.99, 0))) == set()
    assert found(DEN, replace(hall, outline=at(4.9, 0))) == {("rooms-overlapping", "/rooms/1/outline")}
    assert found(DEN, replace(hall, outline=at(1, 1, outline=block(0, 0, 1.0)))) == {
        ("rooms-overlapping", "/rooms/1/outline")
    }


def test_ids_of_rooms_are_unique_and_not_reserved() -> None:
    rooms = (DEN, replace(DEN, outline=at(9, 0)), replace(DEN, id="job", outline=at(20, 0)))
    assert found(*rooms) == {("room-id-duplicate", "/rooms/1/id"), ("room-id-reserved", "/rooms/2/id")}


def test_a_job_without_rooms_and_a_phase_below_one_are_refused() -> None:
    assert found() == {("no-rooms", "/rooms")}
    assert found(replace(DEN, phase=0)) == {("phase-below-one", "/rooms/0/phase")}


def test_every_problem_is_reported_at_once() -> None:
    bad = replace(DEN, id="bad", outline=at(10, 0, outline=((0, 0), (5, 0), (0, 4), (5, 4))))
    off = replace(DEN, openings=(door((1, 1), (2, 1)),), phase=0)
    assert {code for code, _ in found(bad, off)} == {
        "self-crossing",
        "opening-off-outline",
        "phase-below-one",
    }


@given(st.permutations(list(range(7))))
def test_a_heptagon_in_any_other_order_of_its_vertices_is_refused(
    order: list[int],
) -> None:
    ring = tuple((3 * cos(2 * pi * k / 7), 3 * sin(2 * pi * k / 7)) for k in order)
    steps = {(b - a) % 7 for a, b in zip(order, order[1:] + order[:1], strict=True)}
    problems = found(replace(DEN, outline=ring))
    assert (problems == set()) == (steps in ({1}, {6}))
    assert {code for code, _ in problems} <= {"self-crossing"}


def test_keep_out_zones_lie_in_their_room_and_may_overlap_each_other_and_what_stands_on_them() -> None:
    post = Obstacle(id="post", kind="column", outline=block(2, 2))
    pipes = KeepOut(id="pipes", reason="heating-pipes", outline=block(1.8, 1.8, 1.0))
    drain = KeepOut(id="drain", reason="outlet", outline=block(2.2, 2.2), fills=False)
    assert found(replace(DEN, obstacles=(post,), keep_outs=(pipes, drain))) == set()
    out = replace(drain, outline=block(4.8, 1.0))
    beyond = "vertex 2 of keep-out zone “drain”"
    assert found(replace(DEN, keep_outs=(pipes, out))) == {
        ("keep-out-outside", "/rooms/0/keep_outs/1/outline/1")
    }
    assert beyond in detail(replace(DEN, keep_outs=(pipes, out)))
    twice = replace(DEN, keep_outs=(pipes, replace(drain, id="pipes")))
    assert found(twice) == {("keep-out-id-duplicate", "/rooms/0/keep_outs/1/id")}
    flat = replace(pipes, outline=((1, 1), (2, 2)))
    assert found(replace(DEN, keep_outs=(flat,))) == {("too-few-vertices", "/rooms/0/keep_outs/0/outline")}


def test_an_opening_on_a_hearth_is_told_that_the_hearth_takes_a_threshold() -> None:
    hearth = Obstacle(id="hearth", kind="hearth", outline=block(1, 0))
    room = replace(DEN, obstacles=(hearth,), openings=(door((1, 0.5), (1.5, 0.5)),))
    assert "obstacle “hearth” take a height by a threshold of its own" in detail(room)
    assert "by a threshold" not in detail(replace(room, obstacles=()))
    unsound = replace(hearth, outline=((1, 0),))
    assert ("too-few-vertices", "/rooms/0/obstacles/0/outline") in found(replace(room, obstacles=(unsound,)))
