"""Symmetric positive definite band matrices: factor, solve, and the band of the inverse.

A band is kept as rows of the lower triangle by column: ``band[c, d]`` is the entry (c + d, c), shape
(n, width + 1). Its transpose is what LAPACK calls lower band storage.
"""

from typing import cast

import numpy as np
from scipy.linalg import lapack

from slab_core.errors import SlabError
from slab_core.numerics.grid import Floats
from slab_core.numerics.kernel import summing_kernel


class NotPositive(SlabError):
    """A matrix that should be positive definite is not."""

    code = "not-positive-definite"


def factor(band: Floats) -> Floats:
    """Cholesky factor L with A = L Lᵀ, in the same storage.

    Raises
    ------
    NotPositive
        when A is not positive definite to working accuracy.
    """
    lower, info = lapack.dpbtrf(band.T, lower=1, overwrite_ab=0)
    if info != 0:
        raise NotPositive(f"leading minor {info} of {len(band)} is not positive")
    return cast(Floats, lower.T)


def solve(lower: Floats, right: Floats) -> Floats:
    """x with L Lᵀ x = right; `right` has the shape (n,) or (n, k)."""
    x, _ = lapack.dpbtrs(lower.T, right, lower=1)
    return cast(Floats, x)


def solve_transposed(lower: Floats, right: Floats) -> Floats:
    """x with Lᵀ x = right; `right` has the shape (n, k). Turns white noise into draws of covariance A⁻¹."""
    x, _ = lapack.dtbtrs(lower.T, right, uplo="L", trans="T")
    return cast(Floats, x)


def log_determinant(lower: Floats) -> float:
    """ln det A from its factor."""
    return float(2.0 * np.log(lower[:, 0]).sum())


def inverse_band(lower: Floats) -> Floats:
    """Entries of A⁻¹ inside the band, exactly, without forming the rest.

    Takahashi's recursion from the last column to the first; cost n·width². Source: K. Takahashi,
    J. Fagan, M. Chin, "Formation of a sparse bus impedance matrix", 1973 (from memory).
    """
    inverse = np.zeros_like(lower, order="C")
    _takahashi(np.ascontiguousarray(lower), inverse)
    return inverse


@summing_kernel
def _takahashi(lower: Floats, inverse: Floats) -> None:
    n, width = lower.shape[0], lower.shape[1] - 1
    row = np.zeros(width)
    product = np.zeros(width)
    for c in range(n - 1, -1, -1):
        m = min(width, n - 1 - c)
        pivot = 1.0 / lower[c, 0]
        for k in range(m):
            row[k] = lower[c, k + 1] * pivot
            product[k] = 0.0
        for k in range(m):
            column = inverse[c + 1 + k]
            own = row[k]
            dot = column[0] * own
            for d in range(1, m - k):
                product[k + d] += column[d] * own
                dot += column[d] * row[k + d]
            product[k] += dot
        total = pivot * pivot
        for k in range(m):
            inverse[c, k + 1] = -product[k]
            total += row[k] * product[k]
        inverse[c, 0] = total
