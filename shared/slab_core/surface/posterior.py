"""Mean and exact variance of the spline, given the observations' precisions and the smoothing."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import cho_factor, cho_solve, solve_triangular

from slab_core.numerics import banded
from slab_core.numerics.grid import Floats, Grid
from slab_core.numerics.kernel import summing_kernel
from slab_core.surface.basis import axis_matrix
from slab_core.surface.design import Border, Design, predicted
from slab_core.surface.joints import columns as joint_columns

NO_PRECISION = 1e-3
"""1/m²: what a coupled observation that is left out still has, so that Woodbury's identity holds."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Posterior:
    """A = Bᵀ W B + λ E, factored. Coupled observations enter by Woodbury's identity:
    `spread` is A₀⁻¹ G and `inner` the Cholesky factor of W_g⁻¹ + Gᵀ A₀⁻¹ G. Joints border A: `shared`
    is A⁻¹ Bᵀ W X, `schur` the Cholesky factor of the inverse covariance of the joints' coefficients, which
    are `beside`."""

    design: Design
    lower: Floats
    spread: Floats
    inner: Floats
    coefficients: Floats
    log_determinant: float
    shared: Floats
    schur: Floats
    beside: Floats


def posterior(
    *,
    design: Design,
    band: Floats,
    right: Floats,
    precision: Floats,
    smoothing: float,
    memory: Floats | None = None,
) -> Posterior:
    """Solve the penalised normal equations without joints; `band` and `right` come from normal_equations.

    The factor is put into `memory`, of the band's shape, if that is given.
    """
    system = np.multiply(design.energy, smoothing, out=memory)
    system += band
    lower = banded.factor(system)
    log_determinant = banded.log_determinant(lower)
    coefficients = banded.solve(lower, right)
    spread, inner = np.empty((len(right), 0)), np.empty((0, 0))
    if len(design.coupled_rows):
        own = np.maximum(precision[design.coupled_rows], NO_PRECISION)
        spread = banded.solve(lower, design.coupled)
        inner = np.asarray(cho_factor(np.diag(1.0 / own) + design.coupled.T @ spread, lower=True)[0])
        inner = np.tril(inner)
        log_determinant += float(np.log(own).sum() + 2.0 * np.log(np.diag(inner)).sum())
        coefficients = coefficients - spread @ cho_solve((inner, True), design.coupled.T @ coefficients)
    return Posterior(
        design=design,
        lower=lower,
        spread=spread,
        inner=inner,
        coefficients=coefficients,
        log_determinant=log_determinant,
        shared=np.empty((len(right), 0)),
        schur=np.empty((0, 0)),
        beside=np.empty(0),
    )


def solved(found: Posterior, right: Floats) -> Floats:
    """A⁻¹ times columns, A without its border; shape (coefficients, m)."""
    out = banded.solve(found.lower, right)
    if len(found.inner):
        out = out - found.spread @ cho_solve((found.inner, True), found.design.coupled.T @ out)
    return np.asarray(out)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Complement:
    """The joints' own normal equations, their prior not in them, after the smooth part is solved for:
    `gram`, shape (m, m), and `right`, shape (m,); `shared` as in Posterior."""

    shared: Floats
    gram: Floats
    right: Floats


def complement(found: Posterior, border: Border) -> Complement:
    """What is left of the border of a posterior without joints."""
    shared = solved(found, border.cross)
    return Complement(
        shared=shared,
        gram=border.own - border.cross.T @ shared,
        right=border.right - border.cross.T @ found.coefficients,
    )


def with_joints(found: Posterior, shared: Floats, *, mean: Floats, covariance: Floats) -> Posterior:
    """The posterior with its joints, whose coefficients are known to be `mean`, shape (m,), with the
    `covariance` for unit noise; `shared` as in Complement."""
    return replace(
        found,
        coefficients=found.coefficients - shared @ mean,
        shared=shared,
        schur=np.linalg.cholesky(np.linalg.inv(covariance)),
        beside=mean,
    )


def _removed(found: Posterior) -> Floats:
    """Columns C with A⁻¹ = A₀⁻¹ − C Cᵀ, shape (coefficients, k)."""
    if not len(found.inner):
        return found.spread
    return np.asarray(solve_triangular(found.inner, found.spread.T, lower=True)).T


def observation_variance(found: Posterior, inverse: Floats) -> Floats:
    """Variance of what the spline says of every observation, for unit noise, shape (n,)."""
    design, nx = found.design, found.design.basis.shape[1]
    out = np.empty(design.count)
    removed = np.ascontiguousarray(_removed(found).T)
    out[design.single] = _place_variances(design.first, design.values, inverse, removed, nx)
    rows = design.coupled_rows
    if len(rows):
        inside = design.coupled.T @ found.spread
        out[rows] = np.diag(inside) - (np.square(solve_triangular(found.inner, inside, lower=True))).sum(0)
    if len(found.schur):
        left = design.beside.T - [predicted(design=design, coefficients=c) for c in found.shared.T]
        root = solve_triangular(found.schur, np.eye(len(found.schur)), lower=True)
        out += np.square(root @ left).sum(axis=0)
    return out


