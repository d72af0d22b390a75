"""What the means of cells prove holds for the floor's own nodes."""

from dataclasses import replace

import numpy as np
import pytest

from slab_core.correction.optimum.cells import cells_bound, cells_of, is_impossible
from slab_core.correction.optimum.heights import unrestricted_optimum
from slab_core.correction.optimum.model import Demand
from slab_core.numerics.budget import Budget
from slab_core.numerics.grid import Floats, Grid
from slab_core.tolerance.lattice import free_steps
from slab_core.tolerance.model import Rule
from tests.slabs import rectangle
from tests.unit.slab_core.correction.optimum.test_heights import demand, dense_least_cost, wavy

SEEDS = range(6)


def _uneven(wanted: Demand, seed: int) -> Demand:
    """The same with some nodes dearer, as those along walls are."""
    dearer = np.random.default_rng(seed).uniform(1.0, 3.0, wanted.inside.shape)
    return replace(wanted, fill_weight=wanted.fill_weight * dearer, grind_weight=wanted.grind_weight * dearer)


def _means(values: Floats) -> Floats:
    ny, nx = np.array(values.shape) // 2 * 2
    return np.asarray((values[:ny:2, :nx:2] + values[1:ny:2, :nx:2] + values[:ny:2, 1:nx:2]
                       + values[1:ny:2, 1:nx:2]) / 4.0)  # fmt: skip


@pytest.mark.parametrize("seed", SEEDS)
def test_cells_never_cost_more_than_the_dense_programme_of_all_nodes(seed: int) -> None:
    wanted = demand(wavy(seed, shape=(8, 9)))
    exact = dense_least_cost(wanted)
    bound = cells_bound(demand=cells_of(wanted), budget=Budget())
    assert exact is not None
    assert bound <= exact * (1.0 + 1e-6)


def test_cells_prove_something_on_long_waves() -> None:
    wanted = demand(wavy(1, shape=(24, 20), high_mm=8.0), rules=(Rule(length_m=3.0, gap_m=0.003),))
    exact = unrestricted_optimum(demand=wanted, budget=Budget(), explain=False)
    bound = cells_bound(demand=cells_of(wanted), budget=Budget())
    assert 0.3 * exact.bound <= bound <= exact.cost


@pytest.mark.parametrize("seed", SEEDS)
def test_cells_with_dear_nodes_cost_no_more_than_the_nodes(seed: int) -> None:
    wanted = _uneven(demand(wavy(seed, shape=(14, 12))), seed)
    exact = unrestricted_optimum(demand=wanted, budget=Budget(), explain=False)
    once = cells_of(wanted)
    for cells in (once, cells_of(once)):
        assert cells_bound(demand=cells, budget=Budget()) <= exact.cost * (1.0 + 1e-3)


@pytest.mark.parametrize("seed", SEEDS)
def test_means_of_heights_that_keep_the_rules_keep_them_between_whole_cells(seed: int) -> None:
    """Asked of cells whose depths are held to the means: they are possible, and cost those means."""
    wanted = demand(wavy(seed, shape=(16, 14)), rules=(Rule(length_m=2.0, gap_m=0.003),))
    exact = unrestricted_optimum(demand=wanted, budget=Budget(), explain=False)
    assert exact.status == "optimal"
    cells, heights = cells_of(wanted), _means(exact.corrected_mm)
    held = replace(cells, lowest_mm=heights - 0.02, highest_mm=heights + 0.02)
    bound = cells_bound(demand=held, budget=Budget())
    change = heights - cells.heights_mm
    up = cells.fill_weight * wanted.fill_prices.of(np.maximum(change + 0.02, 0.0))
    down = cells.grind_weight * wanted.grind_prices.of(np.maximum(0.02 - change, 0.0))
    assert bound <= float((up + down).sum())


@pytest.mark.parametrize("seed", SEEDS)
def test_on_a_floor_with_a_corner_missing_cells_cost_no_more(seed: int) -> None:
    """The corner's edge runs through the middle of cells: no straightedge leaves the floor on them either."""
    slab = wavy(seed, shape=(17, 15))
    inside = np.ones(slab.shape, dtype=np.bool_)
    inside[9:, 7:] = False
    whole = demand(slab)
    grid = Grid(x0_m=0.0, y0_m=0.0, step_m=whole.step_m, nx=slab.shape[1], ny=slab.shape[0])
    floor = rectangle((slab.shape[1] - 1) * whole.step_m, (slab.shape[0] - 1) * whole.step_m)
    wanted = replace(whole, inside=inside, free=free_steps(floor=floor, grid=grid, inside=inside))
    exact = unrestricted_optimum(demand=wanted, budget=Budget(), explain=False)
    cells = cells_of(wanted)
    assert not cells.inside[4:, 3:].any()
    assert cells_bound(demand=cells, budget=Budget()) <= exact.cost * (1.0 + 1e-3)
    assert not is_impossible(demand=wanted, budget=Budget())


def test_what_cells_or_every_second_node_prove_impossible_is_impossible() -> None:
    """Caps that the dense programme cannot keep either; with room enough neither says so."""
    proven = [0, 0]
    for seed in SEEDS:
        slab = wavy(seed, shape=(8, 7), high_mm=9.0)
        for most in (0.5, 2.0, 20.0):
            wanted = demand(slab, greatest_fill_mm=most, greatest_grind_mm=1.5)
            by_cells = np.isinf(cells_bound(demand=cells_of(wanted), budget=Budget()))
            by_nodes = is_impossible(demand=wanted, budget=Budget())
            if by_cells or by_nodes:
                assert dense_least_cost(wanted) is None
            proven[0] += by_cells
            proven[1] += by_nodes
    assert min(proven) >= 1
    assert max(proven) < 3 * len(SEEDS)


def test_a_rule_of_chords_is_left_out() -> None:
    wanted = demand(wavy(2), rules=(Rule(length_m=1.5, gap_m=0.001, kind="chord"),))
    assert cells_of(wanted).rules == ()
    assert cells_bound(demand=cells_of(wanted), budget=Budget()) == 0.0
    assert not is_impossible(demand=wanted, budget=Budget())
