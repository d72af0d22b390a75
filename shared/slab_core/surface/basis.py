"""Uniform cubic B-splines on a rectangle: where a place lies and what the sixteen functions are there."""

from dataclasses import dataclass

import numpy as np

from slab_core.numerics.grid import Floats
from slab_core.numerics.kernel import kernel


@dataclass(frozen=True, slots=True, kw_only=True)
class Basis:
    """`cells_x` by `cells_y` cells of `step_m`; coefficients have the shape (cells_y + 3, cells_x + 3)."""

    x0_m: float
    y0_m: float
    step_m: float
    cells_x: int
    cells_y: int

    @property
    def shape(self) -> tuple[int, int]:
        """Shape of the coefficients, (ny, nx)."""
        return self.cells_y + 3, self.cells_x + 3


def basis_over(*, low: tuple[float, float], high: tuple[float, float], step_m: float) -> Basis:
    """The smallest basis of whole cells that covers the rectangle, centred on it."""
    cells_x = max(1, int(np.ceil((high[0] - low[0]) / step_m - 1e-9)))
    cells_y = max(1, int(np.ceil((high[1] - low[1]) / step_m - 1e-9)))
    return Basis(
        x0_m=(low[0] + high[0] - cells_x * step_m) / 2,
        y0_m=(low[1] + high[1] - cells_y * step_m) / 2,
        step_m=step_m,
        cells_x=cells_x,
        cells_y=cells_y,
    )


def turned(basis: Basis) -> Basis:
    """The same basis with its axes exchanged."""
    return Basis(
        x0_m=basis.y0_m,
        y0_m=basis.x0_m,
        step_m=basis.step_m,
        cells_x=basis.cells_y,
        cells_y=basis.cells_x,
    )


@kernel
def cubic(u: float, derivative: int, out: Floats) -> None:
    """The four cubic B-splines at the share u of a cell, or their first derivative by u, into out[0:4]."""
    v = 1.0 - u
    if derivative == 0:
        out[0] = v * v * v / 6.0
        out[1] = (3.0 * u * u * u - 6.0 * u * u + 4.0) / 6.0
        out[2] = (3.0 * v * v * v - 6.0 * v * v + 4.0) / 6.0
        out[3] = u * u * u / 6.0
    else:
        out[0] = -v * v / 2.0
        out[1] = (3.0 * u * u - 4.0 * u) / 2.0
        out[2] = -(3.0 * v * v - 4.0 * v) / 2.0
        out[3] = u * u / 2.0


@kernel
def locate(position: float, cells: int) -> int:
    """Index of the cell that holds a position given in cells; places outside belong to the edge cells."""
    return min(max(int(np.floor(position)), 0), cells - 1)


def sixteen(*, basis: Basis, x_m: Floats, y_m: Floats, dx: int = 0, dy: int = 0) -> tuple[np.ndarray, Floats]:
    """First coefficients (column, row), shape (n, 2), and the 16 values, shape (n, 4, 4) as (row, column).

    `dx`, `dy` are 0 or 1: the derivative wanted, per metre. A place outside the rectangle continues
    the edge cell's polynomial.
    """
    n = len(x_m)
    first = np.empty((n, 2), dtype=np.int64)
    values = np.empty((n, 4, 4))
    u = (np.asarray(x_m, dtype=np.float64) - basis.x0_m) / basis.step_m
    v = (np.asarray(y_m, dtype=np.float64) - basis.y0_m) / basis.step_m
    _sixteen(u, v, basis.cells_x, basis.cells_y, dx, dy, first, values)
    if dx + dy:
        values /= basis.step_m ** (dx + dy)
    return first, values


@kernel
def _sixteen(
    u: Floats, v: Floats, cells_x: int, cells_y: int, dx: int, dy: int, first: np.ndarray, values: Floats
) -> None:
    bx = np.empty(4)
    by = np.empty(4)
    for i in range(len(u)):
        cx = locate(u[i], cells_x)
        cy = locate(v[i], cells_y)
        cubic(u[i] - cx, dx, bx)
        cubic(v[i] - cy, dy, by)
        first[i, 0] = cx
        first[i, 1] = cy
        for a in range(4):
            for b in range(4):
                values[i, a, b] = by[a] * bx[b]


def axis_matrix(*, start_m: float, step_m: float, cells: int, at_m: Floats) -> Floats:
    """Values of the cells + 3 functions of one axis at n places, dense, shape (n, cells + 3)."""
    matrix = np.zeros((len(at_m), cells + 3))
    _axis((np.asarray(at_m, dtype=np.float64) - start_m) / step_m, cells, matrix)
    return matrix


@kernel
def _axis(positions: Floats, cells: int, matrix: Floats) -> None:
    for i in range(len(positions)):
        c = locate(positions[i], cells)
        cubic(positions[i] - c, 0, matrix[i, c : c + 4])
