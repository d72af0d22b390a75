"""What jobs say of slabs that nobody has seen yet."""

from dataclasses import replace
from math import log

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from slab_core.closeout.model import LearnedSlab, SlabTold
from slab_core.closeout.slabs import LEAST_PER_M2, Told, absurd_slabs, learn_slabs, seen
from slab_core.materials import starter
from slab_core.materials.slab_kinds import believed, kind_of, unevenness
from slab_core.materials.slab_kinds_model import SlabRate

RATES = starter.rates()
RATE = SlabRate(median_per_m2=0.4, sd=0.4)
AREA = 28.0


def _told(*rates: float, areas: tuple[float, ...] = ()) -> Told:
    return Told(np.log(np.array(rates)), np.array(areas or [AREA] * len(rates)))


def _slab(bags: float | None, grinding: float | None = None, *, area: float = AREA) -> SlabTold:
    return SlabTold(removal="carpet", age="old", area_m2=area, bags=bags, grinding=grinding)


def _bags(*told: SlabTold) -> LearnedSlab:
    _, effects = learn_slabs(rates=RATES, told=told)
    return next(each for each in effects if each.what == "bags")


def test_slabs_like_the_prior_leave_the_median_and_narrow_the_doubt() -> None:
    found = believed(replace(RATE, seen=seen(rate=RATE, told=_told(*[0.4] * 5))))
    assert found.mean == pytest.approx(log(0.4))
    assert found.slabs > RATE.slabs
    assert found.sd < RATE.sd


def test_plain_slabs_are_updated_by_the_exact_conjugate_rule() -> None:
    """Normal-inverse-gamma with known ratios of variance; slabs this near count whole."""
    rates, areas = (0.38, 0.42, 0.44, 0.39), (12.0, 30.0, 55.0, 80.0)
    shown = seen(rate=RATE, told=_told(*rates, areas=areas))
    weights = np.array([1.0 / unevenness(area) for area in areas])
    logs = np.log(rates)
    assert shown.weight == pytest.approx(weights.sum())
    assert shown.count == 4.0
    middle = float(weights @ logs / weights.sum())
    assert log(shown.median_per_m2) == pytest.approx(middle)
    assert shown.sd**2 * 4.0 == pytest.approx(float(weights @ (logs - middle) ** 2))
    exact = (4.0 * log(0.4) + weights @ logs) / (4.0 + weights.sum())
    assert believed(replace(RATE, seen=shown)).mean == pytest.approx(float(exact))


def test_many_slabs_find_the_firm_s_own_rate_and_spread() -> None:
    rng = np.random.default_rng(7)
    areas = rng.uniform(10.0, 90.0, 300)
    scatter = 0.25 * np.sqrt([unevenness(area) for area in areas])
    logs = log(0.7) + scatter * rng.standard_normal(300)
    found = believed(replace(RATE, seen=seen(rate=RATE, told=Told(logs, areas))))
    assert found.mean == pytest.approx(log(0.7), abs=0.06)
    assert found.sd == pytest.approx(0.25, rel=0.15)


@pytest.mark.parametrize("wrong", [0.4 * 60, 0.4 / 60])
def test_one_absurd_slab_is_left_out_and_does_not_swing_the_rest(wrong: float) -> None:
    sane = (0.35, 0.5, 0.42)
    assert absurd_slabs(rate=RATE, told=_told(*sane, wrong)).tolist() == [False, False, False, True]
    clean, spoiled = (seen(rate=RATE, told=_told(*rates)) for rates in (sane, (*sane, wrong)))
    assert replace(spoiled, left_out=0) == clean
    assert spoiled.left_out == 1


def test_an_odd_slab_counts_less_than_a_usual_one() -> None:
    usual, odd = (seen(rate=RATE, told=_told(0.4, 0.4, rate)) for rate in (0.41, 1.6))
    assert odd.left_out == 0
    assert odd.weight < usual.weight


@given(st.permutations([(0.3, 10.0), (0.5, 20.0), (0.9, 30.0), (0.2, 60.0), (30.0, 28.0)]))
def test_the_order_of_jobs_is_no_matter(jobs: list[tuple[float, float]]) -> None:
    ordered = sorted(jobs)
    one, other = (
        seen(rate=RATE, told=_told(*[rate for rate, _ in each], areas=tuple(area for _, area in each)))
        for each in (jobs, ordered)
    )
    assert one.median_per_m2 == pytest.approx(other.median_per_m2)
    assert (one.jobs, one.left_out) == (other.jobs, other.left_out) == (4, 1)


def test_a_kind_is_learned_by_itself_and_the_effect_is_shown() -> None:
    kinds, effects = learn_slabs(rates=RATES, told=tuple(_slab(30.0, 6.0) for _ in range(6)))
    assert [(kind.removal, kind.age) for kind in kinds] == [("carpet", "old")]
    bags, grinding = effects
    prior = kind_of(kinds=(), removal="carpet", age="old")
    assert bags.median_before_per_m2 == pytest.approx(prior.bags.median_per_m2)
    assert prior.bags.median_per_m2 < bags.median_after_per_m2 < 30.0 / AREA
    assert bags.p80_after_per_m2 > bags.median_after_per_m2
    assert (bags.jobs, grinding.jobs) == (6, 6)
    other = kind_of(kinds=kinds, removal="carpet", age="recent")
    assert other == kind_of(kinds=(), removal="carpet", age="recent")


def test_learning_again_from_the_same_jobs_counts_none_twice() -> None:
    told = tuple(_slab(bags, 5.0) for bags in (20.0, 26.0, 31.0))
    kinds, first = learn_slabs(rates=RATES, told=told)
    again, second = learn_slabs(rates=replace(RATES, slab_kinds=kinds), told=told)
    assert again == kinds
    assert [each.median_after_per_m2 for each in second] == [each.median_after_per_m2 for each in first]


def test_a_slab_that_took_nothing_counts_as_the_least_and_one_not_told_as_nothing() -> None:
    none, least = _bags(_slab(0.0)), _bags(_slab(LEAST_PER_M2["bags"] * AREA))
    assert none == least
    assert (none.jobs, none.left_out) == (1, 0)
    assert none.median_after_per_m2 < none.median_before_per_m2
    untold = _bags(_slab(None, 5.0))
    assert untold.jobs == 0
    assert untold.median_after_per_m2 == pytest.approx(untold.median_before_per_m2)
