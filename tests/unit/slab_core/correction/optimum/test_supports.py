"""The lies that rows are made of show the departures that the tolerance code measures."""

import numpy as np
import pytest

from slab_core.correction.optimum.supports import supports
from slab_core.numerics.budget import Budget
from slab_core.numerics.grid import Floats, Grid
from slab_core.tolerance.hulls import WHOLE
from slab_core.tolerance.lattice import DIRECTIONS, free_steps
from slab_core.tolerance.model import Rule, RuleKind
from slab_core.tolerance.straightedge import departures
from tests.slabs import rectangle

STEP_M = 0.2
SHAPE = (14, 17)


@pytest.mark.parametrize("kind", ["both-ways", "gap-only", "chord"])
@pytest.mark.parametrize("length_m", [0.6, 0.8, 1.0, 1.23, 1.5, 3.7])
def test_the_worst_lie_of_all_directions_is_the_departure(kind: RuleKind, length_m: float) -> None:
    rng = np.random.default_rng(0)
    z = rng.normal(0.0, 3.0, SHAPE)
    inside = rng.random(SHAPE) > 0.03
    grid = Grid(x0_m=0.0, y0_m=0.0, step_m=STEP_M, nx=SHAPE[1], ny=SHAPE[0])
    floor = rectangle((SHAPE[1] - 1) * STEP_M, (SHAPE[0] - 1) * STEP_M)
    free = free_steps(floor=floor, grid=grid, inside=inside)
    rule = Rule(length_m=length_m, gap_m=0.001, kind=kind)
    told = departures(grid=grid, heights_m=z * 1e-3, free=free, rule=rule, budget=Budget())
    nodes = np.ascontiguousarray(np.argwhere(inside))
    for side, most_m in ((1.0, told.gap_m), (-1.0, told.rise_m)):
        if kind == "gap-only" and side < 0.0:
            continue
        found = np.zeros(len(nodes))
        for d, (dx, dy) in enumerate(DIRECTIONS):
            span = length_m / (STEP_M * float(np.hypot(dx, dy)))
            lies = supports(
                z, free[d], dx, dy, span, WHOLE, kind == "chord", side, nodes, np.zeros(len(nodes))
            )
            again = [_departure(z, node, dx, dy, lie, side) for node, lie in zip(nodes, lies, strict=True)]
            np.testing.assert_allclose(again, lies[:, 0], atol=1e-12)
            found = np.maximum(found, lies[:, 0])
        np.testing.assert_allclose(found, 1e3 * most_m[inside], atol=1e-12)


def _departure(z: Floats, node: Floats, dx: int, dy: int, lie: Floats, side: float) -> float:
    """What the lie's supports make of the height at its node."""
    _, a, b = lie
    if b <= a:
        return 0.0

    def height(at: float) -> float:
        low = int(np.floor(at + WHOLE))
        share = at - low if at - low > WHOLE else 0.0
        first = z[node[0] + low * dy, node[1] + low * dx]
        then = z[node[0] + (low + 1) * dy, node[1] + (low + 1) * dx] if share else first
        return float(first + share * (then - first))

    line = height(a) + (height(b) - height(a)) * -a / (b - a)
    return side * (line - height(0.0))


def test_lies_that_keep_the_rule_are_not_given() -> None:
    z = np.zeros((1, 9))
    z[0, 4] = -3.0
    free = np.ones(z.shape, dtype=np.bool_)
    free[0, -1] = False
    nodes = np.array([[0, 4]])
    assert supports(z, free, 1, 0, 4.0, WHOLE, False, 1.0, nodes, np.array([2.9]))[0, 0] == pytest.approx(3.0)
    assert not supports(z, free, 1, 0, 4.0, WHOLE, False, 1.0, nodes, np.array([3.1])).any()
