"""F-numbers of the parts between construction joints, against the least local ones of a class."""

from dataclasses import replace

import numpy as np
import pytest

from slab_core.numerics.budget import Budget
from slab_core.rooms.model import Floor, Joint
from slab_core.surveys.model import Profile
from slab_core.tolerance.classes import BY_CODE
from slab_core.tolerance.model import FNumbers, Rule, ToleranceReport, ToleranceSpec
from slab_core.tolerance.report import report
from tests.slabs import rectangle
from tests.surfaces import known_surface

CONVENTIONAL = BY_CODE["concrete-conventional-f-numbers"].f_numbers
SPEC = ToleranceSpec(
    rules=(Rule(length_m=3.048, gap_m=0.02),),
    f_numbers=(20.0, 15.0),
    f_numbers_class=CONVENTIONAL,
)


def _floor(*kinds: str) -> Floor:
    """12 by 20 m, with a joint of each kind across at y = 10 m, drawn a centimetre short of a wall."""
    whole = rectangle(12.0, 20.0)
    joints = tuple(
        Joint(id=kind, kind=kind, start=(0.0, 10.0), end=(11.99, 10.0))  # type: ignore[arg-type]  # both kinds
        for kind in kinds
    )
    return replace(whole, rooms=(replace(whole.rooms[0], joints=joints),))


def _line(name: str, y: float, wave_m: float) -> Profile:
    heights = wave_m * np.sin(2.0 * np.arange(30.0))
    return Profile(id=name, start=(1.0, y), end=(9.84, y), spacing_m=0.3048, height_m=heights)


SMOOTH = (_line("a", 2.0, 0.0002), _line("b", 4.0, 0.0002), _line("c", 6.0, 0.0002))
ROUGH = _line("d", 14.0, 0.0017)


def _report(floor: Floor, *lines: Profile) -> ToleranceReport:
    surface = known_surface(floor=floor, height=lambda x, y: np.asarray(0.0 * x * y))
    return report(floor=floor, surface=surface, profiles=lines, spec=SPEC, budget=Budget())


def _numbers(found: ToleranceReport) -> FNumbers:
    assert found.f_numbers is not None
    return found.f_numbers


def test_a_part_below_three_fifths_keeps_a_floor_from_the_class_that_it_reaches_as_a_whole() -> None:
    found = _report(_floor("construction"), *SMOOTH, ROUGH)
    numbers = _numbers(found)
    assert numbers.ff > 20.0
    assert [section.lines for section in numbers.sections] == [("a", "b", "c"), ("d",)]
    assert numbers.sections[1].ff < 12.0
    assert not found.passes
    assert found.verdict == found.f_numbers_verdict == "measure-more"  # four lines are no full test
    details = [problem.detail for problem in found.problems if problem.code == "f-numbers-not-met"]
    assert len(details) == 1
    assert "line d" in details[0]
    assert "FF 12 and FL 9" in details[0]


@pytest.mark.parametrize("kinds", [(), ("control",)])
def test_a_floor_without_a_construction_joint_is_one_section(kinds: tuple[str, ...]) -> None:
    found = _report(_floor(*kinds), *SMOOTH, ROUGH)
    assert _numbers(found).sections == ()
    assert found.passes
    assert found.f_numbers_class == CONVENTIONAL


def test_a_part_without_a_line_is_named() -> None:
    numbers = _numbers(_report(_floor("construction"), *SMOOTH))
    assert len(numbers.sections) == 1
    assert "no line in 1 of 2 parts between construction joints" in numbers.notes
