"""Symmetric positive definite band matrices: factor, solve, and the band of the inverse.

A band is kept as rows of the lower triangle by column: ``band[c, d]`` is the entry (c + d, c), shape
(n, width + 1). Its transpose is what LAPACK calls lower band storage.
"""

from typing import cast

import numpy as np
from scipy.linalg import lapack

from slab_core.errors import SlabError
from slab_core.numerics.grid import Floats
from slab_core.numerics.kernel import kernel, summing_kernel

BLOCKS = 3


class NotPositive(SlabError):
    """A matrix that should be positive definite is not."""

    code = "not-positive-definite"


def factor(band: Floats) -> Floats:
    """Cholesky factor L with A = L Lᵀ, in the same storage and in the same memory: `band` is lost.

    Raises
    ------
    NotPositive
        when A is not positive definite to working accuracy.
    """
    lower, info = lapack.dpbtrf(band.T, lower=1, overwrite_ab=1)
    if info != 0:
        raise NotPositive(f"leading minor {info} of {len(band)} is not positive")
    return cast(Floats, lower.T)


def solve(lower: Floats, right: Floats) -> Floats:
    """x with L Lᵀ x = right; `right` has the shape (n,) or (n, k)."""
    rows = np.array(np.atleast_2d(right.T), order="C")
    _solve_rows(lower, rows)
    return rows[0] if right.ndim == 1 else rows.T


@summing_kernel
def _solve_rows(lower: Floats, rows: Floats) -> None:
    """Right sides are rows, so that each column of the factor comes from memory once for all of them."""
    n, width = lower.shape[0], lower.shape[1] - 1
    for c in range(n):
        reach = min(width, n - 1 - c)
        column = lower[c, 1 : reach + 1]
        for k in range(len(rows)):
            value = rows[k, c] / lower[c, 0]
            rows[k, c] = value
            below = rows[k, c + 1 : c + 1 + reach]
            for d in range(reach):
                below[d] -= value * column[d]
    for c in range(n - 1, -1, -1):
        reach = min(width, n - 1 - c)
        column = lower[c, 1 : reach + 1]
        for k in range(len(rows)):
            below = rows[k, c + 1 : c + 1 + reach]
            total = 0.0
            for d in range(reach):
                total += column[d] * below[d]
            rows[k, c] = (rows[k, c] - total) / lower[c, 0]


def solve_transposed(lower: Floats, right: Floats) -> Floats:
    """x with Lᵀ x = right; `right` has the shape (n, k). Turns white noise into draws of covariance A⁻¹."""
    x, _ = lapack.dtbtrs(lower.T, right, uplo="L", trans="T")
    return cast(Floats, x)


def log_determinant(lower: Floats) -> float:
    """ln det A from its factor."""
    return float(2.0 * np.log(lower[:, 0]).sum())


def inverse_band(lower: Floats) -> Floats:
    """Entries of A⁻¹ inside the band, exactly, without forming the rest.

    Takahashi's recursion from the last columns to the first, by blocks of a third of the band's width so
    that it runs as matrix products; cost n·width². Source: K. Takahashi, J. Fagan, M. Chin, "Formation
    of a sparse bus impedance matrix", 1973 (from memory).
    """
    n, width = lower.shape[0], lower.shape[1] - 1
    size = max(1, -(-width // BLOCKS))
    inverse = np.empty((n, width + 1))
    below = np.eye(BLOCKS * size)
    for first in range((n - 1) // size * size, -1, -size):
        columns = np.zeros((size, (BLOCKS + 1) * size))
        _spread(lower, first, columns)
        own = np.asarray(lapack.dtrtri(columns[:, :size].T, lower=1)[0])
        across = columns[:, size:].T @ own
        under = -(below @ across)
        corner = own.T @ own - across.T @ under
        corner = (corner + corner.T) / 2.0  # what is not symmetric would grow from block to block
        _store(corner, under, inverse[first : first + size])
        below = _moved_up(below, corner=corner, under=under)
    return inverse


def _moved_up(below: Floats, *, corner: Floats, under: Floats) -> Floats:
    """The square of the inverse below the next block: the last one's, with its newest block on top."""
    size = len(corner)
    moved = np.empty_like(below)
    moved[:size, :size] = corner
    moved[size:, :size] = under[:-size]
    moved[:size, size:] = under[:-size].T
    moved[size:, size:] = below[:-size, :-size]
    return moved


@kernel
def _spread(lower: Floats, first: int, columns: Floats) -> None:
    """Columns of the factor from `first` on, each as a row from the diagonal of the first on; columns beyond
    the matrix are those of the unit matrix. What is stored beyond the matrix may be anything."""
    n, width = lower.shape[0], lower.shape[1] - 1
    for c in range(len(columns)):
        at = first + c
        if at >= n:
            columns[c, c] = 1.0
            continue
        for d in range(min(width, n - 1 - at) + 1):
            columns[c, c + d] = lower[at, d]


@kernel
def _store(corner: Floats, under: Floats, out: Floats) -> None:
    """The band of a block's columns; `out` has those of them that are within the matrix."""
    size, width = len(corner), out.shape[1] - 1
    for c in range(len(out)):
        for r in range(c, min(size, c + width + 1)):
            out[c, r - c] = corner[r, c]
        for r in range(min(len(under), width - size + c + 1)):
            out[c, r + size - c] = under[r, c]
