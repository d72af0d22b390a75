"""Refusals of the cheapest floor: what they say would do does, and it is no plane that they speak of."""

import re
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from slab_core.correction.model import Limits, Plan
from slab_core.errors import Problem
from slab_core.materials import starter
from slab_core.numerics.grid import Floats
from slab_core.stages import CHEAPEST, PLANE
from tests.invented_floors import build_up_m, door, rectangle, work

WIDE_M, LONG_M = 4.0, 5.0
SHOWN_MM = 25.4 / 32


def bowl(x: Floats, y: Floats) -> Floats:
    """30 mm deep, so far from flat that planes need much more than other ways."""
    return np.asarray(-0.03 * np.exp(-((x - 2.0) ** 2 + (y - 2.0) ** 2) / 1.2))


def level(x: Floats, y: Floats) -> Floats:
    return 0.0 * x


def planned(
    limits: Limits,
    *,
    doors: tuple[tuple[float, float, float], ...] = (),
    height_m: Callable[[Floats, Floats], Floats] = bowl,
    alternate: str = CHEAPEST,
) -> Plan:
    """`doors` are (y, lowest and highest finished height), each a metre wide at the wall there."""
    openings = tuple(
        door(id=f"d{k}", start=(1.0, y), end=(2.0, y), low_m=low, high_m=high)
        for k, (y, low, high) in enumerate(doors)
    )
    floor = rectangle(width_m=WIDE_M, length_m=LONG_M, openings=openings)
    slab = work(floor=floor, height_m=height_m, columns=40, compound=starter.compound(), limits=limits)
    return slab.plan(alternate)


def only_refusal(plan: Plan) -> Problem:
    (problem,) = [one for one in plan.problems if one.severity == "refusal"]
    return problem


def told_mm(problem: Problem, what: str) -> float:
    """How much more the words ask for, as a tape shows it."""
    found = re.search(rf"\(([\d.]+) mm\) {what}", problem.detail)
    assert found is not None
    return float(found[1])


@pytest.mark.parametrize("fill_m", [0.005, 0.020])
def test_so_much_more_fill_or_grinding_as_is_told_does(fill_m: float) -> None:
    limits = Limits(greatest_grind_m=0.002, greatest_fill_m=fill_m)
    refusal = only_refusal(planned(limits))
    assert refusal.code == "limits-unmeetable"
    fill = replace(limits, greatest_fill_m=fill_m + told_mm(refusal, "more of fill") * 1e-3)
    grinding = replace(limits, greatest_grind_m=0.002 + told_mm(refusal, "more of grinding") * 1e-3)
    assert planned(fill).passes
    assert planned(grinding).passes


def test_where_a_hair_more_fill_does_no_more_than_a_few_steps_of_the_tape_are_told() -> None:
    limits = Limits(greatest_grind_m=0.002, greatest_fill_m=0.0215)
    assert planned(replace(limits, greatest_fill_m=0.0225)).passes
    of_planes, refusal = only_refusal(planned(limits, alternate=PLANE)), only_refusal(planned(limits))
    assert told_mm(of_planes, "more of either") > 6.0
    assert told_mm(refusal, "more of fill") <= 2 * SHOWN_MM + 0.1
    assert "plane" not in refusal.detail


def test_a_doorway_that_no_way_of_placing_meets_is_told_with_what_would_do() -> None:
    low_m = -0.02 + build_up_m()
    asked = (0.0, low_m, low_m + 0.01)
    refusal = only_refusal(planned(Limits(), doors=(asked,), height_m=level))
    assert refusal.code == "threshold-unmeetable"
    assert refusal.pointer == "/rooms/0/openings/0/threshold"
    assert "plane" not in refusal.detail
    more = told_mm(refusal, "more of grinding") * 1e-3
    deeper = Limits(greatest_grind_m=Limits().greatest_grind_m + more)
    assert planned(deeper, doors=(asked,), height_m=level).passes
    wider = told_mm(refusal, "further at the doorways") * 1e-3
    reaching = (0.0, low_m - wider, low_m + 0.01 + wider)
    assert planned(Limits(), doors=(reaching,), height_m=level).passes


def test_of_two_doorways_the_one_that_can_be_met_is_not_blamed() -> None:
    met, too_high = (0.0, 0.02, 0.022), (LONG_M, 0.06, 0.062)
    refusal = only_refusal(planned(Limits(), doors=(met, too_high), height_m=level))
    assert refusal.pointer == "/rooms/0/openings/1/threshold"
    assert refusal.detail.startswith("opening d1: the finished floor must lie between")


def test_grinding_that_is_forbidden_is_not_said_to_do() -> None:
    refusal = only_refusal(planned(Limits(no_grinding=True, greatest_fill_m=0.005)))
    assert "more of grinding" not in refusal.detail
    assert "this slab may not be ground" in refusal.detail
