"""Energies of the spline, exactly, as band matrices: bending, ∫∫ z_xx² + 2 z_xy² + z_yy², and its change from
place to place, ∫∫ z_xxx² + 3 z_xxy² + 3 z_xyy² + z_yyy²."""

import numpy as np

from slab_core.numerics.grid import Floats
from slab_core.surface.basis import Basis

_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(4)
# Four points integrate polynomials up to degree 7 exactly; products of two cubics have degree 6.
_U = (_NODES + 1.0) / 2.0
_PIECES = (
    np.array(
        [
            [1.0, -3.0, 3.0, -1.0],
            [4.0, 0.0, -6.0, 3.0],
            [1.0, 3.0, 3.0, -3.0],
            [0.0, 0.0, 0.0, 1.0],
        ]
    )
    / 6.0
)


def _cell_gram(derivative: int) -> Floats:
    """∫ over one unit cell of products of the four functions' derivatives, shape (4, 4)."""
    coefficients = _PIECES
    for _ in range(derivative):
        coefficients = coefficients[:, 1:] * np.arange(1, coefficients.shape[1])
    values = coefficients @ (_U[None, :] ** np.arange(coefficients.shape[1])[:, None])
    return np.asarray((values * (_WEIGHTS / 2.0)) @ values.T)


_CELL_GRAMS = np.stack([_cell_gram(derivative) for derivative in range(4)])


def gram_bands(*, cells: int, step_m: float, derivative: int) -> Floats:
    """Gram matrix of one axis as diagonals: [k, i] is the entry (i, i + k), shape (4, cells + 3)."""
    cell = _CELL_GRAMS[derivative] * step_m ** (1 - 2 * derivative)
    bands = np.zeros((4, cells + 3))
    for k in range(4):
        for a in range(4 - k):
            bands[k, a : a + cells] += cell[a, a + k]
    return bands


Terms = dict[tuple[int, int], float]
"""Factors by how often the product under the integral is differentiated by x and by y."""

BENDING: Terms = {(2, 0): 1.0, (1, 1): 2.0, (0, 2): 1.0}
BENDING_CHANGE: Terms = {(3, 0): 1.0, (2, 1): 3.0, (1, 2): 3.0, (0, 3): 1.0}


def energy_band(*, basis: Basis, terms: Terms = BENDING) -> Floats:
    """An energy as a quadratic form of the coefficients (row by row), band storage of numerics.banded.

    The null space of the bending energy is the planes.
    """
    x, y = (
        np.stack([gram_bands(cells=cells, step_m=basis.step_m, derivative=d) for d in range(4)])
        for cells in (basis.cells_x, basis.cells_y)
    )
    ny, nx = basis.shape
    along_x = np.zeros((4, nx, 7))
    for (in_x, in_y), factor in terms.items():
        for shift in range(-3, 4):
            along_x[in_y, :, shift + 3] += factor * _shifted(x[in_x], shift)
    band = np.zeros((ny, nx, 3 * nx + 4))
    for k in range(4):
        least = -3 if k else 0
        entries = y[:, k].T @ along_x[:, :, least + 3 :].reshape(4, -1)
        band[:, :, k * nx + least : k * nx + 4] += entries.reshape(ny, nx, 4 - least)
    return band.reshape(ny * nx, 3 * nx + 4)


def roughness_band(*, basis: Basis, change_m2: float) -> Floats:
    """Bending energy plus `change_m2` times the energy of its change.

    Waves much shorter than √change_m2 are damped as in a Matérn field two times differentiable, longer
    ones as by the bending energy alone. Source: P. Whittle, "On stationary processes in the plane",
    1954 (from memory).
    """
    return energy_band(
        basis=basis, terms={**BENDING, **{d: change_m2 * factor for d, factor in BENDING_CHANGE.items()}}
    )


def _shifted(bands: Floats, shift: int) -> Floats:
    """Entries (i, i + shift) for every i, 0 where there is none."""
    if shift >= 0:
        return np.asarray(bands[shift])
    row = np.zeros(bands.shape[1])
    row[-shift:] = bands[-shift, :shift]
    return row
