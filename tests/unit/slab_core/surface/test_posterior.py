"""Mean and variance against the same Bayesian problem solved densely, gaps included."""

from dataclasses import replace

import numpy as np
import pytest

from slab_core.numerics import banded
from slab_core.numerics.grid import Floats, Grid
from slab_core.surface.basis import axis_matrix, basis_over
from slab_core.surface.design import border, design, normal_equations, predicted
from slab_core.surface.energy import energy_band
from slab_core.surface.joints import COLUMNS, ENDLESS_M, columns
from slab_core.surface.model import SplineJoint
from slab_core.surface.posterior import (
    complement,
    grid_heights,
    grid_variances,
    observation_variance,
    on_grid,
    posterior,
    with_joints,
)
from tests.slabs import gaps_of, heights_at, joined

JOINT = SplineJoint(
    room="A",
    id="j",
    start=(0.0, 0.0),
    end=(1.0, 0.0),
    beyond_start_m=ENDLESS_M,
    beyond_end_m=ENDLESS_M,
    coefficient=(0.0,) * COLUMNS,
)


def _case(*, width: float, depth: float):  # type: ignore[no-untyped-def]  # a bundle of arrays for this file
    rng = np.random.default_rng(5)
    x, y = rng.uniform(0, width, 25), rng.uniform(0, depth, 25)
    heights = heights_at(x_m=x, y_m=y, value_m=rng.normal(0, 0.004, 25))
    ends = rng.uniform(0, (width, depth), (2, 6, 2))
    gaps = gaps_of(start=ends[0], end=ends[1], share=rng.uniform(0.2, 0.8, 6), gap_m=rng.normal(0, 0.003, 6))
    mixed = rng.permutation(31)
    seen = joined(heights, gaps)
    basis = basis_over(low=(0.0, 0.0), high=(width, depth), step_m=0.5)
    return seen, basis, mixed


def _dense_rows(seen, basis) -> Floats:  # type: ignore[no-untyped-def]  # as above
    out = np.zeros((len(seen.value_m), basis.shape[0] * basis.shape[1]))
    for place in range(3):
        in_x = axis_matrix(
            start_m=basis.x0_m, step_m=basis.step_m, cells=basis.cells_x, at_m=seen.x_m[:, place]
        )
        in_y = axis_matrix(
            start_m=basis.y0_m, step_m=basis.step_m, cells=basis.cells_y, at_m=seen.y_m[:, place]
        )
        rows = (in_y[:, :, None] * in_x[:, None, :]).reshape(len(out), -1)
        out += seen.weight[:, place : place + 1] * rows
    return out


def _dense_energy(basis) -> Floats:  # type: ignore[no-untyped-def]  # as above
    band = energy_band(basis=basis)
    n = len(band)
    dense = np.zeros((n, n))
    for c in range(n):
        for d in range(min(band.shape[1], n - c)):
            dense[c + d, c] = dense[c, c + d] = band[c, d]
    return dense


@pytest.mark.parametrize(("width", "depth"), [(2.0, 3.0), (3.5, 1.5)])
def test_heights_and_gaps_together_equal_the_dense_solution(width: float, depth: float) -> None:
    seen, basis, _ = _case(width=width, depth=depth)
    precision, smoothing = 1.0 / seen.sd_m**2, 3e4
    rows = _dense_rows(seen, basis)
    dense = rows.T @ (precision[:, None] * rows) + smoothing * _dense_energy(basis)
    cover = np.linalg.inv(dense)
    mean = cover @ (rows.T @ (precision * seen.value_m))

    made = design(basis=basis, x_m=seen.x_m, y_m=seen.y_m, weight=seen.weight)
    band, right = normal_equations(design=made, precision=precision, value_m=seen.value_m)
    found = posterior(design=made, band=band, right=right, precision=precision, smoothing=smoothing)
    inverse = banded.inverse_band(found.lower)

    fitted = predicted(design=made, coefficients=found.coefficients)
    np.testing.assert_allclose(fitted, rows @ mean, atol=1e-10)
    np.testing.assert_allclose(
        observation_variance(found, inverse), np.diag(rows @ cover @ rows.T), rtol=1e-6
    )
    assert found.log_determinant == pytest.approx(np.linalg.slogdet(dense)[1], abs=1e-7)
    grid = Grid(x0_m=0.0, y0_m=0.0, step_m=0.25, nx=int(width / 0.25) + 1, ny=int(depth / 0.25) + 1)
    xs, ys = np.meshgrid(grid.xs(), grid.ys())
    nodes = _dense_rows(heights_at(x_m=xs.ravel(), y_m=ys.ravel(), value_m=xs.ravel()), basis)
    heights = grid_heights(design=made, coefficients=found.coefficients, grid=grid)
    np.testing.assert_allclose(heights.ravel(), nodes @ mean, atol=1e-10)
    expected = np.einsum("ij,jk,ik->i", nodes, cover, nodes)
    np.testing.assert_allclose(
        grid_variances(found, inverse, grid, beside=on_grid(made, grid)).ravel(), expected, rtol=1e-6
    )


