"""Joints that cannot be used are refused with their end named."""

from dataclasses import replace
from math import nan

import pytest

from slab_core.rooms.check import check_rooms
from slab_core.rooms.model import Joint, Point, Ring, Room

L_SHAPE: Ring = ((0.0, 0.0), (6.0, 0.0), (6.0, 2.0), (3.0, 2.0), (3.0, 5.0), (0.0, 5.0))
DEN = Room(id="den", name="Den", outline=L_SHAPE)


def joint(start: Point, end: Point, *, id: str = "j1") -> Joint:
    return Joint(id=id, kind="control", start=start, end=end)


def found(*joints: Joint) -> list[tuple[str, str]]:
    problems = check_rooms(rooms=(replace(DEN, joints=joints),))
    assert all(problem.severity == "refusal" for problem in problems)
    return [(problem.code, problem.pointer) for problem in problems]


def test_joints_from_wall_to_wall_and_on_open_floor_are_taken() -> None:
    assert found(joint((0.0, 1.0), (6.03, 1.0)), joint((1.0, 2.0), (2.0, 4.0), id="j2")) == []


@pytest.mark.parametrize(
    ("start", "end", "code", "pointer"),
    [
        ((0.0, 1.0), (6.2, 1.0), "joint-outside", "/rooms/0/joints/0/end"),
        ((4.0, 3.0), (1.0, 1.0), "joint-outside", "/rooms/0/joints/0/start"),
        ((1.0, 1.0), (1.0, 1.05), "joint-without-length", "/rooms/0/joints/0"),
        ((1.0, 1.0), (1.0, 1.0), "joint-without-length", "/rooms/0/joints/0"),
        ((5.0, 2.0), (3.0, 5.0), "joint-leaves-room", "/rooms/0/joints/0"),
        ((nan, 1.0), (1.0, 1.0), "not-finite", "/rooms/0/joints/0/start/0"),
        ((1.0, 1.0), (1.0, 1e9), "too-far-out", "/rooms/0/joints/0/end/1"),
    ],
)
def test_a_joint_that_is_no_line_in_the_room_is_refused_at_its_place(
    start: Point, end: Point, code: str, pointer: str
) -> None:
    assert found(joint(start, end)) == [(code, pointer)]


def test_the_refusal_says_how_far_outside_an_end_is() -> None:
    (problem,) = check_rooms(rooms=(replace(DEN, joints=(joint((0.0, 1.0), (6.2, 1.0)),)),))
    assert "200.0 mm" in problem.detail
    assert "end of joint “j1”" in problem.detail


def test_a_joint_given_twice_is_refused_whichever_way_round() -> None:
    twice = joint((0.0, 1.0), (6.0, 1.0)), joint((6.0, 1.0), (0.0, 1.0), id="j2")
    assert found(*twice) == [("joint-repeated", "/rooms/0/joints/1")]


def test_two_joints_of_one_name_are_refused() -> None:
    assert found(joint((0.0, 1.0), (6.0, 1.0)), joint((0.0, 1.5), (6.0, 1.5))) == [
        ("joint-id-duplicate", "/rooms/0/joints/1/id")
    ]
