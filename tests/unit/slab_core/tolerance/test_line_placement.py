"""Where sample lines lie, by the rules of ASTM E1155 as public copies give them."""

from dataclasses import replace

import numpy as np

from slab_core.rooms.model import Floor, Joint, Point
from slab_core.surveys.model import Profile
from slab_core.tolerance.line_placement import line_directions_deg, misplacements
from tests.slabs import rectangle

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
