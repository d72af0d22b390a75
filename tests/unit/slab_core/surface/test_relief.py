"""What may lie unseen between readings: more of it farther away and beside walls, drawn as it is stated."""

import numpy as np
import pytest

from slab_core.numerics.grid import Floats, Grid
from slab_core.surface.model import Relief, Spline
from slab_core.surface.nearness import measured
from slab_core.surface.relief import (
    ALWAYS_M,
    beside_walls,
    relief_field,
    relief_on_grid,
    relief_scale,
    relief_variance,
    unseen_relief,
)
from tests.slabs import gaps_of, heights_at, joined

ROOM = (((0.0, 0.0), (5.0, 0.0), (5.0, 7.0), (0.0, 7.0)),)
READ = heights_at(x_m=np.array([2.0, 2.5, 2.0, 2.5]), y_m=np.array([3.0, 3.0, 3.5, 3.5]), value_m=np.zeros(4))
SEEN = measured(x_m=READ.x_m, y_m=READ.y_m, weight=READ.weight)


def _spline(relief: Relief | None) -> Spline:
    return Spline(
        x0_m=0.0,
        y0_m=0.0,
        knot_step_m=0.5,
        coefficient_m=np.zeros((17, 13)),
        smoothing=1000.0,
        obs_x_m=READ.x_m,
        obs_y_m=READ.y_m,
        obs_weight=READ.weight,
        obs_value_m=READ.value_m,
        obs_sd_m=READ.sd_m,
        relief=relief,
    )


def _variance(places: Floats) -> Floats:
    nearest, fourth = SEEN.distances(places)
    return relief_variance(places=places, nearest_m=nearest, fourth_m=fourth, walls=ROOM)


def test_the_farther_from_readings_the_more_may_lie_unseen() -> None:
    away = np.column_stack([2.5 + np.linspace(0.0, 1.5, 16), np.full(16, 3.0)])
    found = _variance(away)
    assert (np.diff(found) > 0.0).all()
    assert found[0] >= ALWAYS_M**2


def test_more_may_lie_unseen_at_a_wall_than_as_far_from_readings_on_the_open_floor() -> None:
    nearest, fourth = np.full(2, 0.3), np.full(2, 0.5)
    places = np.array([[0.05, 3.0], [2.5, 3.0]])
    wall, open_ = relief_variance(places=places, nearest_m=nearest, fourth_m=fourth, walls=ROOM)
    assert wall > 1.5 * open_


def test_the_band_beside_walls_ends_a_foot_from_every_ring() -> None:
    column = ((2.0, 3.0), (2.4, 3.0), (2.4, 3.4), (2.0, 3.4))
    places = np.array([[0.0, 3.0], [0.15, 1.0], [0.31, 3.0], [2.2, 2.99], [1.6, 3.2], [4.99, 6.99]])
    share = beside_walls(places=places, walls=(*ROOM, column))
    assert share == pytest.approx([1.0, 0.5, 0.0, 0.99726, 0.0, 0.99726], abs=1e-4)


def test_a_reading_does_not_count_as_its_own_neighbour_and_a_gap_sums_its_places() -> None:
    edge = gaps_of(
        start=np.array([[1.0, 1.0]]), end=np.array([[2.0, 1.0]]), share=np.array([0.5]), gap_m=np.zeros(1)
    )
    both = joined(READ, edge)
    seen = measured(x_m=both.x_m, y_m=both.y_m, weight=both.weight)
    found = unseen_relief(observations=both, seen=seen, walls=ROOM)
    lone = relief_variance(
        places=np.array([[2.0, 3.0]]), nearest_m=np.array([0.5]), fourth_m=np.array([2.0]), walls=ROOM
    )[0]
    assert found[0] == pytest.approx(lone, rel=0.05)
    middle = np.array([[1.0, 1.0], [2.0, 1.0], [1.5, 1.0]])
    nearest, fourth = seen.distances(middle, without_own=True)
    places = relief_variance(places=middle, nearest_m=nearest, fourth_m=fourth, walls=ROOM)
    assert found[4] == pytest.approx(0.25 * places[0] + 0.25 * places[1] + places[2], rel=1e-12)


@pytest.mark.parametrize("true_scale", [0.15, 1.0, 4.0])
def test_many_residuals_tell_how_lively_the_relief_is(true_scale: float) -> None:
    rng = np.random.default_rng(1)
    relief, variance = rng.uniform(0.5e-6, 2e-6, 3000), np.full(3000, 0.5e-6)
    # Three tenths of the relief's variance show in residuals.
    residual = rng.normal(0.0, np.sqrt(variance + 0.3 * true_scale * relief))
    found = relief_scale(residual_m=residual, variance_m2=variance, relief_m2=relief)
    assert found == pytest.approx(true_scale, rel=0.5)


def test_a_few_residuals_leave_the_relief_near_the_usual() -> None:
    quiet = relief_scale(residual_m=np.zeros(5), variance_m2=np.full(5, 0.5e-6), relief_m2=np.full(5, 1.5e-6))
    assert 0.4 < quiet <= 1.0


def test_draws_have_the_stated_variance_and_are_alike_within_some_inches() -> None:
    grid = Grid(x0_m=0.0, y0_m=0.0, step_m=0.1, nx=51, ny=71)
    relief = Relief(scale=0.8, walls=ROOM)
    count = 3000
    field = relief_field(spline=_spline(relief), grid=grid)
    drawn = field.draws(count=count, rng=np.random.default_rng(2))
    nearest, fourth = SEEN.on_grid(grid)
    stated = np.sqrt(relief_on_grid(relief=relief, nearest_m=nearest, fourth_m=fourth, grid=grid))
    # A standard deviation of n draws is known to 1/√(2n); five of them for some 3,600 nodes.
    assert np.abs(drawn.std(axis=0) / stated - 1.0).max() < 5.0 / np.sqrt(2 * count)
    near = np.corrcoef(drawn[:, 30, 20], drawn[:, 30, 21])[0, 1]
    far = np.corrcoef(drawn[:, 30, 20], drawn[:, 30, 40])[0, 1]
    assert near > 0.9
    assert abs(far) < 0.1
    weights = np.where(np.hypot(*(grid.places() - (2.0, 4.0)).T) < 1.0, 0.01, 0.0).reshape(grid.ny, grid.nx)
    sums = np.einsum("kji,ji->k", drawn, weights)
    with_sum = field.with_sum(weights)
    assert (weights * with_sum).sum() == pytest.approx(sums.var(), rel=5.0 * np.sqrt(2.0 / count))
    seen = np.einsum("k,kji->ji", sums, drawn) / count
    # A covariance of n draws is known to the product of both standard deviations by √n.
    assert np.abs(seen - with_sum).max() < 5.0 * sums.std() * stated.max() / np.sqrt(count)


def test_a_spline_stored_before_there_was_relief_has_none() -> None:
    grid = Grid(x0_m=0.0, y0_m=0.0, step_m=0.5, nx=11, ny=15)
    field = relief_field(spline=_spline(None), grid=grid)
    assert not field.draws(count=2, rng=np.random.default_rng(1)).any()
    assert not field.with_sum(np.ones((15, 11))).any()
