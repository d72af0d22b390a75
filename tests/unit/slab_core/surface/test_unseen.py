"""A bias of all readings: in the standard errors, in the draws, and in what one more reading tells."""

from dataclasses import replace

import numpy as np
import pytest

from slab_core.numerics.budget import Budget
from slab_core.numerics.grid import ERROR_STEP_M, to_metres
from slab_core.surface.fit import fit_surface
from slab_core.surface.model import Surface, SurfaceOptions
from slab_core.surface.sample import draw
from slab_core.surface.unseen import unseen_fields, with_bias
from tests.slabs import grid_places, make_slab, read_slab

BIAS_M = 0.0015


@pytest.fixture(scope="module")
def surface() -> Surface:
    rng = np.random.default_rng(1)
    slab = make_slab(rng=rng, width_m=6.0, depth_m=5.0)
    seen = read_slab(slab=slab, places=grid_places(floor=slab.floor, count=300, rng=rng), rng=rng)
    options = SurfaceOptions(grid_step_m=0.25)
    return fit_surface(floor=slab.floor, observations=seen, options=options, budget=Budget())


def test_a_bias_widens_every_standard_error_and_the_draws_alike(surface: Surface) -> None:
    biased = with_bias(surface, sd_m=BIAS_M)
    before, after = (to_metres(s.error, step_m=ERROR_STEP_M) for s in (surface, biased))
    np.testing.assert_allclose(after, np.hypot(before, BIAS_M), atol=0.6e-6)
    count = 3000
    drawn = draw(spline=biased.spline, grid=biased.grid, count=count, rng=np.random.default_rng(2))
    # A standard deviation of n draws is known to 1/√(2n); five of them for some 500 nodes.
    assert np.abs(drawn.std(axis=0) / after - 1.0).max() < 5.0 / np.sqrt(2 * count) + 0.002


def test_half_of_a_bias_moves_the_whole_floor_and_half_bends_it(surface: Surface) -> None:
    quiet = replace(surface.spline, relief=None, bias_sd_m=BIAS_M)
    _, whole, bent = unseen_fields(spline=quiet, grid=surface.grid)
    moved = whole.draws(count=50, rng=np.random.default_rng(3))
    assert np.ptp(moved, axis=(1, 2)).max() < 1e-12
    assert whole.sd_m[0, 0] ** 2 + bent.sd_m[0, 0] ** 2 == pytest.approx(BIAS_M**2)
    waves = bent.draws(count=2000, rng=np.random.default_rng(4))
    near, far = (
        np.corrcoef(waves[:, 4, 4], waves[:, 4, 5])[0, 1],
        np.corrcoef(waves[:, 0, 0], waves[:, -1, -1])[0, 1],
    )
    assert near > 0.9
    assert abs(far) < 0.1


def test_without_a_bias_only_the_relief_is_unseen(surface: Surface) -> None:
    (relief,) = unseen_fields(spline=surface.spline, grid=surface.grid)
    assert (relief.sd_m > 0.0).all()
