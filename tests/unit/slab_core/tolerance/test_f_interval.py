"""The interval of combined F-numbers, and F-numbers of a fitted surface."""

import numpy as np
import pytest

from slab_core.numerics.budget import Budget
from slab_core.numerics.grid import Floats
from slab_core.surface.fit import fit_surface
from slab_core.surface.model import SurfaceOptions
from slab_core.surveys.model import Profile
from slab_core.tolerance.f_estimated import estimated
from slab_core.tolerance.f_interval import interval
from slab_core.tolerance.f_numbers import combined, f_numbers, line_f_numbers
from tests.slabs import grid_places, make_slab, read_slab

FOOT = 0.3048


def _heights(rng: np.random.Generator, *, count: int) -> Floats:
    walk = np.cumsum(rng.normal(0.0, 0.0012, count + 20))[20:]
    return np.asarray(walk + rng.normal(0.0, 0.0003, count))


def _flatness(rng: np.random.Generator, *, lines: int) -> tuple[tuple[float, int], ...]:
    made = [line_f_numbers(name="", heights_m=_heights(rng, count=25)) for _ in range(lines)]
    return tuple((line.ff, line.q_count) for line in made)


def test_nine_in_ten_intervals_cover_what_very_many_lines_give() -> None:
    rng = np.random.default_rng(5)
    truth = combined(_flatness(rng, lines=4000))
    found = [interval(_flatness(rng, lines=6)) for _ in range(300)]
    covered = [low <= truth <= high for low, high in (each for each in found if each is not None)]
    assert len(covered) == 300
    assert 0.85 <= np.mean(covered) <= 0.95


def test_the_interval_holds_the_combined_number_and_is_the_same_every_time() -> None:
    numbers = _flatness(np.random.default_rng(1), lines=8)
    limits = interval(numbers)
    assert limits is not None
    assert limits[0] < combined(numbers) < limits[1]
    assert interval(numbers) == limits


@pytest.mark.parametrize("numbers", [((30.0, 20),) * 3, ((30.0, 20),) * 4 + ((float("inf"), 20),)])
def test_few_lines_or_a_perfect_plane_give_no_interval(numbers: tuple[tuple[float, int], ...]) -> None:
    assert interval(numbers) is None


def test_measured_lines_carry_their_intervals() -> None:
    rng = np.random.default_rng(2)
    lines = tuple(
        Profile(id=str(k), start=(0, k), end=(7, k), spacing_m=FOOT, height_m=_heights(rng, count=24))
        for k in range(5)
    )
    found, _ = f_numbers(profiles=lines, area_m2=80.0, width_m=8.0)
    assert found is not None
    assert not found.estimated
    for value, limits in ((found.ff, found.ff_interval), (found.fl, found.fl_interval)):
        assert limits is not None
        assert limits[0] < value < limits[1]


def test_f_numbers_of_a_fitted_surface_are_called_estimated_and_read_high() -> None:
    rng = np.random.default_rng(3)
    slab = make_slab(rng=rng, ridges_m=0.003)
    readings = read_slab(slab=slab, places=grid_places(floor=slab.floor, count=60, rng=rng), rng=rng)
    surface = fit_surface(floor=slab.floor, observations=readings, options=SurfaceOptions(), budget=Budget())
    found = estimated(floor=slab.floor, surface=surface)
    assert found is not None
    assert found.estimated
    assert "read high" in found.notes[0]
    for line in found.lines:
        assert line.q_count >= 10
    truth = []
    share = np.arange(0.0, 5.0, FOOT) / np.sqrt(2.0)
    for x0, y0 in ((0.7, 0.7), (0.7, 2.4)):
        heights = slab.height(x0 + share, y0 + share)
        truth.append(line_f_numbers(name="", heights_m=heights))
    assert found.ff > combined(tuple((line.ff, line.q_count) for line in truth))
