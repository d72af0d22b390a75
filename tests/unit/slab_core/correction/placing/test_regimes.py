"""No work that can be placed costs less than the charges and prices of the regime that it falls into."""

from dataclasses import replace
from itertools import product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from slab_core.correction.evaluate import to_mm
from slab_core.correction.placing.pinned import strips_over
from slab_core.correction.placing.placed import Placed, poured_free
from slab_core.correction.placing.regimes import Regime, regimes
from slab_core.correction.placing.spots import placed_parts
from slab_core.correction.task import Task
from slab_core.materials import starter
from slab_core.materials.model import Compound
from slab_core.numerics.grid import Floats, Mask
from tests.invented_floors import FEATHERED, rectangle, work

WIDE_M, LONG_M, COLUMNS = 1.2, 1.6, 6


def _task(compound: Compound) -> Task:
    return work(
        floor=rectangle(width_m=WIDE_M, length_m=LONG_M),
        height_m=lambda x, y: 0.01 * np.sin(3 * x) * np.cos(2 * y),
        columns=COLUMNS,
        compound=compound,
    ).task()


TASKS = {"with a least lift": _task(starter.compound()), "feathered": _task(FEATHERED)}


def _placed(*, task: Task, fill_mm: Floats, grind_mm: Floats, poured: Mask) -> Placed | None:
    return placed_parts(
        name="tried",
        task=task,
        fill_mm=fill_mm,
        grind_mm=np.where(fill_mm > 0.0, 0.0, grind_mm),
        poured=poured & (fill_mm > 0.0),
        pours=strips_over(nodes=task.case.nodes, poured=poured & (fill_mm > 0.0)),
    )


def _regime(*, task: Task, placed: Placed) -> Regime:
    """The one that the work falls into, keys at the rims of pours counted as ground."""
    grinds = placed.work.quantities.machine_hours + placed.work.quantities.hand_hours > 0.0
    pours, fills = bool(placed.poured.any()), bool((placed.fill > 0).any())
    (found,) = [
        one
        for one in regimes(task=task, to_the_rule=False)
        if one.pours == pours
        and (not one.demand.keep_grinder_off.all()) == grinds
        and (pours or (not one.demand.keep_fill_off.all()) == fills)
    ]
    return found


def _least(*, task: Task, regime: Regime, placed: Placed) -> float:
    """The regime's charges, and the depths at its prices; infinite where it has no such depths."""
    demand, inside = regime.demand, task.case.nodes.inside
    fill, grind = to_mm(placed.fill), to_mm(placed.grind)
    if fill.max(initial=0.0) > demand.greatest_fill_mm or grind.max(initial=0.0) > demand.greatest_grind_mm:
        return np.inf
    return regime.charges + float(
        demand.fill_weight[inside] @ demand.fill_prices.of(fill)
        + demand.grind_weight[inside] @ demand.grind_prices.of(grind)
    )


@pytest.mark.parametrize("task", TASKS.values(), ids=TASKS)
@given(
    seed=st.integers(0, 10**6), share=st.floats(0.02, 1.0), deep=st.floats(0.05, 38.0), pours=st.booleans()
)
@settings(max_examples=150, deadline=None)
def test_work_anywhere_costs_its_regime_or_more(
    task: Task, seed: int, share: float, deep: float, pours: bool
) -> None:
    rng, count = np.random.default_rng(seed), len(task.case.nodes.z_mm)
    placed = _placed(
        task=task,
        fill_mm=np.where(rng.random(count) < share, np.round(rng.uniform(0.0, deep, count), 2), 0.0),
        grind_mm=np.where(rng.random(count) < rng.choice([0.0, 0.3]), rng.uniform(0.0, 6.35, count), 0.0),
        poured=(rng.random(count) < 0.6) & pours,
    )
    if placed is not None and (placed.fill.any() or placed.grind.any()):
        for one in (placed, poured_free(placed, task=task)):
            assert one.cost >= _least(task=task, regime=_regime(task=task, placed=one), placed=one) - 1e-6


def test_deep_work_all_over_comes_near_to_what_its_regime_says() -> None:
    """All of the floor poured as deep as may be costs little more than the prices: they are no lower than
    they must be."""
    task = replace(TASKS["feathered"])
    nodes = task.case.nodes
    everywhere = np.ones(len(nodes.z_mm), dtype=np.bool_)
    placed = _placed(
        task=task,
        fill_mm=np.full(len(nodes.z_mm), 38.0),
        grind_mm=np.zeros(len(nodes.z_mm)),
        poured=everywhere,
    )
    assert placed is not None
    least = _least(task=task, regime=_regime(task=task, placed=placed), placed=placed)
    assert 0.8 * placed.cost <= least <= placed.cost


def test_every_small_set_of_depths_costs_its_regime_or_more() -> None:
    """All 3⁶ ways to leave, trowel or pour six blocks of a floor, each with and without a ground corner."""
    task = TASKS["with a least lift"]
    nodes = task.case.nodes
    block = np.minimum(nodes.x // 0.41, 2).astype(int) * 2 + (nodes.y > LONG_M / 2).astype(int)
    checked = 0
    for ways, ground in product(product((0, 1, 2), repeat=6), (False, True)):
        way = np.array(ways)[block]
        fill = np.where(way == 1, 2.5, np.where(way == 2, 6.0, 0.0))
        grind = np.where(ground & (nodes.x + nodes.y < 0.3), 1.2, 0.0)
        placed = _placed(task=task, fill_mm=fill, grind_mm=grind, poured=way == 2)
        if placed is None or not (placed.fill.any() or placed.grind.any()):
            continue
        checked += 1
        assert (
            placed.cost >= _least(task=task, regime=_regime(task=task, placed=placed), placed=placed) - 1e-6
        )
    assert checked > 1_000
