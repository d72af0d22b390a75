"""Errors that readings share, as of a setup's height: found from the floor, and no part of it."""

from dataclasses import replace

import numpy as np
import pytest

from slab_core.numerics.budget import Budget
from slab_core.numerics.grid import ERROR_STEP_M, to_metres
from slab_core.surface.fit import fit_surface
from slab_core.surface.model import Surface, SurfaceOptions
from slab_core.surface.sample import draw, evaluate, rebuilt
from slab_core.surveys.model import Observations
from tests.slabs import Slab, grid_places, make_slab, read_slab

SETUP_SD_M, OFF_M = 0.002, 0.003


def _two_setups(seed: int, *, count: int = 200) -> tuple[Slab, Observations]:
    """The far half of a room read from a second setup, whose height is off by 3 mm."""
    rng = np.random.default_rng(seed)
    slab = make_slab(rng=rng)
    seen = read_slab(slab=slab, places=grid_places(floor=slab.floor, count=count, rng=rng), rng=rng)
    second = seen.y_m[:, 0] > 3.5 + rng.normal(0.0, 0.4, len(seen.value_m))
    return slab, replace(
        seen,
        value_m=seen.value_m + OFF_M * second,
        shared_m=np.where(second, SETUP_SD_M, 0.0)[:, None],
    )


def _fit(slab: Slab, seen: Observations) -> Surface:
    options = SurfaceOptions(grid_step_m=0.2)
    return fit_surface(floor=slab.floor, observations=seen, options=options, budget=Budget())


def _rmse(slab: Slab, surface: Surface) -> float:
    xs, ys = np.meshgrid(surface.grid.xs(), surface.grid.ys())
    return float(np.sqrt(np.mean(np.square(to_metres(surface.height) - slab.height(xs, ys)))))


@pytest.mark.parametrize("seed", range(4))
def test_a_setup_that_is_off_is_found_from_the_floor_and_taken_off_it(seed: int) -> None:
    slab, seen = _two_setups(seed)
    surface = _fit(slab, seen)
    (share,) = surface.spline.shared
    assert share * SETUP_SD_M == pytest.approx(OFF_M, abs=0.0007)
    alone = _fit(slab, replace(seen, shared_m=np.empty((0, 0))))
    assert _rmse(slab, surface) < 0.6 * _rmse(slab, alone)


def test_a_setup_off_by_more_than_its_ties_allow_is_told_and_one_within_them_is_not() -> None:
    slab, seen = _two_setups(1)
    sure = replace(seen, shared_m=seen.shared_m * 0.25, shared_by=("/surveys/0/setups/1",))
    (problem,) = [p for p in _fit(slab, sure).problems if p.code == "setup-off"]
    assert problem.pointer == "/surveys/0/setups/1"
    assert "higher than from the others" in problem.detail
    assert "allow 0.06 in (1.6 mm)" in problem.detail
    unsure = _fit(slab, replace(seen, shared_by=sure.shared_by))
    assert not [p for p in unsure.problems if p.code == "setup-off"]


def test_the_heights_and_draws_are_the_floors_and_not_the_setups() -> None:
    slab, seen = _two_setups(1)
    surface = _fit(slab, seen)
    xs, ys = np.meshgrid(surface.grid.xs(), surface.grid.ys())
    values = evaluate(spline=surface.spline, x_m=xs.ravel(), y_m=ys.ravel())
    np.testing.assert_allclose(values, to_metres(surface.height).ravel(), atol=0.51e-5)
    count = 3000
    drawn = draw(spline=surface.spline, grid=surface.grid, count=count, rng=np.random.default_rng(2))
    sd = to_metres(surface.error, step_m=ERROR_STEP_M)
    # Bounds as in test_sample, for some 900 nodes.
    assert np.abs((drawn.mean(axis=0) - to_metres(surface.height)) / sd).max() < 5.0 / np.sqrt(count) + 0.02
    assert np.abs(drawn.std(axis=0) / sd - 1.0).max() < 5.0 / np.sqrt(2 * count) + 0.002


def test_what_is_stored_gives_the_same_fit_again() -> None:
    slab, seen = _two_setups(2)
    surface = _fit(slab, seen)
    found = rebuilt(surface.spline)
    assert found.beside.tolist() == pytest.approx(list(surface.spline.shared))
    own = surface.spline.coefficient_m.T if found.design.swapped else surface.spline.coefficient_m
    np.testing.assert_allclose(found.coefficients.reshape(own.shape), own, atol=1e-7)


def test_an_error_that_every_reading_shares_only_widens_the_errors() -> None:
    slab, seen = _two_setups(3)
    plain = replace(seen, value_m=seen.value_m - OFF_M * (seen.shared_m[:, 0] > 0.0))
    every = replace(plain, shared_m=np.full((len(plain.value_m), 1), SETUP_SD_M))
    one, other = _fit(slab, replace(plain, shared_m=np.empty((0, 0)))), _fit(slab, every)
    assert np.abs(one.height - other.height).max() <= 2
    errors = [to_metres(s.error, step_m=ERROR_STEP_M) for s in (one, other)]
    np.testing.assert_allclose(errors[1], np.hypot(errors[0], SETUP_SD_M), rtol=0.1)
