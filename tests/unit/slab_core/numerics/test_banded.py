"""The band routines against dense algebra."""

import numpy as np
import pytest

from slab_core.numerics import banded
from slab_core.numerics.grid import Floats


def _random_band(*, n: int, width: int, seed: int) -> tuple[Floats, Floats]:
    rng = np.random.default_rng(seed)
    band = rng.normal(size=(n, width + 1))
    band[:, 0] = 2.0 * width + 2.0 + rng.uniform(size=n)
    dense = np.zeros((n, n))
    for c in range(n):
        for d in range(min(width + 1, n - c)):
            dense[c + d, c] = dense[c, c + d] = band[c, d]
    return band, dense


@pytest.mark.parametrize(("n", "width"), [(1, 0), (2, 1), (7, 3), (40, 11), (12, 20)])
def test_factor_solve_and_determinant_equal_dense_algebra(n: int, width: int) -> None:
    band, dense = _random_band(n=n, width=width, seed=n)
    lower = banded.factor(band)
    right = np.random.default_rng(1).normal(size=n)
    np.testing.assert_allclose(banded.solve(lower, right), np.linalg.solve(dense, right), atol=1e-12)
    assert banded.log_determinant(lower) == pytest.approx(np.linalg.slogdet(dense)[1], abs=1e-10)


@pytest.mark.parametrize(("n", "width"), [(1, 0), (2, 1), (7, 3), (40, 11), (12, 20)])
def test_the_band_of_the_inverse_is_exact(n: int, width: int) -> None:
    band, dense = _random_band(n=n, width=width, seed=n + 50)
    inverse, whole = banded.inverse_band(banded.factor(band)), np.linalg.inv(dense)
    for c in range(n):
        for d in range(min(width + 1, n - c)):
            assert inverse[c, d] == pytest.approx(whole[c + d, c], abs=1e-13)


def test_noise_solved_with_the_transposed_factor_has_the_inverse_as_covariance() -> None:
    band, dense = _random_band(n=9, width=4, seed=3)
    root = banded.solve_transposed(banded.factor(band), np.asfortranarray(np.eye(9)))
    np.testing.assert_allclose(root @ root.T, np.linalg.inv(dense), atol=1e-13)


def test_a_matrix_that_is_not_positive_is_an_error_with_its_minor() -> None:
    with pytest.raises(banded.NotPositive, match="minor 2 of 3"):
        banded.factor(np.array([[1.0, 2.0], [1.0, 0.0], [1.0, 0.0]]))
