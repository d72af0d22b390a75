"""The surface's sparse posterior against kriging and radial basis functions, which know no knots.

Two links make the comparison exact but for two known differences.

The prior. The spline minimises Σ p (z - f)² + λ ∫∫ f_xx² + 2 f_xy² + f_yy². Over the whole plane that is
kriging with a plane for drift, noise 1/p and the covariance r² ln r / (8π λ), Green's function of the
squared Laplacian over λ; it is also the radial basis function r² ln r with the smoothing 8π λ / p at each
value. Source: G. Wahba, "Spline Models for Observational Data", 1990, sections 2.4 and 1.2 (from memory).

The rim. Ours charges for bending on its rectangle only. Outside, the thin plate's second derivatives
die out as 1/r², so that what is not charged falls as 1/size²; two sizes give the limit.

The knots. The energy parts the thin plate into what the spline can carry and an independent rest e that the
spline knows nothing of. In an endless field of knots h apart, Var e is h² / λ times
∫ dω / 4π² (Σ 1/k⁴ - |Σ B e^{ikx}|² / Σ k⁴ B²) at the place x of a cell: ω over |ω| < π on both axes, the sums
over k = ω + 2π n for all whole n, B the transform of the cubic B-spline. Integrated numerically it is
0.0125 at most, in the middle of a cell. Kriging by the spline's weights w is off by e less w times e at the
readings besides, so that kriging's variance V is above the spline's by no more than Var e (1 + Σ w²), and
Σ w² σ² ≤ V. The two means differ, as a rule, by the root of that.
"""

from dataclasses import replace

import numpy as np
import pytest
from scipy.interpolate import RBFInterpolator

from slab_core.numerics import banded
from slab_core.numerics.grid import Floats, Grid
from slab_core.surface.basis import basis_over
from slab_core.surface.design import design, normal_equations
from slab_core.surface.energy import energy_band
from slab_core.surface.posterior import grid_heights, grid_variances, posterior
from slab_core.surveys.model import Observations
from tests.slabs import gaps_of, heights_at, joined
from tests.support.kriging import Sums, heights, krige, plane, thin_plate

WIDTH, DEPTH, SD = 2.0, 1.6, 0.0005
REST = 0.01253
"""Var e · λ / h²."""
GRID = Grid(x0_m=0.0, y0_m=0.0, step_m=0.2, nx=11, ny=9)
NODES_X, NODES_Y = (axis.ravel() for axis in np.meshgrid(GRID.xs(), GRID.ys()))


def _heights() -> Observations:
    rng = np.random.default_rng(11)
    x, y = rng.uniform(0, WIDTH, 24), rng.uniform(0, DEPTH, 24)
    z = 0.002 * x - 0.001 * y + 0.003 * np.sin(2 * x) * np.cos(3 * y) + rng.normal(0, SD, 24)
    return heights_at(x_m=x, y_m=y, value_m=z, sd_m=SD)


def _heights_and_gaps() -> Observations:
    rng = np.random.default_rng(12)
    ends = rng.uniform(0, (WIDTH, DEPTH), (2, 6, 2))
    gaps = gaps_of(start=ends[0], end=ends[1], share=rng.uniform(0.2, 0.8, 6), gap_m=rng.normal(0, 0.001, 6))
    return joined(_heights(), gaps)


def _spline(seen: Observations, *, smoothing: float, knot_m: float, size: float) -> tuple[Floats, Floats]:
    """Mean and variance at the nodes, the rectangle `size` times as long and as wide as the floor."""
    over_x, over_y = (size - 1) * WIDTH / 2, (size - 1) * DEPTH / 2
    basis = basis_over(low=(-over_x, -over_y), high=(WIDTH + over_x, DEPTH + over_y), step_m=knot_m)
    made = design(basis=basis, x_m=seen.x_m, y_m=seen.y_m, weight=seen.weight)
    made = replace(made, energy=energy_band(basis=made.basis))
    precision = 1.0 / np.square(seen.sd_m)
    band, right = normal_equations(design=made, precision=precision, value_m=seen.value_m)
    found = posterior(design=made, band=band, right=right, precision=precision, smoothing=smoothing)
    mean = grid_heights(design=made, coefficients=found.coefficients, grid=GRID)
    variance = grid_variances(found, banded.inverse_band(found.lower), GRID)
    return mean.ravel(), variance.ravel()


def _kriged(seen: Observations, *, smoothing: float) -> tuple[Floats, Floats]:
    return krige(
        seen=Sums(place=np.stack([seen.x_m, seen.y_m], axis=-1), weight=seen.weight),
        value=seen.value_m,
        noise=np.square(seen.sd_m),
        wanted=heights(NODES_X, NODES_Y),
        covariance=thin_plate(scale=1.0 / smoothing),
        drift=plane,
    )


@pytest.mark.parametrize("smoothing", [1e5, 1e6])
def test_kriging_with_the_thin_plates_covariance_is_the_radial_basis_function(smoothing: float) -> None:
    seen = _heights()
    mean, _ = _kriged(seen, smoothing=smoothing)
    other = RBFInterpolator(
        np.column_stack([seen.x_m[:, 0], seen.y_m[:, 0]]),
        seen.value_m,
        kernel="thin_plate_spline",
        smoothing=8.0 * np.pi * smoothing * np.square(seen.sd_m),
    )
    np.testing.assert_allclose(mean, other(np.column_stack([NODES_X, NODES_Y])), rtol=0, atol=1e-12)


@pytest.mark.parametrize("seen", [_heights(), _heights_and_gaps()], ids=["heights", "heights and gaps"])
@pytest.mark.parametrize(("smoothing", "knot_m"), [(1e5, 0.2), (1e6, 0.2), (1e6, 0.1)])
def test_the_spline_on_a_wide_rectangle_comes_to_the_kriged_mean_and_variance(
    seen: Observations, smoothing: float, knot_m: float
) -> None:
    mean, variance = _kriged(seen, smoothing=smoothing)
    four = _spline(seen, smoothing=smoothing, knot_m=knot_m, size=4)
    eight = _spline(seen, smoothing=smoothing, knot_m=knot_m, size=8)
    limit_mean, limit_variance = ((4 * wide - near) / 3 for near, wide in zip(four, eight, strict=True))
    rest = REST * knot_m**2 / smoothing * (1.0 + variance / SD**2)
    assert (np.abs(limit_mean - mean) <= np.sqrt(rest)).all()
    assert (np.abs(limit_variance - variance) <= rest).all()
    assert np.median(rest / variance) < 0.1  # else the bound would say little


def test_what_is_not_charged_beyond_the_rim_falls_with_the_square_of_the_size() -> None:
    seen, smoothing, knot_m = _heights(), 1e6, 0.1
    mean, _ = _kriged(seen, smoothing=smoothing)
    four, eight = (
        np.abs(_spline(seen, smoothing=smoothing, knot_m=knot_m, size=size)[0] - mean).max()
        for size in (4, 8)
    )
    assert 3.0 < four / eight < 5.0
