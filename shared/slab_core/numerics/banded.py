"""Symmetric positive definite band matrices: factor, solve, and the band of the inverse.

A band is kept as rows of the lower triangle by column: ``band[c, d]`` is the entry (c + d, c), shape
(n, width + 1). Its transpose is what LAPACK calls lower band storage.
"""

from typing import cast

import numpy as np
from scipy.linalg import lapack

from slab_core.errors import SlabError
from slab_core.numerics.grid import Floats
from slab_core.numerics.kernel import kernel

BLOCKS = 3


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

    Takahashi's recursion from the last columns to the first, by blocks of a third of the band's width so
    that it runs as matrix products; cost n·width². Source: K. Takahashi, J. Fagan, M. Chin, "Formation
    of a sparse bus impedance matrix", 1973 (from memory).
    """
    n, width = lower.shape[0], lower.shape[1] - 1
    size = max(1, -(-width // BLOCKS))
    blocks = -(-n // size)
    padded = np.zeros((blocks * size + size, BLOCKS * size + 1))
    padded[:n, : width + 1] = lower
    for column in range(max(0, n - width), n):  # what is stored beyond the matrix may be anything
        padded[column, n - column :] = 0.0
    padded[n:, 0] = 1.0
    inverse = np.empty_like(padded)
    below = np.eye(BLOCKS * size)
    for block in range(blocks - 1, -1, -1):
        first = block * size
        diagonal, under = _dense(padded, first=first, size=size)
        own = np.asarray(lapack.dtrtri(diagonal, lower=1)[0])
        across = under @ own
        under = -(below @ across)
        corner = own.T @ own - across.T @ under
        corner = (corner + corner.T) / 2.0  # what is not symmetric would grow from block to block
        _store(corner, under, inverse[first : first + size])
        below = _moved_up(below, corner=corner, under=under)
    return np.ascontiguousarray(inverse[:n, : width + 1])


def _moved_up(below: Floats, *, corner: Floats, under: Floats) -> Floats:
    """The square of the inverse below the next block: the last one's, with its newest block on top."""
    size = len(corner)
    moved = np.empty_like(below)
    moved[:size, :size] = corner
    moved[size:, :size] = under[:-size]
    moved[:size, size:] = under[:-size].T
    moved[size:, size:] = below[:-size, :-size]
    return moved


def _dense(padded: Floats, *, first: int, size: int) -> tuple[Floats, Floats]:
    """The block on the diagonal and the blocks under it, of `size` columns of the factor from `first` on."""
    rows = padded[first : first + size + 1]
    # Entry (c + d, c) lies at c·(width + 1) + d, so stepping one entry less per column gives whole rows.
    step = rows.strides[1]
    square = np.lib.stride_tricks.as_strided(
        rows, shape=(size, (BLOCKS + 1) * size), strides=(rows.strides[0] - step, step)
    ).T
    under = square[size:].copy()
    under[-size:] = np.triu(under[-size:])
    return np.tril(square[:size]), under


@kernel
def _store(corner: Floats, under: Floats, out: Floats) -> None:
    size, width = len(corner), out.shape[1] - 1
    for c in range(size):
        for r in range(c, size):
            out[c, r - c] = corner[r, c]
        for r in range(min(len(under), width - size + c + 1)):
            out[c, r + size - c] = under[r, c]
