"""The width of a floor as a test section."""

from math import cos, radians, sin

import pytest

from slab_core.rooms.model import Point, Ring
from slab_core.tolerance.line_placement import NARROW_M
from slab_core.tolerance.section import width_m
from tests.slabs import floor_of, rectangle


def _turned(ring: Ring, degrees: float) -> Ring:
    def turn(at: Point) -> Point:
        c, s = cos(radians(degrees)), sin(radians(degrees))
        return at[0] * c - at[1] * s, at[0] * s + at[1] * c

    return tuple(turn(at) for at in ring)


def _l_shape(*, side_m: float, arm_m: float) -> Ring:
    return ((0, 0), (side_m, 0), (side_m, arm_m), (arm_m, arm_m), (arm_m, side_m), (0, side_m))


@pytest.mark.parametrize("degrees", [0.0, 17.0, 45.0])
def test_a_rectangle_is_as_wide_as_its_shorter_side_however_it_is_turned(degrees: float) -> None:
    hall = floor_of(shell=_turned(rectangle(3.0, 12.0).shell, degrees))
    assert width_m(hall) == pytest.approx(3.0)


@pytest.mark.parametrize("degrees", [0.0, 30.0])
@pytest.mark.parametrize("arm_m", [3.0, 7.0])
def test_an_l_is_as_wide_as_its_arms(arm_m: float, degrees: float) -> None:
    room = floor_of(shell=_turned(_l_shape(side_m=15.0, arm_m=arm_m), degrees))
    assert width_m(room) == pytest.approx(arm_m)


def test_a_room_of_exactly_25_ft_in_the_standards_metres_is_not_narrower() -> None:
    assert width_m(floor_of(shell=_turned(rectangle(7.5, 9.0).shell, 33.0))) == NARROW_M


def test_a_column_in_the_middle_makes_no_section_narrower() -> None:
    column = ((4.8, 4.8), (4.8, 5.2), (5.2, 5.2), (5.2, 4.8))
    whole = rectangle(10.0, 10.0)
    assert width_m(floor_of(shell=whole.shell, gaps=(column,))) == pytest.approx(10.0)
