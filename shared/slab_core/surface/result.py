"""What a fit says of the floor: heights, standard errors, the spline to draw from, and findings."""

from dataclasses import replace

import numpy as np

from slab_core.numerics.grid import ERROR_STEP_M, Floats, Grid, to_steps
from slab_core.rooms.model import Floor
from slab_core.surface.area import nodes_inside
from slab_core.surface.basis import Basis
from slab_core.surface.findings import (
    doubtful_problems,
    misread_problems,
    misreads_of,
    shared_problems,
    sparse_problems,
    suspected_problems,
)
from slab_core.surface.model import Relief, Spline, Surface
from slab_core.surface.nearness import measured_by
from slab_core.surface.posterior import grid_heights, grid_variances, on_grid
from slab_core.surface.readings_plane import readings_plane
from slab_core.surface.relief import relief_on_grid, walls_of
from slab_core.surface.robust import Robust, Task
from slab_core.surface.smoothing import BENDING_CHANGE_M2
from slab_core.surface.steps import joint_covariance, joint_steps, with_coefficients
from slab_core.surface.suspected import suspected_steps


def surface_of(
    *, floor: Floor, grid: Grid, basis: Basis, plane: Floats, task: Task, robust: Robust
) -> Surface:
    """Heights, standard errors and findings of a fit from which `plane` (height at the origin, slopes) was
    taken off beforehand."""
    fitted, seen = robust.fitted, task.observations
    noise, found = fitted.smoothed.noise, fitted.smoothed.found
    height = grid_heights(design=task.design, coefficients=found.coefficients, grid=grid)
    height += plane[0] + plane[1] * grid.xs()[None, :] + plane[2] * grid.ys()[:, None]
    beside = on_grid(task.design, grid)
    if task.design.joints:
        height += beside @ found.beside
    relief = Relief(scale=fitted.relief_scale, walls=walls_of(floor))
    spline = _spline(basis=basis, plane=plane, task=task, robust=robust, relief=relief)
    nearest, fourth = measured_by(spline).on_grid(grid)
    unseen = relief_on_grid(relief=relief, nearest_m=nearest, fourth_m=fourth, grid=grid)
    error = np.sqrt(noise * grid_variances(found, fitted.inverse, grid, beside=beside) + unseen)
    suspected = suspected_steps(floor=floor, task=task, robust=robust)
    inside = nodes_inside(floor=floor, grid=grid)
    misreads = misreads_of(seen=seen, robust=robust)
    problems = (
        *misread_problems(floor=floor, seen=seen, robust=robust),
        *shared_problems(seen=seen, robust=robust),
        *doubtful_problems(floor=floor, seen=seen, robust=robust),
        *suspected_problems(floor=floor, suspected=suspected),
        *sparse_problems(
            floor=floor,
            places=grid.places()[inside.ravel()],
            error_m=error[inside],
            nearest_m=nearest[inside],
        ),
    )
    return Surface(
        floor_id=floor.id,
        grid=grid,
        height=to_steps(height),
        error=to_steps(error, step_m=ERROR_STEP_M),
        inside=inside,
        spline=spline,
        noise_sd_m=float(np.sqrt(noise * np.median(1.0 / fitted.stated))),
        effective_parameters=float(fitted.leverage.sum()),
        readings_plane=readings_plane(observations=seen),
        observations_used=int((~robust.left_out).sum()),
        misreads=misreads,
        problems=tuple(replace(each, detail=f"floor {floor.id}: {each.detail}") for each in problems),
        steps=joint_steps(found=found, noise=noise),
        suspected_steps=suspected,
    )


def _spline(*, basis: Basis, plane: Floats, task: Task, robust: Robust, relief: Relief) -> Spline:
    fitted, kept = robust.fitted, ~robust.left_out
    seen, noise = task.observations, fitted.smoothed.noise
    shape = task.design.basis.shape
    coefficients = fitted.smoothed.found.coefficients.reshape(shape)
    own = coefficients.T.copy() if task.design.swapped else coefficients.copy()
    # A plane's coefficients are its heights one knot behind the functions' third knot (Greville's places).
    gx = basis.x0_m + basis.step_m * (np.arange(basis.shape[1]) - 1)
    gy = basis.y0_m + basis.step_m * (np.arange(basis.shape[0]) - 1)
    own += plane[0] + plane[1] * gx[None, :] + plane[2] * gy[:, None]
    return Spline(
        x0_m=basis.x0_m,
        y0_m=basis.y0_m,
        knot_step_m=basis.step_m,
        coefficient_m=own,
        smoothing=float(np.exp(fitted.smoothed.log_smoothing) / noise),
        obs_x_m=seen.x_m[kept],
        obs_y_m=seen.y_m[kept],
        obs_weight=seen.weight[kept],
        obs_value_m=seen.value_m[kept],
        obs_sd_m=np.sqrt(noise / fitted.used[kept]),
        obs_claimed_m=seen.sd_m[kept],
        joints=with_coefficients(fitted.smoothed.found),
        joint_covariance=joint_covariance(fitted.smoothed.found, noise=noise),
        obs_shared_m=seen.shared_m[kept] if task.design.shared else np.empty((0, 0)),
        shared=tuple(fitted.smoothed.found.beside[len(fitted.smoothed.found.beside) - task.design.shared :]),
        bending_change_m2=BENDING_CHANGE_M2,
        relief=relief,
    )
