"""The plane through the readings as they were read."""

from pathlib import Path

import laspy
import numpy as np
import pytest

from slab_core.numerics.grid import Floats
from slab_core.surface.readings_plane import readings_plane
from slab_core.surveys.model import Observations

SCAN = Path(__file__).parents[3] / "reference/data/plane.laz"


def _heights(x: Floats, y: Floats, z: Floats) -> Observations:
    n = len(z)
    return Observations(
        x_m=np.tile(x[:, None], (1, 3)),
        y_m=np.tile(y[:, None], (1, 3)),
        weight=np.tile([1.0, 0.0, 0.0], (n, 1)),
        value_m=z,
        sd_m=np.full(n, 0.001),
        position_sd_m=np.zeros(n),
        pointer=("",) * n,
    )


def test_a_real_scans_plane_has_the_slopes_and_residuals_that_were_computed_of_the_file() -> None:
    """plane.laz of laspy 2.7.0 (BSD-2-Clause): least squares over its 28,185 points."""
    scan = laspy.read(SCAN)
    x, y, z = (np.asarray(column) for column in (scan.x, scan.y, scan.z))
    plane = readings_plane(observations=_heights(x - x.min(), y - y.min(), z - z.min()))
    assert plane.heights == 28_185
    assert (plane.slope_x, plane.slope_y) == pytest.approx((2.60315104e-3, -1.61929704e-3), abs=1e-10)
    assert (plane.residual_m, plane.largest_m) == pytest.approx((8.2615e-3, 30.27e-3), abs=5e-6)


def test_a_plane_without_noise_comes_back_exactly_and_gaps_are_left_out() -> None:
    x, y = np.array([0.0, 4.0, 0.0, 4.0]), np.array([0.0, 0.0, 3.0, 3.0])
    seen = _heights(x, y, 0.1 + 0.002 * x - 0.001 * y)
    seen.weight[3] = (-0.5, 1.0, -0.5)
    plane = readings_plane(observations=seen)
    assert plane.heights == 3
    assert (plane.slope_x, plane.slope_y, plane.residual_m) == pytest.approx((0.002, -0.001, 0.0), abs=1e-12)
