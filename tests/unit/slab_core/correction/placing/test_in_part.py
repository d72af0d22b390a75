"""Parts poured to pins: in strips of their own or together, small ones trowelled where that costs less."""

import numpy as np
import pytest

from slab_core.correction.placing.depths import Depths
from slab_core.correction.placing.in_part import fitted_again, thrifty, with_pours
from slab_core.correction.placing.mended import Mender
from slab_core.correction.placing.pinned import Strips
from slab_core.correction.placing.spots import Draft, placed_of
from slab_core.correction.task import Task
from slab_core.correction.unit_costs import SCREED_BAY_M
from slab_core.materials import starter
from slab_core.numerics.budget import Budget
from slab_core.numerics.grid import Floats
from tests.invented_floors import rectangle, work

HOLLOWS = ((1.2, 1.4, 0.9, 18.0), (3.6, 1.5, 0.8, 16.0), (2.4, 4.6, 0.4, 5.5))
"""x, y, radius in m and depth in mm."""


def _deep(x: Floats, y: Floats) -> Floats:
    bowls = [d * np.maximum(0.0, 1.0 - ((x - a) ** 2 + (y - b) ** 2) / r**2) for a, b, r, d in HOLLOWS]
    return np.asarray(np.max(bowls, axis=0))


@pytest.fixture(scope="module")
def task() -> Task:
    return work(
        floor=rectangle(width_m=4.8, length_m=6.0),
        height_m=lambda x, y: -1e-3 * _deep(x, y),
        columns=48,
        compound=starter.compound(),
    ).task()


def _depths(task: Task) -> Depths:
    """Everything filled to the height of the slab around."""
    nodes = task.case.nodes
    fill = _deep(nodes.x, nodes.y)
    return Depths(fill_mm=fill, grind_mm=np.zeros_like(fill), target_mm=nodes.z_mm + fill)


def _draft(task: Task, *, together: bool) -> Draft:
    draft = with_pours(task=task, depths=_depths(task), bay_m=SCREED_BAY_M, together=together)
    assert draft is not None
    return draft


def test_what_is_too_deep_for_the_trowel_is_poured_and_small_places_are_not(task: Task) -> None:
    draft, nodes = _draft(task, together=False), task.case.nodes
    small = np.hypot(nodes.x - HOLLOWS[2][0], nodes.y - HOLLOWS[2][1]) < HOLLOWS[2][2]
    assert draft.poured[_deep(nodes.x, nodes.y) > task.placing.greatest_depth_mm].all()
    assert not draft.poured[small].any()
    assert len(draft.pours) == 2


def test_pours_together_have_strips_in_common_and_round_up_fewer_bags(task: Task) -> None:
    apart, together = (_draft(task, together=way) for way in (False, True))
    one, other = (placed_of(name="", task=task, draft=draft) for draft in (apart, together))
    assert one is not None
    assert other is not None
    assert len(together.pours) == 1
    spare = [float(way.work.quantities.bags - way.work.quantities.unrounded_bags) for way in (one, other)]
    strips = [int((way.work.bags > 0).sum()) for way in (one, other)]
    assert all(left <= count for left, count in zip(spare, strips, strict=True))
    assert strips[1] <= 2


def test_together_says_nothing_of_a_single_pour(task: Task) -> None:
    depths = _depths(task)
    near = task.case.nodes.x < 2.3
    alone = Depths(
        fill_mm=np.where(near, depths.fill_mm, 0.0), grind_mm=depths.grind_mm, target_mm=depths.target_mm
    )
    assert with_pours(task=task, depths=alone, bay_m=SCREED_BAY_M, together=True) is None


def test_a_small_pour_is_trowelled_where_that_costs_less_and_no_height_changes(task: Task) -> None:
    """A hollow of half a bag that was poured: its whole bag and its border cost more than a patch."""
    nodes = task.case.nodes
    draft = _draft(task, together=False)
    small = (np.hypot(nodes.x - HOLLOWS[2][0], nodes.y - HOLLOWS[2][1]) < 0.3) & (draft.depths.fill_mm > 3.5)
    bounds = np.array([nodes.x[small].min(), nodes.x[small].max()])
    pours = (*draft.pours, Strips(where=small, bounds_m=bounds))
    poured = Draft(depths=draft.depths, poured=draft.poured | small, pours=pours)
    thrift = thrifty(task=task, draft=poured)
    costs = [placed_of(name="", task=task, draft=one) for one in (poured, thrift)]
    assert costs[0] is not None
    assert costs[1] is not None
    assert not thrift.poured[small].any()
    assert (thrift.poured == draft.poured).all()
    assert costs[1].cost < costs[0].cost
    assert (thrift.depths.fill_mm == poured.depths.fill_mm).all()


def test_pins_fitted_again_break_the_rule_by_less(task: Task) -> None:
    mender = Mender(task=task, budget=Budget())
    depths, nodes = _depths(task), task.case.nodes
    proud = Depths(
        fill_mm=depths.fill_mm, grind_mm=depths.grind_mm, target_mm=nodes.z_mm + depths.fill_mm + 6.0
    )
    first = with_pours(task=task, depths=proud, bay_m=SCREED_BAY_M, together=False)
    assert first is not None
    again = fitted_again(task=task, draft=first, mender=mender, bay_m=SCREED_BAY_M)

    def worst_mm(draft: Draft) -> float:
        height = np.zeros(nodes.inside.shape)
        height[nodes.inside] = nodes.z_mm + draft.depths.fill_mm
        return max(float(one.mm.max()) for one in mender.looks[0].oracle.over(heights_mm=height))

    assert worst_mm(first) > 1.0
    assert worst_mm(again) < 0.5 * worst_mm(first)
