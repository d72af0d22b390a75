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

from dataclasses import dataclass, replace

import numpy as np
import pytest
from scipy.interpolate import RBFInterpolator

from slab_core.numerics import banded
from slab_core.numerics.grid import Floats, Grid
from slab_core.surface.basis import basis_over
from slab_core.surface.design import design, normal_equations, predicted
from slab_core.surface.energy import roughness_band
from slab_core.surface.posterior import (
    Posterior,
    grid_heights,
    grid_variances,
    observation_variance,
    on_grid,
    posterior,
)
from slab_core.surveys.model import Observations
from tests.slabs import gaps_of, heights_at, joined
from tests.support.kriging import (
    Covariance,
    Sums,
    damped_plate,
    heights,
    krige,
    leave_one_out,
    plane,
    thin_plate,
)

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
    start, end = rng.uniform(0, (WIDTH, DEPTH), (2, 6, 2))
    share, gap = rng.uniform(0.2, 0.8, 6), rng.normal(0, 0.001, 6)
    gaps = gaps_of(start=start, end=end, share=share, gap_m=gap, sd_m=1.5 * SD)
    return joined(_heights(), gaps)


@dataclass(frozen=True, kw_only=True)
class Fit:
    """A posterior with what was asked of it."""

    seen: Observations
    found: Posterior
    precision: Floats

    def at_nodes(self) -> tuple[Floats, Floats]:
        """Mean and variance at the nodes."""
        mean = grid_heights(design=self.found.design, coefficients=self.found.coefficients, grid=GRID)
        inverse = banded.inverse_band(self.found.lower)
        variance = grid_variances(self.found, inverse, GRID, beside=on_grid(self.found.design, GRID))
        return mean.ravel(), variance.ravel()

    def left_out(self) -> tuple[Floats, Floats]:
        """Each observation less what the others say of it, and that difference's variance."""
        said = predicted(design=self.found.design, coefficients=self.found.coefficients)
        variance = observation_variance(self.found, banded.inverse_band(self.found.lower))
        keep = 1.0 - self.precision * variance
        return (self.seen.value_m - said) / keep, 1.0 / self.precision + variance / keep


def _spline(
    seen: Observations, *, smoothing: float, knot_m: float, size: float, change_m2: float = 0.0
) -> Fit:
    """The spline on a rectangle `size` times as long and as wide as the floor."""
    over_x, over_y = (size - 1) * WIDTH / 2, (size - 1) * DEPTH / 2
    basis = basis_over(low=(-over_x, -over_y), high=(WIDTH + over_x, DEPTH + over_y), step_m=knot_m)
    made = design(basis=basis, x_m=seen.x_m, y_m=seen.y_m, weight=seen.weight)
    made = replace(made, energy=roughness_band(basis=made.basis, change_m2=change_m2))
    precision = 1.0 / np.square(seen.sd_m)
    band, right = normal_equations(design=made, precision=precision, value_m=seen.value_m)
    found = posterior(design=made, band=band, right=right, precision=precision, smoothing=smoothing)
    return Fit(seen=seen, found=found, precision=precision)


def _limit(four: tuple[Floats, Floats], eight: tuple[Floats, Floats]) -> tuple[Floats, Floats]:
    """What two sizes, one twice the other, say of the whole plane."""
    (near_mean, near_variance), (wide_mean, wide_variance) = four, eight
    return (4 * wide_mean - near_mean) / 3, (4 * wide_variance - near_variance) / 3


def _rest(variance: Floats, *, smoothing: float, knot_m: float) -> Floats:
    """By how much the spline's variance of a height may be below kriging's."""
    return REST * knot_m**2 / smoothing * (1.0 + variance / SD**2)


def _squared_weights(seen: Observations) -> Floats:
    """1 for a height, up to 2 for a gap, whose e is a sum of three."""
    return np.square(seen.weight).sum(axis=1)


def _sums(seen: Observations) -> Sums:
    return Sums(place=np.stack([seen.x_m, seen.y_m], axis=-1), weight=seen.weight)


