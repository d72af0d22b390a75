"""How near readings lie, against distances to every one of them."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from slab_core.numerics.grid import Floats, Grid
from slab_core.surface.nearness import NEIGHBOURS, Measured, measured


def _measured(places: Floats) -> Measured:
    return measured(x_m=places[:, 0], y_m=places[:, 1], weight=np.ones(len(places)))


def _of_all(at: Floats, places: Floats) -> Floats:
    """Distances to all places in order, shape (n, places)."""
    return np.sort(np.hypot(*(at[:, None, :] - places[None, :, :]).transpose(2, 0, 1)), axis=1)


PLACE = st.tuples(st.floats(-3.0, 9.0), st.floats(-3.0, 9.0))


@settings(max_examples=60, deadline=None)
@given(read=st.lists(PLACE, min_size=3, max_size=40), at=st.lists(PLACE, min_size=1, max_size=20))
def test_the_nearest_and_the_fourth_are_those_of_all_readings_wherever_they_lie(
    read: list[tuple[float, float]], at: list[tuple[float, float]]
) -> None:
    places, wanted = np.array(read), np.array(at)
    every = _of_all(wanted, places)
    nearest, fourth = _measured(places).distances(wanted)
    np.testing.assert_allclose(nearest, every[:, 0], atol=1e-12)
    np.testing.assert_allclose(fourth, every[:, min(NEIGHBOURS, len(places)) - 1], atol=1e-12)


@pytest.mark.parametrize("crowded", [0, 380])
def test_a_reading_is_not_its_own_neighbour_where_many_are_crowded_and_where_few_are(crowded: int) -> None:
    rng = np.random.default_rng(4)
    places = rng.uniform((0.0, 0.0), (5.0, 7.0), size=(400, 2))
    places[:crowded] *= 0.02
    every = _of_all(places, places)
    nearest, fourth = _measured(places).distances(places, without_own=True)
    np.testing.assert_allclose(nearest, every[:, 1], atol=1e-12)
    np.testing.assert_allclose(fourth, every[:, NEIGHBOURS], atol=1e-12)


def test_readings_on_one_line_or_at_one_place_are_found_too() -> None:
    wanted = np.array([[0.0, 0.0], [2.0, 1.0], [50.0, -40.0]])
    for places in (np.column_stack([np.arange(9.0), np.zeros(9)]), np.ones((5, 2))):
        every = _of_all(wanted, places)
        nearest, fourth = _measured(places).distances(wanted)
        np.testing.assert_allclose(nearest, every[:, 0], atol=1e-12)
        np.testing.assert_allclose(fourth, every[:, NEIGHBOURS - 1], atol=1e-12)


def test_only_places_with_weight_in_an_observation_are_read() -> None:
    x, y = np.array([[0.0, 9.0], [1.0, 9.0], [2.0, 9.0]]), np.zeros((3, 2))
    seen = measured(x_m=x, y_m=y, weight=np.array([[1.0, 0.0], [1.0, 0.0], [1.0, 0.0]]))
    assert seen.distances(np.array([[9.0, 0.0]]))[0] == pytest.approx(7.0)


@pytest.mark.parametrize(("nx", "ny"), [(101, 141), (100, 140), (2, 1)])
def test_distances_on_a_fine_grid_are_those_of_its_nodes_to_the_diagonal_of_a_cell(nx: int, ny: int) -> None:
    seen = _measured(np.array([[2.0, 3.0], [2.5, 3.0], [2.0, 3.5], [2.5, 3.5]]))
    grid = Grid(x0_m=0.0, y0_m=0.0, step_m=0.05, nx=nx, ny=ny)
    for found, exact in zip(seen.on_grid(grid), seen.distances(grid.places()), strict=True):
        # A distance changes by no more than the way gone, here to nodes one cell's diagonal away.
        assert np.abs(found.ravel() - exact).max() <= np.sqrt(2.0) * grid.step_m + 1e-12
