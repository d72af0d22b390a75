"""A compound whose greatest lift is less than twice its least is poured in one lift or not at all."""

from dataclasses import replace

import numpy as np
import pytest

from slab_core.correction.model import Limits, Plan
from slab_core.correction.one_lift import greatest_fill_m, is_one_lift, one_lift_told
from slab_core.materials.model import Compound
from slab_core.numerics.grid import Floats
from slab_core.stages import CHEAPEST, PLANE
from tests.invented_floors import LIFTED, door, rectangle, work

THICK = replace(LIFTED, name="Thick", least_lift_m=0.006, greatest_lift_m=0.010)
"""11 mm would be two lifts of 5.5, each below its least."""


def _bowl(x: Floats, y: Floats) -> Floats:
    return np.asarray(-0.013 * np.exp(-((x - 3.0) ** 2 + (y - 2.5) ** 2) / 1.2**2))


def _plan(compound: Compound, *, alternate: str = PLANE, limits: Limits = Limits()) -> Plan:
    floor = rectangle(width_m=6.0, length_m=5.0)
    return work(floor=floor, height_m=_bowl, columns=60, compound=compound, limits=limits).plan(alternate)


@pytest.mark.parametrize("alternate", [PLANE, CHEAPEST])
def test_no_pour_is_deeper_than_the_greatest_lift_or_thinner_than_the_least(alternate: str) -> None:
    plan = _plan(THICK, alternate=alternate)
    assert plan.passes
    assert plan.pours
    assert max(pour.greatest_depth_m for pour in plan.pours) <= 0.010 + 1e-9
    assert {pour.lift for pour in plan.pours} == {1}
    poured = plan.fill[plan.bays > 0] if plan.bays is not None else plan.fill[plan.fill > 0]
    assert poured.min() >= 600


def test_what_holds_the_fill_is_told_beside_a_plan_that_pours() -> None:
    (problem,) = [one for one in _plan(THICK).problems if one.code == "one-lift-only"]
    for part in (
        "floor floor-1",
        "“Thick”",
        "10.0 mm",
        "6.0 mm",
        "38.1 mm",
        "neither in one lift nor in two",
    ):
        assert part in problem.detail


def test_nothing_is_told_where_the_limits_allow_no_more_anyway_or_nothing_is_poured() -> None:
    low = Limits(greatest_fill_m=0.010)
    assert not one_lift_told(compound=THICK, limits=low, bags=9, subject="")
    assert not one_lift_told(compound=THICK, limits=Limits(), bags=0, subject="")
    assert one_lift_told(compound=THICK, limits=Limits(), bags=9, subject="")
    assert not one_lift_told(compound=LIFTED, limits=Limits(), bags=9, subject="")


def test_where_one_lift_does_not_do_the_refusal_says_that_it_is_the_compounds() -> None:
    (problem,) = _plan(THICK, limits=Limits(no_grinding=True)).problems
    assert (problem.code, problem.severity) == ("limits-unmeetable", "refusal")
    assert "one lift of “Thick”: two would each be thinner than its least" in problem.detail
    assert "more of fill" not in problem.detail  # raising the limit changes nothing


def test_a_doorway_above_one_lift_names_the_compound_and_not_a_higher_limit() -> None:
    high = door(id="hall", start=(0.0, 1.0), end=(0.0, 2.0), low_m=0.040, high_m=0.041)
    floor = rectangle(width_m=6.0, length_m=5.0, openings=(high,))
    found = work(floor=floor, height_m=lambda x, y: 0.0 * x, columns=60, compound=THICK).plan().problems
    (problem,) = [one for one in found if one.code == "threshold-unmeetable"]
    assert "one lift of “Thick”" in problem.detail
    assert "more of fill" not in problem.detail


@pytest.mark.parametrize(
    ("least_m", "greatest_m", "feather", "alone"),
    [(0.006, 0.010, False, True), (0.005, 0.010, False, False), (0.003175, 0.00635, False, False),
     (0.006, 0.010, True, False), (0.006, 0.030, False, False)],
)  # fmt: skip
def test_twice_the_least_is_enough_for_two_lifts_and_a_feather_always_is(
    least_m: float, greatest_m: float, feather: bool, alone: bool
) -> None:
    compound = replace(LIFTED, least_lift_m=least_m, greatest_lift_m=greatest_m, featheredge=feather)
    assert is_one_lift(compound) is alone
    assert greatest_fill_m(compound=compound, limits=Limits()) == (greatest_m if alone else 0.0381)