def _kriged(seen: Observations, *, covariance: Covariance) -> tuple[Floats, Floats]:
    return krige(
        seen=_sums(seen),
        value=seen.value_m,
        noise=np.square(seen.sd_m),
        wanted=heights(NODES_X, NODES_Y),
        covariance=covariance,
        drift=plane,
    )


@pytest.mark.parametrize("smoothing", [1e5, 1e6])
def test_kriging_with_the_thin_plates_covariance_is_the_radial_basis_function(smoothing: float) -> None:
    seen = _heights()
    mean, _ = _kriged(seen, covariance=thin_plate(scale=1.0 / smoothing))
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
    mean, variance = _kriged(seen, covariance=thin_plate(scale=1.0 / smoothing))
    four, eight = (_spline(seen, smoothing=smoothing, knot_m=knot_m, size=size) for size in (4, 8))
    limit_mean, limit_variance = _limit(four.at_nodes(), eight.at_nodes())
    rest = _rest(variance, smoothing=smoothing, knot_m=knot_m)
    assert (np.abs(limit_mean - mean) <= np.sqrt(rest)).all()
    assert (np.abs(limit_variance - variance) <= rest).all()
    assert np.median(rest / variance) < 0.1  # else the bound would say little


@pytest.mark.parametrize(("smoothing", "change_m2"), [(1e5, 0.05), (1e5, 0.2), (1e6, 0.1)])
def test_a_charge_for_the_change_of_bending_is_kriging_with_a_damped_spectrum(
    smoothing: float, change_m2: float
) -> None:
    """The energy's spectrum λ k⁴ (1 + c k²) holds less short waves than the thin plate's: its bounds hold."""
    seen, knot_m = _heights_and_gaps(), 0.2
    covariance = damped_plate(scale=1.0 / smoothing, change_m2=change_m2)
    mean, variance = _kriged(seen, covariance=covariance)
    four, eight = (
        _spline(seen, smoothing=smoothing, knot_m=knot_m, size=size, change_m2=change_m2) for size in (4, 8)
    )
    limit_mean, limit_variance = _limit(four.at_nodes(), eight.at_nodes())
    rest = _rest(variance, smoothing=smoothing, knot_m=knot_m)
    assert (np.abs(limit_mean - mean) <= np.sqrt(rest)).all()
    assert (np.abs(limit_variance - variance) <= rest).all()
    without_change = _kriged(seen, covariance=thin_plate(scale=1.0 / smoothing))[1]
    assert (without_change - variance > 2 * rest).any()  # else the charge would not be seen at all


@pytest.mark.parametrize("seen", [_heights(), _heights_and_gaps()], ids=["heights", "heights and gaps"])
def test_residuals_without_the_reading_itself_are_those_of_kriging_without_it(seen: Observations) -> None:
    smoothing, knot_m = 1e6, 0.2
    away, variance = leave_one_out(
        seen=_sums(seen),
        value=seen.value_m,
        noise=np.square(seen.sd_m),
        covariance=thin_plate(scale=1.0 / smoothing),
        drift=plane,
    )
    four, eight = (_spline(seen, smoothing=smoothing, knot_m=knot_m, size=size) for size in (4, 8))
    limit_away, limit_variance = _limit(four.left_out(), eight.left_out())
    rest = _rest(variance, smoothing=smoothing, knot_m=knot_m) * _squared_weights(seen)
    assert (np.abs(limit_away - away) <= np.sqrt(rest)).all()
    assert (np.abs(limit_variance - variance) <= rest).all()


def test_what_is_not_charged_beyond_the_rim_falls_with_the_square_of_the_size() -> None:
    seen, smoothing, knot_m = _heights(), 1e6, 0.2
    mean, _ = _kriged(seen, covariance=thin_plate(scale=1.0 / smoothing))
    four, eight = (
        np.abs(_spline(seen, smoothing=smoothing, knot_m=knot_m, size=size).at_nodes()[0] - mean).max()
        for size in (4, 8)
    )
    assert 3.0 < four / eight < 5.0
