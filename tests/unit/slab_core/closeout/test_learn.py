"""What jobs say of a rate."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from slab_core.closeout.learn import PRIOR_SD, absurd, learn
from slab_core.closeout.model import Learned

NOISE = 0.17


def _learn(*ratios: float) -> Learned:
    return learn(code="clean", ratios=np.array(ratios), noise_sd=NOISE)


def test_before_any_job_the_planned_figure_stands_within_the_prior() -> None:
    found = _learn()
    assert (found.jobs, found.factor) == (0, 1.0)
    assert found.high == pytest.approx(np.exp(1.96 * PRIOR_SD))
    assert found.low == pytest.approx(np.exp(-1.96 * PRIOR_SD))


def test_one_job_as_planned_narrows_what_is_believed_and_leaves_it_at_one() -> None:
    before, after = _learn(), _learn(1.0)
    assert after.factor == pytest.approx(1.0)
    assert after.high < before.high


def test_an_update_by_plain_jobs_is_close_to_the_conjugate_normal_one() -> None:
    """Precision of the prior plus that of the jobs; weights of entries near the mean are near (4 + 1) / 4."""
    ratios = np.array([1.08, 1.12, 1.10, 1.09])
    exact = np.log(ratios).sum() / NOISE**2 / (1.0 / PRIOR_SD**2 + len(ratios) / NOISE**2)
    assert np.log(_learn(*ratios).factor) == pytest.approx(exact, rel=0.05)


def test_many_jobs_find_the_crews_own_pace() -> None:
    rng = np.random.default_rng(4)
    found = _learn(*(1.3 * np.exp(NOISE * rng.standard_normal(60))))
    assert found.factor == pytest.approx(1.3, rel=0.05)
    assert found.low < 1.3 < found.high


def test_what_is_said_to_hold_the_true_pace_with_95_percent_does_so() -> None:
    """Over crews drawn from the prior, with one to eight jobs each."""
    rng = np.random.default_rng(8)
    held = []
    for _ in range(1500):
        true = PRIOR_SD * rng.standard_normal()
        logs = true + NOISE * rng.standard_normal(rng.integers(1, 9))
        found = _learn(*np.exp(logs))
        held.append(found.low <= np.exp(true) <= found.high)
    assert 0.93 <= np.mean(held) <= 0.97


@given(
    jobs=st.lists(st.floats(0.8, 1.25), min_size=3, max_size=12),
    factor=st.sampled_from([0.01, 0.1, 10.0, 100.0]),
)
def test_one_absurd_entry_is_left_out_and_changes_nothing(jobs: list[float], factor: float) -> None:
    plain, spoilt = _learn(*jobs), _learn(*jobs, factor)
    assert (spoilt.jobs, spoilt.left_out) == (len(jobs), 1)
    assert spoilt.factor == pytest.approx(plain.factor, rel=1e-9)


def test_a_job_that_went_wrong_counts_little() -> None:
    """Twice the hours once in ten jobs: a plain mean of logarithms would be off by 7 %."""
    usual = [0.95, 1.05, 1.0, 0.98, 1.02, 1.01, 0.99, 1.03, 0.97]
    assert _learn(*usual, 2.0).factor < 1.035


@given(st.permutations([0.9, 1.1, 1.3, 1.05, 0.97]))
def test_the_order_of_jobs_is_no_matter(ratios: list[float]) -> None:
    assert _learn(*ratios).factor == pytest.approx(_learn(0.9, 1.1, 1.3, 1.05, 0.97).factor, rel=1e-9)


def test_an_entry_alone_is_held_against_the_prior() -> None:
    assert absurd(logs=np.log([10.0]), noise_sd=NOISE).tolist() == [True]
    assert absurd(logs=np.log([2.0]), noise_sd=NOISE).tolist() == [False]
