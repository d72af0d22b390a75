"""Published figures of three data sets that may not be copied here, for whoever has them at hand.

REFERENCE_TERRAIN names a folder with `topo.csv` (columns x, y, z: 52 heights, R's MASS), `volcano.csv` (87
rows of 61 heights, no head, R's datasets) and `meuse.csv` (columns x, y, zinc among others, R's sp). Without
it the tests are skipped and say so. Published figures: R 4.2 with spatial 7.3-16 and gstat 2.1-0.
"""

import csv
import os
from pathlib import Path

import numpy as np
import pytest

from slab_core.numerics.budget import Budget
from slab_core.numerics.grid import Floats
from slab_core.surface.fit import fit_surface
from slab_core.surface.model import SurfaceOptions
from slab_core.surface.readings_plane import readings_plane
from slab_core.surface.sample import evaluate
from tests import slabs
from tests.invented_floors import rectangle, work
from tests.reference.test_volumes import _triangles
from tests.slabs import heights_at
from tests.support.kriging import Covariance, constant, heights, krige, leave_one_out

FOLDER = os.environ.get("REFERENCE_TERRAIN", "")
pytestmark = pytest.mark.skipif(
    not FOLDER, reason="REFERENCE_TERRAIN names no folder with topo, volcano and meuse"
)


def _columns(file: str, *names: str) -> tuple[Floats, ...]:
    with (Path(FOLDER) / file).open() as rows:
        table = list(csv.DictReader(rows))
    return tuple(np.array([float(row[name]) for row in table]) for name in names)


def _spherical(*, nugget: float, sill: float, reach: float) -> Covariance:
    def value(distance: Floats) -> Floats:
        share = np.minimum(distance / reach, 1.0)
        rise = nugget + sill * (1.5 * share - 0.5 * share**3)
        return np.where(distance > 0.0, -rise, 0.0)

    return value


def test_the_plane_through_52_heights_is_the_published_trend() -> None:
    x, y, z = _columns("topo.csv", "x", "y", "z")
    found = readings_plane(observations=heights_at(x_m=x, y_m=y, value_m=z))
    assert found.slope_x == pytest.approx(-1.695041558, abs=5e-9)
    assert found.slope_y == pytest.approx(-25.251717154, abs=5e-9)
    assert 52 * found.residual_m**2 == pytest.approx(67185.72, abs=5e-3)


def test_the_volcano_is_cut_and_filled_as_published() -> None:
    """A plan at level 130 is net the published bilinear volume; triangles give the published cut and fill."""
    volcano = np.loadtxt(Path(FOLDER) / "volcano.csv", delimiter=",")
    assert volcano.shape == (87, 61)
    assert volcano.sum() == 690907
    floor = rectangle(width_m=6.0, length_m=8.6)
    job = work(
        floor=floor,
        height_m=lambda x, y: 1e-3 * volcano[np.rint(y / 0.1).astype(int), np.rint(x / 0.1).astype(int)],
        columns=60,
    )
    plan = job.at(height_m=0.13)
    # One unit is a millimetre here and a cell a hundredth of a square metre.
    assert 1e5 * (plan.grind_m3 - plan.fill_m3) == pytest.approx(4730.0, abs=1e-6)
    over = volcano - 130.0
    corners = np.array([[over[:-1, :-1], over[:-1, 1:]], [over[1:, :-1], over[1:, 1:]]])
    cut, fill = float(_triangles(corners).sum()), float(_triangles(-corners).sum())
    assert (cut, fill) == pytest.approx((58990.02385, 54260.52385), abs=5e-6)


def test_the_dense_kriging_that_holds_our_spline_is_the_published_one() -> None:
    x, y, zinc = _columns("meuse.csv", "x", "y", "zinc")
    covariance = _spherical(nugget=0.050662427, sill=0.590607802, reach=897.02091)
    seen, value, noise = heights(x, y), np.log(zinc), np.zeros(len(x))
    wanted = heights(np.array([181180.0, 181140.0]), np.array([333740.0, 333700.0]))
    mean, variance = krige(
        seen=seen, value=value, noise=noise, wanted=wanted, covariance=covariance, drift=constant
    )
    assert mean == pytest.approx([6.499624084, 6.622355528], abs=5e-9)
    assert variance == pytest.approx([0.3198083886, 0.2520204810], abs=5e-9)
    error, variance = leave_one_out(
        seen=seen, value=value, noise=noise, covariance=covariance, drift=constant
    )
    assert error.mean() == pytest.approx(-2.073586e-05, abs=5e-10)
    assert np.sqrt(np.mean(error**2)) == pytest.approx(0.3918035, abs=5e-8)
    assert np.mean(error**2 / variance) == pytest.approx(0.8185456, abs=5e-8)


def test_the_surface_foretells_a_left_out_reading_no_worse_than_the_published_kriging() -> None:
    """On the scale of a room: 500 to 1, and 5 mm for a unit of the logarithm of zinc."""
    x, y, zinc = _columns("meuse.csv", "x", "y", "zinc")
    x, y, z = (x - x.min()) / 500.0 + 0.1, (y - y.min()) / 500.0 + 0.1, np.log(zinc)
    floor = slabs.rectangle(float(x.max()) + 0.1, float(y.max()) + 0.1)
    errors = []
    for left in range(len(z)):
        kept = np.arange(len(z)) != left
        seen = heights_at(x_m=x[kept], y_m=y[kept], value_m=0.005 * (z[kept] - z.mean()), sd_m=0.0011)
        surface = fit_surface(
            floor=floor, observations=seen, options=SurfaceOptions(grid_step_m=0.2), budget=Budget()
        )
        said = evaluate(spline=surface.spline, x_m=x[[left]], y_m=y[[left]])[0] / 0.005 + z.mean()
        errors.append(z[left] - said)
    assert np.sqrt(np.mean(np.square(errors))) <= 0.3918035
