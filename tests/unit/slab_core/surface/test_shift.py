"""How much higher one survey tells a floor than another one does."""

from dataclasses import replace

import numpy as np
import pytest

from slab_core.numerics.budget import Budget
from slab_core.surface.shift import Shift, shift_between
from slab_core.surveys.model import Observations
from tests.slabs import grid_places, make_slab, read_slab

SEEDS = range(8)


def _shift(seed: int, *, off_m: float, second: int = 60) -> Shift:
    """Two surveys of one slab at places of their own, the later one so much higher."""
    rng = np.random.default_rng(seed)
    slab = make_slab(rng=rng)
    one, two = (
        read_slab(slab=slab, places=grid_places(floor=slab.floor, count=count, rng=rng), rng=rng)
        for count in (120, second)
    )
    seen = Observations(
        x_m=np.concatenate([one.x_m, two.x_m]),
        y_m=np.concatenate([one.y_m, two.y_m]),
        weight=np.concatenate([one.weight, two.weight]),
        value_m=np.concatenate([one.value_m, two.value_m + off_m]),
        sd_m=np.concatenate([one.sd_m, two.sd_m]),
        position_sd_m=np.concatenate([one.position_sd_m, two.position_sd_m]),
        pointer=one.pointer + two.pointer,
    )
    later = np.arange(len(seen.value_m)) >= len(one.value_m)
    return shift_between(floor=slab.floor, seen=seen, later=later, budget=Budget())


@pytest.mark.parametrize("off_m", [0.0, 0.003, -0.05, 100.0])
def test_a_shift_of_any_size_is_found_between_places_that_only_one_survey_read(off_m: float) -> None:
    found = _shift(1, off_m=off_m)
    assert found.height_m == pytest.approx(off_m, abs=4.0 * found.sd_m)
    assert 0.00005 < found.sd_m < 0.0005


def test_its_standard_error_is_that_of_repeated_surveys() -> None:
    found = [_shift(seed, off_m=0.002) for seed in SEEDS]
    normalised = [(one.height_m - 0.002) / one.sd_m for one in found]
    # Of 8 normal values the root mean square lies within these bounds in 998 of 1,000 cases.
    assert 0.33 < float(np.sqrt(np.mean(np.square(normalised)))) < 1.85


def test_few_readings_tell_it_less_surely() -> None:
    few, many = (_shift(2, off_m=0.002, second=second) for second in (9, 90))
    assert few.sd_m > 1.5 * many.sd_m


def test_what_the_setups_leave_unsure_of_a_survey_is_part_of_the_error() -> None:
    rng = np.random.default_rng(3)
    slab = make_slab(rng=rng)
    seen = read_slab(slab=slab, places=grid_places(floor=slab.floor, count=160, rng=rng), rng=rng)
    later = rng.random(len(seen.value_m)) < 0.5
    by_setup = replace(seen, shared_m=np.where(later, 0.001, 0.0)[:, None])
    alone, tied = (
        shift_between(floor=slab.floor, seen=one, later=later, budget=Budget()) for one in (seen, by_setup)
    )
    assert alone.sd_m < 0.0003
    assert tied.sd_m == pytest.approx(0.001, rel=0.25)
