"""What is believed of a slab that nobody has seen, before and after the firm's own jobs."""

from dataclasses import replace
from math import exp, log, sqrt

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from slab_core.materials.slab_kinds import (
    SPREAD_SLABS,
    STARTER,
    age_of,
    believed,
    kind_of,
)
from slab_core.materials.slab_kinds_model import Seen, SlabRate
from slab_core.units.conversions import SQUARE_METRES_PER_SQUARE_FOOT as FOOT2_M2

RATE = SlabRate(median_per_m2=0.4, sd=0.4, slabs=4.0)
LOGS = st.lists(st.floats(-3.0, 1.0), min_size=1, max_size=8)


def _shown(logs: list[float]) -> Seen:
    """Slabs seen whole, without weights."""
    values = np.array(logs)
    mean, count = float(values.mean()), float(len(logs))
    return Seen(jobs=len(logs), weight=count, count=count, median_per_m2=exp(mean), sd=float(values.std()))


def test_nothing_seen_leaves_the_prior() -> None:
    found = believed(RATE)
    assert (found.mean, found.slabs, found.sd) == (log(0.4), 4.0, 0.4)


def test_the_update_is_bayes_by_brute_force() -> None:
    """Posterior means of the mean and of the variance, integrated over a fine grid of both."""
    logs = [-0.2, -0.9, -0.4, -1.1, -0.3]
    mu = np.linspace(-3.0, 1.0, 801)[:, None]
    variance = np.exp(np.linspace(log(0.005), log(20.0), 1601))[None, :]
    degrees, squares = SPREAD_SLABS, RATE.sd**2 * (SPREAD_SLABS - 2.0)
    log_p = -(degrees / 2 + 1) * np.log(variance) - squares / (2 * variance)  # scaled inverse chi-square
    log_p = log_p - 0.5 * np.log(variance / 4.0) - 4.0 * (mu - log(0.4)) ** 2 / (2 * variance)
    for value in logs:
        log_p = log_p - 0.5 * np.log(variance) - (value - mu) ** 2 / (2 * variance)
    p = np.exp(log_p - log_p.max()) * variance  # equal steps of the logarithm
    found = believed(replace(RATE, seen=_shown(logs)))
    assert found.mean == pytest.approx(float((p * mu).sum() / p.sum()), abs=1e-4)
    assert found.sd**2 == pytest.approx(float((p * variance).sum() / p.sum()), rel=1e-3)


@given(first=LOGS, second=LOGS)
def test_jobs_told_together_or_one_lot_after_the_other_teach_the_same(
    first: list[float], second: list[float]
) -> None:
    """The posterior of the first is a prior for the second: conjugate."""
    whole = believed(replace(RATE, seen=_shown(first + second)))
    half = believed(replace(RATE, seen=_shown(first)))
    shown = _shown(second)
    slabs = half.slabs + shown.weight
    degrees = SPREAD_SLABS + len(first)
    squares = half.sd**2 * (degrees - 2.0) + shown.sd**2 * shown.count
    squares += half.slabs * shown.weight / slabs * (log(shown.median_per_m2) - half.mean) ** 2
    assert whole.mean == pytest.approx(
        (half.slabs * half.mean + shown.weight * log(shown.median_per_m2)) / slabs, abs=1e-9
    )
    assert whole.sd == pytest.approx(sqrt(squares / (degrees + len(second) - 2.0)), rel=1e-9, abs=1e-9)


def test_many_jobs_outweigh_the_prior() -> None:
    found = believed(replace(RATE, seen=_shown([log(0.9) + d for d in (-0.1, 0.1)] * 2000)))
    assert exp(found.mean) == pytest.approx(0.9, rel=0.02)
    assert found.sd == pytest.approx(0.1, rel=0.05)


def test_a_usual_job_of_300_square_feet_takes_two_to_eight_bags_a_hundred_in_87_of_100_cases() -> None:
    """Common practice, no single source: 2-8 bags per 100 ft²; 1.5 standard deviations to either side."""
    bags = believed(kind_of(kinds=(), removal="none", age="settled").bags)
    sd = bags.of_one_sd(300 * FOOT2_M2)
    low, high = (exp(bags.mean + k * sd) * 100 * FOOT2_M2 for k in (-1.5, 1.5))
    assert [low, high] == pytest.approx([2.0, 8.0], rel=0.01)


def test_a_large_floor_is_surer_than_a_small_one_and_never_surer_than_its_building() -> None:
    found = believed(RATE)
    sds = [found.of_one_sd(area) for area in (5.0, 20.0, 100.0, 1e9)]
    assert sds == sorted(sds, reverse=True)
    assert sds[-1] == pytest.approx(0.4 * sqrt(1.25))


def test_the_firm_s_own_kind_goes_before_the_starter_s() -> None:
    own = replace(STARTER[0], bags=RATE)
    assert kind_of(kinds=(own,), removal=own.removal, age=own.age) is own
    assert kind_of(kinds=(), removal=own.removal, age=own.age) is STARTER[0]


@pytest.mark.parametrize(
    ("built", "age"),
    [(None, "unknown"), (2017, "recent"), (2016, "settled"), (1987, "settled"), (1986, "old")],
)
def test_age_is_told_by_the_year_of_building(built: int | None, age: str) -> None:
    assert age_of(built_year=built, year=2026) == age
