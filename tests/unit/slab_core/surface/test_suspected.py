"""Steps that nobody declared are suggested, rarely where there is none, and never applied."""

import re
from dataclasses import replace

import numpy as np
import pytest

from slab_core.errors import Problem
from slab_core.numerics.budget import Budget
from slab_core.rooms.model import Joint
from slab_core.surface.fit import fit_surface
from slab_core.surface.model import Surface, SurfaceOptions
from slab_core.surveys.model import Observations
from tests.slabs import Slab, grid_places, make_slab, read_slab, stepped

SLABS = 20
READINGS = 400
AT_M = 2.2


def _fit(slab: Slab, seen: Observations) -> Surface:
    options = SurfaceOptions(grid_step_m=0.2)
    return fit_surface(floor=slab.floor, observations=seen, options=options, budget=Budget())


def _suspected(surface: Surface) -> list[Problem]:
    return [problem for problem in surface.problems if problem.code == "step-suspected"]


def _read(slab: Slab, *, seed: int, count: int = READINGS) -> Observations:
    rng = np.random.default_rng(seed)
    return read_slab(slab=slab, places=grid_places(floor=slab.floor, count=count, rng=rng), rng=rng)


def _smooth(seed: int, *, ridges_m: float = 0.0, wall_band_m: float = 0.0) -> Slab:
    return make_slab(
        rng=np.random.default_rng(seed),
        hump_m=(0.012, 0.019)[seed % 2],
        ridges_m=ridges_m,
        wall_band_m=wall_band_m,
    )


def test_twenty_slabs_with_humps_ridges_and_wall_bands_raise_no_alarm() -> None:
    alarms = [
        problem.detail
        for seed in range(SLABS)
        for count in (60, READINGS)
        for slab in (_smooth(seed, ridges_m=0.002 * (seed % 4 == 2), wall_band_m=0.004 * (seed % 4 == 3)),)
        for problem in _suspected(_fit(slab, _read(slab, seed=100 + seed, count=count)))
    ]
    assert alarms == []


def test_most_steps_of_5_mm_are_found_under_dense_readings() -> None:
    found = 0
    for seed in range(SLABS):
        slab = stepped(_smooth(seed), at_m=1.5 + 0.1 * seed, step_m=0.005)
        found += bool(_suspected(_fit(slab, _read(slab, seed=200 + seed))))
    assert found > 0.5 * SLABS


def test_the_suggestion_says_where_how_high_and_which_side_and_changes_nothing() -> None:
    slab = stepped(_smooth(2), at_m=AT_M, step_m=0.005)
    surface = _fit(slab, _read(slab, seed=1, count=1500))
    (problem,) = _suspected(surface)
    assert problem.severity == "finding"
    said = re.search(r"step of (\d\.\d\d) in \((\d\.\d) mm\)", problem.detail)
    assert said is not None
    assert float(said[1]) * 25.4 == pytest.approx(float(said[2]), abs=0.2)
    assert float(said[2]) == pytest.approx(5.0, abs=0.8)
    assert "wall 1-2" in problem.detail
    assert "wall 3-4" in problem.detail
    assert "from wall 4-1" in problem.detail
    assert surface.spline.joints == ()
    assert surface.steps == ()


@pytest.mark.parametrize("declared", [True, False])
def test_a_declared_step_is_no_longer_suspected(declared: bool) -> None:
    slab = stepped(_smooth(4), at_m=AT_M, step_m=0.006)
    seen = _read(slab, seed=3, count=800)
    joint = Joint(id="cut", kind="control", start=(AT_M, 0.0), end=(AT_M, 7.0))
    floor = replace(slab.floor, rooms=(replace(slab.floor.rooms[0], joints=(joint,) if declared else ()),))
    assert bool(_suspected(_fit(replace(slab, floor=floor), seen))) is not declared
