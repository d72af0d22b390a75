"""How large the steps and kinks of joints are, against their mixture worked out one model at a time."""

from itertools import product

import numpy as np
import pytest

from slab_core.numerics.grid import Floats
from slab_core.surface.joint_scales import (
    KINK_SCALES,
    STEP_SCALES,
    JointEvidence,
    likeliest_scales,
    mixture,
    start_scales,
)
from slab_core.surface.joints import COLUMNS, STEP_COLUMNS


def _evidence(*, joints: int, own: Floats, seed: int = 0, noise: float = 1.0) -> JointEvidence:
    """Two hundred observations of columns of unit size, whose coefficients are `own`."""
    rng = np.random.default_rng(seed)
    columns = 3.0 * rng.normal(size=(200, COLUMNS * joints))
    value = columns @ own + noise * rng.normal(size=200)
    return JointEvidence(
        gram=columns.T @ columns, right=columns.T @ value, squares=float(value @ value), freedom=200.0
    )


def test_a_joint_that_does_nothing_gets_the_smallest_scales() -> None:
    found = likeliest_scales(_evidence(joints=1, own=np.zeros(COLUMNS)), start=start_scales(joints=1))
    assert found[0] == STEP_SCALES[0]
    assert found[STEP_COLUMNS] == KINK_SCALES[0]


def test_of_two_joints_only_the_one_that_steps_gets_a_large_scale() -> None:
    own = np.zeros(2 * COLUMNS)
    own[COLUMNS : COLUMNS + STEP_COLUMNS] = 0.6
    found = likeliest_scales(_evidence(joints=2, own=own), start=start_scales(joints=2))
    assert found[0] == STEP_SCALES[0]
    assert found[COLUMNS] >= 0.5


@pytest.mark.parametrize("seed", range(4))
def test_for_one_joint_the_scales_are_the_likeliest_of_all(seed: int) -> None:
    own = 0.1 * np.random.default_rng(seed).normal(size=COLUMNS)
    evidence = _evidence(joints=1, own=own, seed=seed)
    found = likeliest_scales(evidence, start=start_scales(joints=1))
    pairs = product(STEP_SCALES, KINK_SCALES)
    every = np.array([np.repeat(pair, [STEP_COLUMNS, COLUMNS - STEP_COLUMNS]) for pair in pairs])
    assert evidence.against(found[None])[0] == pytest.approx(evidence.against(every).min())


def test_the_mixture_is_the_mean_and_spread_of_all_models_by_their_weights() -> None:
    own = np.array([0.1, 0.05, 0.0, 0.4, 0.1])
    evidence = _evidence(joints=1, own=own, noise=3.0)
    mean, covariance = mixture(evidence, scales=likeliest_scales(evidence, start=start_scales(joints=1)))
    weights, models = [], []
    for pair in product(STEP_SCALES, KINK_SCALES):
        scales = np.repeat(pair, [STEP_COLUMNS, COLUMNS - STEP_COLUMNS])
        spread = np.linalg.inv(evidence.gram + np.diag(scales**-2.0))
        weights.append(np.exp(-0.5 * evidence.against(scales[None])[0]))
        models.append((spread @ evidence.right, spread))
    share = np.array(weights) / np.sum(weights)
    expected = sum(w * m for w, (m, _) in zip(share, models, strict=True))
    second = sum(w * (s + np.outer(m, m)) for w, (m, s) in zip(share, models, strict=True))
    np.testing.assert_allclose(mean, expected, rtol=1e-4)
    np.testing.assert_allclose(covariance, second - np.outer(expected, expected), rtol=1e-3, atol=1e-8)


def test_the_misfit_is_the_likelihood_of_the_readings_with_the_noise_profiled_out() -> None:
    rng = np.random.default_rng(3)
    columns, value = rng.normal(size=(30, COLUMNS)), rng.normal(size=30)
    evidence = JointEvidence(
        gram=columns.T @ columns, right=columns.T @ value, squares=float(value @ value), freedom=30.0
    )
    scales = np.array([0.5, 0.5, 0.5, 2.0, 2.0])
    cover = np.eye(30) + columns @ np.diag(scales**2) @ columns.T
    quadratic = value @ np.linalg.solve(cover, value)
    expected = 30.0 * np.log(quadratic / 30.0) + np.linalg.slogdet(cover)[1]
    assert evidence.misfit(scales[None])[0] == pytest.approx(expected)
    assert evidence.noise(scales[None])[0] == pytest.approx(quadratic / 30.0)
