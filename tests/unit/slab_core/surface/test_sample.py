"""Draws of the surface against its stated heights, errors and covariances."""

import numpy as np
import pytest

from slab_core.numerics.budget import Budget
from slab_core.numerics.grid import ERROR_STEP_M, Grid, to_metres
from slab_core.surface.fit import fit_surface
from slab_core.surface.model import Surface, SurfaceOptions
from slab_core.surface.sample import draw, evaluate
from slab_core.surface.warm import warm
from tests.slabs import gaps_of, grid_places, joined, make_slab, read_slab


def _surface(*, width: float, depth: float, with_gaps: bool) -> Surface:
    rng = np.random.default_rng(3)
    slab = make_slab(rng=rng, width_m=width, depth_m=depth)
    seen = read_slab(slab=slab, places=grid_places(floor=slab.floor, count=40, rng=rng), rng=rng)
    if with_gaps:
        start = np.array([[0.1, 0.2], [0.3, 0.9], [0.4, 1.6]])
        end = start + np.array([1.5, 0.1])
        seen = joined(seen, gaps_of(start=start, end=end, share=np.full(3, 0.5), gap_m=np.full(3, 0.001)))
    options = SurfaceOptions(grid_step_m=0.25)
    return fit_surface(floor=slab.floor, observations=seen, options=options, budget=Budget())


@pytest.mark.parametrize("with_gaps", [False, True])
@pytest.mark.parametrize(("width", "depth"), [(2.0, 3.0), (3.0, 2.0)])
def test_draws_have_the_surfaces_mean_and_standard_error(width: float, depth: float, with_gaps: bool) -> None:
    surface = _surface(width=width, depth=depth, with_gaps=with_gaps)
    count = 4000
    drawn = draw(spline=surface.spline, grid=surface.grid, count=count, rng=np.random.default_rng(1))
    sd = to_metres(surface.error, step_m=ERROR_STEP_M)
    # Standard deviation of a mean is sd/√n, of a standard deviation sd/√(2n); 4.5 of them for ~120 nodes.
    assert np.abs((drawn.mean(axis=0) - to_metres(surface.height)) / sd).max() < 4.5 / np.sqrt(count) + 0.02
    assert np.abs(drawn.std(axis=0) / sd - 1.0).max() < 4.5 / np.sqrt(2 * count) + 0.002


def test_the_same_seed_draws_the_same_surface() -> None:
    surface = _surface(width=2.0, depth=3.0, with_gaps=False)
    one = draw(spline=surface.spline, grid=surface.grid, count=3, rng=np.random.default_rng(7))
    two = draw(spline=surface.spline, grid=surface.grid, count=3, rng=np.random.default_rng(7))
    more = draw(spline=surface.spline, grid=surface.grid, count=5, rng=np.random.default_rng(7))
    assert np.array_equal(one, two)
    np.testing.assert_allclose(more[:3], one, atol=1e-12)


def test_values_of_the_spline_are_the_stored_heights() -> None:
    surface = _surface(width=2.0, depth=3.0, with_gaps=True)
    xs, ys = np.meshgrid(surface.grid.xs(), surface.grid.ys())
    values = evaluate(spline=surface.spline, x_m=xs.ravel(), y_m=ys.ravel())
    np.testing.assert_allclose(values, to_metres(surface.height).ravel(), atol=0.51e-5)


def test_draws_of_neighbouring_places_move_together() -> None:
    surface = _surface(width=2.0, depth=3.0, with_gaps=False)
    grid = Grid(x0_m=1.0, y0_m=1.5, step_m=0.02, nx=2, ny=1)
    drawn = draw(spline=surface.spline, grid=grid, count=500, rng=np.random.default_rng(2))
    assert np.corrcoef(drawn[:, 0, 0], drawn[:, 0, 1])[0, 1] > 0.98


def test_warming_up_runs() -> None:
    warm()
