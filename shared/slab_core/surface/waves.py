"""Errors of given size that are alike over some distance, on a grid."""

from dataclasses import dataclass

import numpy as np

from slab_core.numerics.grid import Floats, Grid
from slab_core.surface.basis import axis_matrix, basis_over


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Waves:
    """Standard deviations `sd_m` at the nodes, shape (ny, nx), times waves of unit size that white noise
    makes through `rows` (ny, a) and `columns` (nx, b)."""

    sd_m: Floats
    rows: Floats
    columns: Floats

    def draws(self, *, count: int, rng: np.random.Generator) -> Floats:
        """Draws in metres, shape (count, ny, nx)."""
        white = rng.standard_normal((count, self.rows.shape[1], self.columns.shape[1]))
        return np.asarray(np.matmul(np.matmul(self.rows, white), self.columns.T) * self.sd_m)

    def with_sum(self, weights: Floats) -> Floats:
        """Covariance of Σ weight · error with the error at every node, shape (ny, nx)."""
        waves = self.rows.T @ (weights * self.sd_m) @ self.columns
        return np.asarray(self.rows @ waves @ self.columns.T * self.sd_m)


def waves_over(grid: Grid, *, sd_m: Floats, knot_m: float) -> Waves:
    """Waves that are alike over about 1.5 `knot_m`."""
    x1, y1 = float(grid.xs()[-1]), float(grid.ys()[-1])
    basis = basis_over(low=(grid.x0_m, grid.y0_m), high=(x1, y1), step_m=knot_m)
    rows = axis_matrix(start_m=basis.y0_m, step_m=basis.step_m, cells=basis.cells_y, at_m=grid.ys())
    columns = axis_matrix(start_m=basis.x0_m, step_m=basis.step_m, cells=basis.cells_x, at_m=grid.xs())
    return Waves(sd_m=sd_m, rows=_unit(rows), columns=_unit(columns))


def together(grid: Grid, *, sd_m: float) -> Waves:
    """One error for all nodes."""
    sd = np.full((grid.ny, grid.nx), sd_m)
    return Waves(sd_m=sd, rows=np.ones((grid.ny, 1)), columns=np.ones((grid.nx, 1)))


def _unit(matrix: Floats) -> Floats:
    return np.asarray(matrix / np.sqrt(np.square(matrix).sum(axis=1, keepdims=True)))