@summing_kernel
def _place_variances(
    first: NDArray[np.int64], values: Floats, inverse: Floats, removed: Floats, nx: int
) -> Floats:
    out = np.empty(len(first))
    for i in range(len(first)):
        origin = first[i, 1] * nx + first[i, 0]
        total = 0.0
        for a in range(4):
            for b in range(4):
                own, row = values[i, a, b], inverse[origin + a * nx + b]
                line = 0.5 * row[0] * own
                for d in range(b + 1, 4):
                    line += row[d - b] * values[i, a, d]
                for c in range(a + 1, 4):
                    part = row[(c - a) * nx - b : (c - a) * nx - b + 4]
                    for d in range(4):
                        line += part[d] * values[i, c, d]
                total += 2.0 * own * line
        for k in range(len(removed)):
            told = 0.0
            for a in range(4):
                for b in range(4):
                    told += values[i, a, b] * removed[k, origin + a * nx + b]
            total -= told * told
        out[i] = total
    return out


def axes(design: Design, grid: Grid) -> tuple[Floats, Floats]:
    """Values of the design's own row and column functions at the grid's nodes, dense."""
    basis = design.basis
    at_rows, at_columns = (grid.xs(), grid.ys()) if design.swapped else (grid.ys(), grid.xs())
    rows = axis_matrix(start_m=basis.y0_m, step_m=basis.step_m, cells=basis.cells_y, at_m=at_rows)
    columns = axis_matrix(start_m=basis.x0_m, step_m=basis.step_m, cells=basis.cells_x, at_m=at_columns)
    return rows, columns


def on_grid(design: Design, grid: Grid) -> Floats:
    """Values of the joints' columns at the grid's nodes, shape (ny, nx, m); of shared errors, 0."""
    x, y = grid.places().T
    own = joint_columns(joints=design.joints, x_m=x, y_m=y).reshape(grid.ny, grid.nx, -1)
    shared = np.zeros((grid.ny, grid.nx, design.shared))
    return np.concatenate([own, shared], axis=2) if design.shared else own


def grid_heights(*, design: Design, coefficients: Floats, grid: Grid) -> Floats:
    """The spline, without its joints, at the grid's nodes in metres, shape (ny, nx)."""
    rows, columns = axes(design, grid)
    heights = rows @ coefficients.reshape(design.basis.shape) @ columns.T
    return heights.T.copy() if design.swapped else heights


def grid_variances(found: Posterior, inverse: Floats, grid: Grid, *, beside: Floats) -> Floats:
    """Variance of the spline at the grid's nodes for unit noise, shape (ny, nx); `beside` is on_grid's."""
    rows, columns = axes(found.design, grid)
    variances = _grid_variances(*_compact(rows), *_compact(columns), inverse, found.design.basis.shape[1])
    shape = found.design.basis.shape
    for column in _removed(found).T:
        variances -= np.square(rows @ column.reshape(shape) @ columns.T)
    np.maximum(variances, 0.0, out=variances)
    own = variances.T.copy() if found.design.swapped else variances
    return own + _joint_variances(found, rows, columns, beside) if len(found.schur) else own


def _joint_variances(found: Posterior, rows: Floats, columns: Floats, beside: Floats) -> Floats:
    shared = found.shared.T.reshape(-1, *found.design.basis.shape)
    left = np.matmul(np.matmul(rows, shared), columns.T)
    if found.design.swapped:
        left = left.transpose(0, 2, 1)
    left = np.ascontiguousarray(left - np.moveaxis(beside, 2, 0)).reshape(len(shared), -1)
    root = solve_triangular(found.schur, np.eye(len(found.schur)), lower=True)
    return np.asarray(np.square(root @ left).sum(axis=0).reshape(beside.shape[:2]))


def _compact(axis: Floats) -> tuple[NDArray[np.int64], Floats]:
    """First function and the four values of each row of an axis matrix."""
    first = np.minimum((axis != 0.0).argmax(axis=1), axis.shape[1] - 4)
    four = np.take_along_axis(axis, first[:, None] + np.arange(4)[None, :], axis=1)
    return first.astype(np.int64), np.ascontiguousarray(four)


@summing_kernel
def _grid_variances(
    row_first: NDArray[np.int64],
    row_four: Floats,
    column_first: NDArray[np.int64],
    column_four: Floats,
    inverse: Floats,
    nx: int,
) -> Floats:
    """For each row of nodes the covariances of what the columns' functions sum to on it, shape (nx, 4):
    [i, d] is that of i and i + d; then the nodes' variances, by twice the pairs and once the squares."""
    out = np.empty((len(row_first), len(column_first)))
    on_row = np.zeros((nx, 4))
    for j in range(len(row_first)):
        on_row[:] = 0.0
        for a in range(4):
            for c in range(a, 4):
                factor, shift = row_four[j, a] * row_four[j, c], (c - a) * nx
                for i in range(nx):
                    at = (row_first[j] + a) * nx + i
                    for d in range(min(4, nx - i)):
                        on_row[i, d] += factor * inverse[at, shift + d]
                        if c > a:
                            on_row[i, d] += factor * inverse[at + d, shift - d]
        for i in range(len(column_first)):
            total = 0.0
            for b in range(4):
                own = on_row[column_first[i] + b]
                line = 0.5 * own[0] * column_four[i, b]
                for d in range(b + 1, 4):
                    line += own[d - b] * column_four[i, d]
                total += column_four[i, b] * line
            out[j, i] = 2.0 * total
    return out
