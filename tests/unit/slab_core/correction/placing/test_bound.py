"""No floor that a crew could place costs less than the bound that its plan states."""

from itertools import product
from typing import Any

import numpy as np
import pytest

from slab_core.correction.model import Plan
from slab_core.correction.placing import placement
from slab_core.correction.placing.bound import lower_bound
from slab_core.correction.placing.depths import workable
from slab_core.correction.placing.in_part import with_pours
from slab_core.correction.placing.mended import Mender
from slab_core.correction.placing.on_surface import near_surface
from slab_core.correction.placing.placed import Placed, poured_free
from slab_core.correction.placing.shapes import Shapes, Wanted, wanted_demand
from slab_core.correction.placing.spots import by_trowel, mended, placed_of
from slab_core.correction.placing.weighing import Weighing
from slab_core.correction.task import Task
from slab_core.materials import starter
from slab_core.numerics.budget import Budget
from slab_core.numerics.grid import Floats
from slab_core.stages import CHEAPEST
from slab_core.tolerance.model import Rule
from tests.invented_floors import FOOT_M, INCH_M, rectangle, work

WIDE_M, LONG_M = 2.4, 3.0
RULES = {
    "usual": Rule(length_m=10 * FOOT_M, gap_m=3 * INCH_M / 16),
    "so tight that surfaces are planned to it": Rule(length_m=6 * FOOT_M, gap_m=0.0024),
}


def _planned(seed: int, rule: Rule, monkeypatch: pytest.MonkeyPatch) -> tuple[Plan, Task]:
    """The cheapest floor of a slab with a hollow and a hump, and the task that it was made for."""
    rng = np.random.default_rng(seed)
    (ax, ay), (bx, by) = rng.uniform((0.4, 0.4), (WIDE_M - 0.4, LONG_M - 0.4), (2, 2))
    low, high = rng.uniform(0.005, 0.011), rng.uniform(0.002, 0.006)

    def height_m(x: Floats, y: Floats) -> Floats:
        hollow = -low * np.exp(-((x - ax) ** 2 + (y - ay) ** 2) / 0.3)
        return hollow + high * np.exp(-((x - bx) ** 2 + (y - by) ** 2) / 0.2) + 0.002 * x

    asked: list[Task] = []

    def listening(**given: Any) -> float:
        asked.append(given["task"])
        return lower_bound(**given)

    monkeypatch.setattr(placement, "lower_bound", listening)
    floor = rectangle(width_m=WIDE_M, length_m=LONG_M)
    job = work(floor=floor, height_m=height_m, columns=24, compound=starter.compound(), rules=(rule,))
    return job.plan(CHEAPEST), asked[0]


def _placeable(task: Task) -> list[Placed]:
    """Floors brought near many planes and twisted surfaces, high places left or not, screeded and free."""
    nodes = task.case.nodes
    design = np.column_stack([np.ones_like(nodes.u), nodes.u, nodes.v])
    abc = np.linalg.lstsq(design, nodes.z_mm, rcond=None)[0]
    made = []
    for up, tilt_u, tilt_v, twist, spared in product(
        (-3.0, -1.5, 0.0, 1.0, 3.0), (-0.4, 0.0, 0.4), (-0.4, 0.0, 0.4), (0.0, 0.2), (0.0, 0.7, 2.0)
    ):
        own = abc + np.array([up, tilt_u, tilt_v])
        placed = near_surface(
            name="tried",
            task=task,
            height_mm=design @ own + twist * nodes.u * nodes.v,
            spared_mm=spared,
            abc_mm=own,
            twist_mm=twist,
        )
        if placed is not None:
            made.append(placed)
            if placed.poured.any():
                made.append(poured_free(placed, task=task))
    return made


def _followed(task: Task) -> list[Placed]:
    """Floors that follow the cheapest heights at many prices and reserves, by trowel and poured in part."""
    mender, made = Mender(task=task, budget=Budget()), []
    for price, deepest, reserve_m in product((2.0, 4.0, 8.0, 30.0), (12.0, 38.0), (0.0002, 0.0008)):
        wanted = Wanted(fill_price=price, greatest_fill_mm=deepest, reserve_m=reserve_m)
        demand = wanted_demand(task=task, wanted=wanted)
        shape = Shapes(task=task, budget=Budget()).cheapest(demand)
        if shape is None:
            continue
        depths = workable(task=task, shape=shape)
        for draft in (
            by_trowel(depths=depths),
            with_pours(task=task, depths=depths, bay_m=1.6, together=False),
            with_pours(task=task, depths=depths, bay_m=1.6, together=True),
        ):
            if draft is not None:
                placed = placed_of(name="tried", task=task, draft=mended(draft=draft, mender=mender))
                made += [] if placed is None else [placed]
    return made


@pytest.mark.parametrize("rule", RULES.values(), ids=RULES)
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_no_placed_floor_that_passes_costs_less_than_the_bound(
    seed: int, rule: Rule, monkeypatch: pytest.MonkeyPatch
) -> None:
    plan, task = _planned(seed, rule, monkeypatch)
    tried = [*_placeable(task), *_followed(task)]
    passing = [one.cost for one in tried if Weighing().offer(one, kind="tried").passes]
    assert len(passing) >= 10
    assert 0.0 < plan.solve.bound <= plan.solve.objective
    assert min(passing) >= plan.solve.bound
