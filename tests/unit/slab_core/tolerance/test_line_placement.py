"""Where sample lines lie, by the rules of ASTM E1155 as public copies give them."""

from dataclasses import replace
from math import cos, radians, sin

import numpy as np
import pytest

from slab_core.rooms.model import Floor, Joint, Point
from slab_core.surveys.model import Profile
from slab_core.tolerance.line_placement import line_directions_deg, misplacements
from tests.slabs import floor_of, rectangle

NARROW, WIDE = rectangle(6.0, 12.0), rectangle(10.0, 14.0)


def _line(name: str, start: Point, end: Point) -> Profile:
    return Profile(id=name, start=start, end=end, spacing_m=0.3048, height_m=np.zeros(15))


def test_lines_at_45_degrees_in_a_narrow_section_are_well_laid() -> None:
    lines = (_line("a", (1.0, 1.0), (5.0, 5.0)), _line("b", (5.0, 6.0), (1.0, 10.0)))
    assert misplacements(floor=NARROW, profiles=lines) == ()
    assert line_directions_deg(NARROW) == (135.0, 225.0)


def test_lines_along_the_walls_of_a_narrow_section_are_named() -> None:
    (found,) = misplacements(floor=NARROW, profiles=(_line("a", (3.0, 1.0), (3.0, 9.0)),))
    assert found == "not at 45° in a section narrower than 25 ft: line a"


@pytest.mark.parametrize("degrees", [0.0, 45.0])
def test_a_narrow_hall_wants_lines_at_45_degrees_to_its_walls_however_it_is_turned(degrees: float) -> None:
    def turned(at: Point) -> Point:
        c, s = cos(radians(degrees)), sin(radians(degrees))
        return at[0] * c - at[1] * s, at[0] * s + at[1] * c

    hall = floor_of(shell=tuple(turned(at) for at in rectangle(3.0, 12.0).shell))
    lines = (_line("a", turned((1.5, 1.0)), turned((1.5, 10.0))),)
    assert misplacements(floor=hall, profiles=lines) == (
        "not at 45° in a section narrower than 25 ft: line a",
    )
    assert (line_directions_deg(hall)[0] - degrees) % 90.0 == pytest.approx(45.0)


def test_a_room_of_two_narrow_arms_is_narrow() -> None:
    arms = floor_of(shell=((0, 0), (9, 0), (9, 3), (3, 3), (3, 9), (0, 9)))
    lines = (_line("a", (1.0, 1.5), (7.0, 1.5)), _line("b", (1.5, 2.8), (1.5, 8.0)))
    assert misplacements(floor=arms, profiles=lines) == (
        "not at 45° in a section narrower than 25 ft: lines a, b",
    )


def test_equal_lengths_along_and_across_a_wide_section_are_well_laid() -> None:
    along, across = _line("a", (2.0, 2.0), (2.0, 8.0)), _line("b", (3.0, 9.0), (9.0, 9.0))
    assert misplacements(floor=WIDE, profiles=(along, across)) == ()
    (found,) = misplacements(floor=WIDE, profiles=(along,))
    assert found == "6.0 m of line along the longest side and 0.0 m across it"


def test_lines_near_walls_and_near_each_other_are_named() -> None:
    lines = (
        _line("a", (0.5, 2.0), (0.5, 8.0)),
        _line("b", (1.5, 2.0), (1.5, 8.0)),
        _line("c", (3.0, 9.0), (9.0, 9.0)),
        _line("d", (3.0, 11.0), (9.0, 11.0)),
    )
    near, close = misplacements(floor=WIDE, profiles=lines)
    assert near == "nearer than 2 ft to a wall or an edge: line a"
    assert close == "parallel lines nearer than 4 ft to each other: a and b"


def test_a_line_across_a_construction_joint_is_named_and_across_a_control_joint_is_not() -> None:
    def jointed(kind: str) -> Floor:
        joint = Joint(id="j", kind=kind, start=(0.0, 5.0), end=(10.0, 5.0))  # type: ignore[arg-type]  # both kinds
        return replace(WIDE, rooms=(replace(WIDE.rooms[0], joints=(joint,)),))

    lines = (_line("a", (2.0, 2.0), (2.0, 8.0)), _line("b", (3.0, 9.0), (9.0, 9.0)))
    (found,) = misplacements(floor=jointed("construction"), profiles=lines)
    assert found == "across the construction joint j: line a"
    assert misplacements(floor=jointed("control"), profiles=lines) == ()
