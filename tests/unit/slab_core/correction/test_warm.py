"""What is compiled before the fork is what a plan uses."""

from slab_core.correction import kernels
from slab_core.correction.warm import warm
from tests.invented_floors import INCH_M, rectangle, trough, work


def compiled() -> list[int]:
    loops = (kernels.relaxed_cost, kernels.extremes, kernels.classify, kernels.add_up)
    return [len(loop.signatures) for loop in loops]


def test_a_plan_compiles_nothing_that_warming_has_not() -> None:
    warm()
    before = compiled()
    floor = rectangle(width_m=3.0, length_m=4.0)
    work(floor=floor, height_m=trough(width_m=3.0, depth_m=INCH_M / 2), columns=30).plan()
    assert compiled() == before
    assert all(count == 1 for count in before)
