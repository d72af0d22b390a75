"""Edges that lie between the directions and nodes which are tried stay within the bound."""

import numpy as np
import pytest

from slab_core.numerics.grid import Floats, Grid
from slab_core.tolerance.check import check_heights
from slab_core.tolerance.model import Rule
from tests.slabs import make_slab, rectangle

LENGTH_M = 1.5


def _departure(height_of: object, middle: Floats, angle: float, length_m: float) -> float:
    """The gap or rise of an edge about the middle, on the true surface, read every 5 mm."""
    along = np.array([np.cos(angle), np.sin(angle)])
    at = np.linspace(-0.5, 0.5, int(length_m / 0.005) + 1) * length_m
    places = middle + at[:, None] * along
    z = height_of(places[:, 0], places[:, 1])  # type: ignore[operator]  # a height of tests.slabs
    chord = z[0] + (z[-1] - z[0]) * (at - at[0]) / (at[-1] - at[0])
    return float(np.abs(chord - z).max())


@pytest.mark.parametrize("seed", range(4))
def test_no_edge_of_any_direction_and_place_departs_beyond_the_bound(seed: int) -> None:
    rng = np.random.default_rng(seed)
    slab = make_slab(rng=rng, width_m=4.0, depth_m=5.0)
    grid = Grid(x0_m=0.0, y0_m=0.0, step_m=0.1, nx=41, ny=51)
    xs, ys = np.meshgrid(grid.xs(), grid.ys())
    (found,) = check_heights(
        floor=slab.floor,
        grid=grid,
        heights_m=slab.height(xs, ys),
        inside=np.ones(xs.shape, dtype=np.bool_),
        rules=(Rule(length_m=LENGTH_M, gap_m=0.001),),
    )
    tried = [
        _departure(slab.height, rng.uniform((0.8, 0.8), (3.2, 4.2)), rng.uniform(0, np.pi), LENGTH_M)
        for _ in range(400)
    ]
    assert max(tried) <= found.largest_m + found.between_m
    assert 0.0 < found.between_m < found.largest_m


def test_a_tilted_plane_leaves_nothing_between() -> None:
    grid = Grid(x0_m=0.0, y0_m=0.0, step_m=0.1, nx=31, ny=41)
    xs, ys = np.meshgrid(grid.xs(), grid.ys())
    (found,) = check_heights(
        floor=rectangle(3.0, 4.0),
        grid=grid,
        heights_m=0.01 * xs - 0.003 * ys,
        inside=np.ones(xs.shape, dtype=np.bool_),
        rules=(Rule(length_m=2.0, gap_m=0.001),),
    )
    assert found.between_m == pytest.approx(0.0, abs=1e-12)


def test_a_finer_grid_leaves_less_between() -> None:
    bound = []
    for step in (0.2, 0.1, 0.05):
        n = round(3.0 / step) + 1
        grid = Grid(x0_m=0.0, y0_m=0.0, step_m=step, nx=n, ny=n)
        xs, ys = np.meshgrid(grid.xs(), grid.ys())
        (found,) = check_heights(
            floor=rectangle(3.0, 3.0),
            grid=grid,
            heights_m=0.002 * (xs - 1.5) ** 2 + 0.001 * ys**2,
            inside=np.ones(xs.shape, dtype=np.bool_),
            rules=(Rule(length_m=1.0, gap_m=0.001),),
        )
        bound.append(found.between_m)
    assert bound[0] > bound[1] > bound[2]
