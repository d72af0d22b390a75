"""Compile every kernel of the correction stage once, so that child processes find them ready."""

from dataclasses import replace

import numpy as np

from slab_core.correction.kernels import add_up, classify, extremes, relaxed_cost
from slab_core.correction.optimum.heights import unrestricted_optimum
from slab_core.correction.optimum.lattice import coarser, finer_lies
from slab_core.correction.optimum.model import Demand, DepthPrices
from slab_core.correction.optimum.rows import all_of
from slab_core.numerics.budget import Budget
from slab_core.tolerance.model import Rule


def warm() -> None:
    """Two nodes, one to fill and one to grind, with the types that a plan uses. The solver is not touched."""
    one, two = np.ones(2), np.array([-2.0, 2.0])
    abc, steps = np.zeros(3), np.array([3.0, 6.0])
    place = np.arange(2, dtype=np.int32)
    kind = np.zeros(2, dtype=np.int8)
    relaxed_cost(one, one, two, abc, kind, one, one, one, 0.4, 0.0, np.ones((1, 2)), steps, one)
    extremes(one, one, two, one, one, abc)
    state = classify(two, place, place, np.zeros(2, dtype=np.bool_), 2, 0.4)
    add_up(two, state, one, one, one, place, 0.0, 25.0, 25.0, 1e-6, 2, 1, steps, one)
    _warm_optimum()


def _warm_optimum() -> None:
    """A peak amid five by five nodes under an edge and a chord, which are scanned by loops of their own, and
    a look at it from a coarser lattice."""
    edge = Rule(length_m=1.0, gap_m=0.003)
    heights = np.zeros((5, 5))
    heights[2, 2] = 10.0
    ones, inside = np.ones_like(heights), np.ones(heights.shape, dtype=np.bool_)
    free = np.zeros((16, 5, 5), dtype=np.bool_)
    free[0, :, :-1] = True
    price = DepthPrices(breaks_mm=np.zeros(0), per_mm=np.ones(1))
    demand = Demand(
        step_m=0.5, heights_mm=heights, inside=inside, free=free, rules=(edge, replace(edge, kind="chord")),
        fill_weight=ones, grind_weight=ones, fill_prices=price, grind_prices=price, greatest_grind_mm=10.0,
        greatest_fill_mm=10.0, keep_grinder_off=~inside, keep_fill_off=~inside, lowest_mm=-np.inf * ones,
        highest_mm=np.inf * ones,
    )  # fmt: skip
    unrestricted_optimum(demand=demand, budget=Budget())
    finer_lies(lies=all_of([]), demand=demand)
    coarser(demand)
