"""What a surface says to a person who has the surfaces of several floors before him."""

from dataclasses import replace

import numpy as np
import pytest

from slab_core.errors import InputRefused
from slab_core.numerics.budget import Budget
from slab_core.surface.fit import fit_surface
from slab_core.surface.model import SurfaceOptions
from slab_core.surveys.model import Observations
from tests.slabs import floor_of, grid_places, make_slab, read_slab, stepped


def _read(*, seed: int, count: int, step_m: float = 0.0) -> Observations:
    rng = np.random.default_rng(seed)
    slab = stepped(make_slab(rng=rng), at_m=2.3, step_m=step_m)
    return read_slab(slab=slab, places=grid_places(floor=slab.floor, count=count, rng=rng), rng=rng)


def _off(seen: Observations, *, by_m: float) -> Observations:
    """The reading in the middle is so much higher."""
    value = seen.value_m.copy()
    value[np.hypot(seen.x_m[:, 0] - 2.5, seen.y_m[:, 0] - 3.5).argmin()] += by_m
    return replace(seen, value_m=value)


def _two_setups(seen: Observations) -> Observations:
    """Every other reading is from a setup that is 4 mm off and said to be known to 0.5 mm."""
    other = np.arange(len(seen.value_m)) % 2 == 1
    return replace(
        seen,
        value_m=seen.value_m + np.where(other, 0.004, 0.0),
        shared_m=np.where(other, 0.0005, 0.0)[:, None],
        shared_by=("/surveys/0/setups/1",),
    )


_CASES = {
    "misread": _off(_read(seed=4, count=150), by_m=0.0254),
    "doubtful-reading": _off(_read(seed=7, count=60), by_m=0.0254),
    "setup-off": _two_setups(_read(seed=3, count=150)),
    "step-suspected": _read(seed=1, count=600, step_m=0.006),
    "measure-more-here": _read(seed=2, count=9),
}


@pytest.mark.parametrize("code", _CASES)
def test_every_finding_of_a_surface_begins_with_its_floor(code: str) -> None:
    floor = floor_of(shell=((0.0, 0.0), (5.0, 0.0), (5.0, 7.0), (0.0, 7.0)), name="hall")
    surface = fit_surface(
        floor=floor, observations=_CASES[code], options=SurfaceOptions(grid_step_m=0.2), budget=Budget()
    )
    assert code in {problem.code for problem in surface.problems}
    for problem in surface.problems:
        assert problem.detail.startswith("floor hall: "), problem
        assert problem.detail.count("floor hall") == 1


def test_a_reading_that_is_no_number_is_refused_with_its_floor() -> None:
    floor = floor_of(shell=((0.0, 0.0), (5.0, 0.0), (5.0, 7.0), (0.0, 7.0)), name="hall")
    seen = _off(_read(seed=1, count=60), by_m=np.inf)
    with pytest.raises(InputRefused) as caught:
        fit_surface(floor=floor, observations=seen, options=SurfaceOptions(), budget=Budget())
    assert caught.value.problems[0].detail.startswith("floor hall: ")