@pytest.mark.parametrize(("width", "depth"), [(2.0, 3.0), (3.5, 1.5)])
def test_a_joint_beside_heights_and_gaps_equals_the_dense_solution(width: float, depth: float) -> None:
    seen, basis, _ = _case(width=width, depth=depth)
    precision, smoothing, prior = 1.0 / seen.sd_m**2, 3e4, 0.7
    crossing = replace(JOINT, start=(0.4 * width, 0.0), end=(0.5 * width, depth))
    inner = replace(JOINT, start=(0.0, 0.5), end=(0.6 * width, 0.5), beyond_end_m=0.0)
    joints = (crossing, inner)
    beside = sum(
        seen.weight[:, [k]] * columns(joints=joints, x_m=seen.x_m[:, k], y_m=seen.y_m[:, k]) for k in range(3)
    )
    rows = np.hstack([_dense_rows(seen, basis), beside])
    penalty = np.zeros((rows.shape[1],) * 2)
    n = basis.shape[0] * basis.shape[1]
    penalty[:n, :n] = smoothing * _dense_energy(basis)
    penalty[n:, n:] = prior * np.eye(2 * COLUMNS)
    dense = rows.T @ (precision[:, None] * rows) + penalty
    cover = np.linalg.inv(dense)
    mean = cover @ (rows.T @ (precision * seen.value_m))

    made = design(basis=basis, x_m=seen.x_m, y_m=seen.y_m, weight=seen.weight, joints=joints)
    band, right = normal_equations(design=made, precision=precision, value_m=seen.value_m)
    alone = posterior(design=made, band=band, right=right, precision=precision, smoothing=smoothing)
    left = complement(alone, border(design=made, precision=precision, value_m=seen.value_m))
    spread = np.asarray(np.linalg.inv(left.gram + prior * np.eye(len(left.gram))))
    found = with_joints(alone, left.shared, mean=spread @ left.right, covariance=spread)
    inverse = banded.inverse_band(found.lower)

    fitted = predicted(design=made, coefficients=found.coefficients) + made.beside @ found.beside
    np.testing.assert_allclose(fitted, rows @ mean, atol=1e-10)
    np.testing.assert_allclose(found.beside, mean[n:], atol=1e-8)
    np.testing.assert_allclose(
        observation_variance(found, inverse), np.diag(rows @ cover @ rows.T), rtol=1e-6
    )
    grid = Grid(x0_m=0.0, y0_m=0.0, step_m=0.25, nx=int(width / 0.25) + 1, ny=int(depth / 0.25) + 1)
    xs, ys = (axis.ravel() for axis in np.meshgrid(grid.xs(), grid.ys()))
    smooth = _dense_rows(heights_at(x_m=xs, y_m=ys, value_m=xs), basis)
    nodes = np.hstack([smooth, columns(joints=joints, x_m=xs, y_m=ys)])
    expected = np.einsum("ij,jk,ik->i", nodes, cover, nodes)
    np.testing.assert_allclose(
        grid_variances(found, inverse, grid, beside=on_grid(made, grid)).ravel(), expected, rtol=1e-6
    )
    heights = grid_heights(design=made, coefficients=found.coefficients, grid=grid)
    heights += on_grid(made, grid) @ found.beside
    np.testing.assert_allclose(heights.ravel(), nodes @ mean, atol=1e-10)
