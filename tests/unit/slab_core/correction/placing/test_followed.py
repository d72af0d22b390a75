"""Ways that follow the cheapest heights: by trowel alone where that can be, else poured in part."""

from collections.abc import Callable

import numpy as np

from slab_core.correction.placing.area_prices import with_areas
from slab_core.correction.placing.followed import HAND, PART, weigh_followed
from slab_core.correction.placing.shapes import Shape, Wanted, wanted_demand
from slab_core.correction.placing.weighing import Weighing
from slab_core.correction.task import Task
from slab_core.materials import starter
from slab_core.numerics.budget import Budget
from slab_core.numerics.grid import Floats
from tests.invented_floors import rectangle, work


def _task(height_m: Callable[[Floats, Floats], Floats]) -> Task:
    floor = rectangle(width_m=4.8, length_m=6.0)
    return work(floor=floor, height_m=height_m, columns=48, compound=starter.compound()).task()


def _hollow(
    *, deep_m: float, wide_m: float, times_as_long: float = 1.6
) -> Callable[[Floats, Floats], Floats]:
    return lambda x, y: -deep_m * np.exp(-((x - 2.4) ** 2 + ((y - 3.0) / times_as_long) ** 2) / wide_m**2)


def _weighed(task: Task) -> Weighing:
    weighing = Weighing()
    assert weigh_followed(task=task, weighing=weighing, budget=Budget()) is not None
    assert weighing.best is not None
    return weighing


def test_a_deep_place_wider_than_a_patch_is_trowelled_in_several() -> None:
    """It is filled deeper than a skim over more than one patch may cover, and costs less than any pour."""
    task = _task(_hollow(deep_m=0.0105, wide_m=1.1, times_as_long=4.0))
    best = _weighed(task).best
    assert best is not None
    assert best.name == HAND
    assert not best.poured.any()
    patches = [one for one in best.by_hand if one.method == "patch"]
    assert len(patches) >= 2
    assert sum(one.area_m2 for one in patches) > task.placing.greatest_patch_m2
    assert max(one.area_m2 for one in patches) <= task.placing.greatest_patch_m2 + 1e-9
    assert min(one.area_m2 for one in patches) > 0.05


def test_what_is_too_deep_for_the_trowel_is_poured_in_part() -> None:
    best = _weighed(_task(_hollow(deep_m=0.024, wide_m=1.0))).best
    assert best is not None
    assert best.name == PART
    assert 0 < best.poured.sum() < best.poured.size / 2


def test_nothing_is_poured_where_a_pour_day_alone_costs_more() -> None:
    weighing = _weighed(_task(_hollow(deep_m=0.008, wide_m=0.8)))
    assert set(weighing.kinds) == {HAND}
    assert weighing.least_cost() < starter.rates().pour_day_ph * starter.planning_costs().labour_per_ph


def test_thin_fill_is_dearer_than_deep_fill_of_the_same_volume() -> None:
    task = _task(_hollow(deep_m=0.01, wide_m=1.0))
    nodes = task.case.nodes
    plain = wanted_demand(task=task, wanted=Wanted(fill_price=8.0, greatest_fill_mm=38.0))
    fill = np.where(nodes.x < 2.4, 1.0, 8.0)
    everywhere = np.ones(len(fill), dtype=np.bool_)
    shape = Shape(target_mm=nodes.z_mm + fill, fill=everywhere, grind=~everywhere, cost=0.0)
    for pours in (False, True):
        dearer = with_areas(task=task, shape=shape, demand=plain, pours=pours)
        share = (dearer.fill_weight / plain.fill_weight)[nodes.inside]
        assert share[nodes.x < 2.0].min() > 1.5 * share[nodes.x > 2.8].max()
