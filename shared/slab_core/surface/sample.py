"""Values and joint draws of a fitted surface, from its spline alone."""

from dataclasses import dataclass

import numpy as np
from scipy.linalg import cho_solve, solve_triangular

from slab_core.numerics import banded
from slab_core.numerics.grid import Floats, Grid
from slab_core.surface.basis import Basis, sixteen
from slab_core.surface.change import changed_at
from slab_core.surface.design import border, design, normal_equations, place_values
from slab_core.surface.joints import columns
from slab_core.surface.model import Spline
from slab_core.surface.posterior import Posterior, axes, on_grid, posterior, solved, with_joints
from slab_core.surface.unseen import unseen_fields


def basis_of(spline: Spline) -> Basis:
    """The rectangle and cells that a spline's coefficients belong to."""
    ny, nx = spline.coefficient_m.shape
    return Basis(
        x0_m=spline.x0_m, y0_m=spline.y0_m, step_m=spline.knot_step_m, cells_x=nx - 3, cells_y=ny - 3
    )


def evaluate(*, spline: Spline, x_m: Floats, y_m: Floats) -> Floats:
    """Heights in metres at n places, shape (n,)."""
    first, values = sixteen(basis=basis_of(spline), x_m=x_m, y_m=y_m)
    flat = np.ascontiguousarray(spline.coefficient_m).ravel()
    heights = place_values(first, values, flat, spline.coefficient_m.shape[1])
    if spline.joints:
        heights = heights + columns(joints=spline.joints, x_m=x_m, y_m=y_m) @ coefficients_of(spline)
    if spline.change is not None:
        heights = heights + changed_at(spline.change, x_m=x_m, y_m=y_m)
    return heights


def coefficients_of(spline: Spline) -> Floats:
    """Coefficients of every joint's columns, in their order, shape (m,)."""
    return np.array([c for joint in spline.joints for c in joint.coefficient])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sampler:
    """A spline with its posterior, whose factor takes longer than many draws: for whoever draws again."""

    spline: Spline
    found: Posterior

    def draws(self, *, grid: Grid, count: int, rng: np.random.Generator) -> Floats:
        """`count` joint draws of the heights at the grid's nodes in metres, shape (count, ny, nx).

        Exact draws of the posterior of the coefficients: ĉ + L⁻ᵀ ε on the band factor; coupled
        observations are brought in by conditioning each draw on a noisy copy of them (Matheron's rule).
        """
        return _drawn(self.found, spline=self.spline, grid=grid, count=count, rng=rng)


def sampler_of(spline: Spline) -> Sampler:
    """What draws the spline's surface."""
    return Sampler(spline=spline, found=rebuilt(spline))


def draw(*, spline: Spline, grid: Grid, count: int, rng: np.random.Generator) -> Floats:
    """Draws for whoever needs them once."""
    return sampler_of(spline).draws(grid=grid, count=count, rng=rng)


def _drawn(found: Posterior, *, spline: Spline, grid: Grid, count: int, rng: np.random.Generator) -> Floats:
    # Each source of chance has its own stream, so that a draw is the same whatever the number drawn after it.
    smooth, coupled, joints, unseen = rng.spawn(4)
    noise = smooth.standard_normal((count, len(found.coefficients)))
    away = banded.solve_transposed(found.lower, np.asfortranarray(noise.T))
    if len(found.inner):
        away = _conditioned(found, away, spline, coupled)
    if len(found.schur):
        beside = solve_triangular(
            found.schur, joints.standard_normal((count, len(found.schur))).T, lower=True, trans=1
        )
        away = away - found.shared @ beside
    shape, swapped = found.design.basis.shape, found.design.swapped
    row_values, column_values = axes(found.design, grid)
    centre = spline.coefficient_m.T if swapped else spline.coefficient_m
    coefficients = away.T.reshape(count, *shape) + centre
    heights = np.matmul(np.matmul(row_values, coefficients), column_values.T)
    heights = np.asarray(heights.transpose(0, 2, 1).copy() if swapped else heights)
    if len(found.schur):
        heights += np.moveaxis(on_grid(found.design, grid) @ (beside + found.beside[:, None]), 2, 0)
    fields = unseen_fields(spline=spline, grid=grid)
    for field, stream in zip(fields, unseen.spawn(len(fields)), strict=True):
        heights += field.draws(count=count, rng=stream)
    if spline.change is not None:
        heights += changed_at(spline.change, x_m=grid.xs()[None, :], y_m=grid.ys()[:, None])
    return heights


def rebuilt(spline: Spline) -> Posterior:
    """The posterior that the spline's observations, their final deviations and its smoothing define."""
    made = design(
        basis=basis_of(spline),
        x_m=spline.obs_x_m,
        y_m=spline.obs_y_m,
        weight=spline.obs_weight,
        joints=spline.joints,
        shared_m=spline.obs_shared_m if spline.shared else None,
        bending_change_m2=spline.bending_change_m2,
    )
    precision = 1.0 / np.square(spline.obs_sd_m)
    band, right = normal_equations(design=made, precision=precision, value_m=spline.obs_value_m)
    found = posterior(design=made, band=band, right=right, precision=precision, smoothing=spline.smoothing)
    if not made.beside.shape[1]:
        return found
    edge = border(design=made, precision=precision, value_m=spline.obs_value_m)
    mean = np.concatenate([coefficients_of(spline), spline.shared])
    return with_joints(found, solved(found, edge.cross), mean=mean, covariance=spline.joint_covariance)


def _conditioned(found: Posterior, away: Floats, spline: Spline, rng: np.random.Generator) -> Floats:
    sd = spline.obs_sd_m[found.design.coupled_rows]
    noisy = found.design.coupled.T @ away + sd[:, None] * rng.standard_normal((away.shape[1], len(sd))).T
    return np.asarray(away - found.spread @ cho_solve((found.inner, True), noisy))
