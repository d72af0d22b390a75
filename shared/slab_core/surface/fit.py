"""The surface stage: one smooth surface through every observation, with its standard errors."""

import numpy as np

from slab_core.errors import refuse
from slab_core.numerics.budget import Budget
from slab_core.numerics.grid import ERROR_STEP_M, Floats, Grid, to_steps
from slab_core.rooms.model import Floor
from slab_core.surface.area import grid_over, nodes_inside
from slab_core.surface.basis import Basis, basis_over
from slab_core.surface.design import design
from slab_core.surface.findings import doubtful_problems, misread_problems, misreads_of, sparse_problems
from slab_core.surface.joints import spline_joints
from slab_core.surface.model import Spline, Surface, SurfaceOptions
from slab_core.surface.posterior import grid_heights, grid_variances, on_grid
from slab_core.surface.readings_plane import readings_plane
from slab_core.surface.robust import Fitted, Robust, Task, fit_robustly
from slab_core.surface.steps import joint_steps, with_coefficients
from slab_core.surveys.model import Observations

LEAST_KNOT_M, GREATEST_KNOT_M = 0.125, 0.3
KNOTS_PER_SPACING = 0.6
MOST_COEFFICIENTS = 18_000
LEAST_SPREAD_M = 0.01


def fit_surface(
    *, floor: Floor, observations: Observations, options: SurfaceOptions, budget: Budget
) -> Surface:
    """Fit the floor's surface to its observations.

    Penalised tensor cubic B-spline with the exact thin-plate energy; smoothing by restricted
    likelihood; standard errors by exact posterior variance. Misreads are left out and reported;
    a lone odd reading that may be a real hump stays in and is reported.

    Raises
    ------
    InputRefused
        `readings-too-few` when fewer than three heights, or only heights on one line, are there;
        `reading-not-a-number` when a value is not finite.
    Stopped
        when the budget says so.
    """
    _refuse_unusable(floor=floor, seen=observations)
    grid = grid_over(floor=floor, step_m=options.grid_step_m)
    basis = _basis(floor=floor, grid=grid, seen=observations)
    plane = _plane(observations)
    task = Task(
        observations=observations,
        design=design(
            basis=basis,
            x_m=observations.x_m,
            y_m=observations.y_m,
            weight=observations.weight,
            joints=spline_joints(floor),
        ),
        value_m=observations.value_m - _plane_values(plane, observations),
        plane_slope=(plane[1], plane[2]),
        budget=budget,
    )
    robust = fit_robustly(task)
    return _surface(floor=floor, grid=grid, basis=basis, plane=plane, task=task, robust=robust)


def _refuse_unusable(*, floor: Floor, seen: Observations) -> None:
    columns = np.column_stack([seen.x_m, seen.y_m, seen.weight, seen.value_m, seen.position_sd_m, seen.sd_m])
    for i in np.flatnonzero(~np.isfinite(columns).all(axis=1) | (seen.sd_m <= 0.0))[:1]:
        detail = "every column of a reading must be a finite number and its standard deviation above 0"
        raise refuse(code="reading-not-a-number", detail=detail, pointer=seen.pointer[i])
    heights = (seen.weight[:, 1:] == 0.0).all(axis=1) & (seen.weight[:, 0] != 0.0)
    at = np.column_stack([seen.x_m[heights, 0], seen.y_m[heights, 0]])
    if len(at) >= 3:
        spread = np.linalg.svd(at - at.mean(axis=0), compute_uv=False)[1] / np.sqrt(len(at))
        if spread >= LEAST_SPREAD_M:
            return
    detail = (
        f"height readings in usable places on floor {floor.id}: {len(at)}; a surface needs at least three "
        "that do not lie on one line (straightedge gaps alone say nothing of the level)"
    )
    raise refuse(code="readings-too-few", detail=detail, pointer="/surveys")


def _basis(*, floor: Floor, grid: Grid, seen: Observations) -> Basis:
    """Knots by the mean spacing of the readings, over everything that is read or drawn."""
    low = (min(grid.x0_m, float(seen.x_m.min())), min(grid.y0_m, float(seen.y_m.min())))
    x1, y1 = grid.x0_m + (grid.nx - 1) * grid.step_m, grid.y0_m + (grid.ny - 1) * grid.step_m
    high = (max(x1, float(seen.x_m.max())), max(y1, float(seen.y_m.max())))
    spacing = np.sqrt(floor.area_m2 / len(seen.value_m))
    step = float(np.clip(KNOTS_PER_SPACING * spacing, LEAST_KNOT_M, GREATEST_KNOT_M))
    area = (high[0] - low[0]) * (high[1] - low[1])
    step = max(step, float(np.sqrt(area / MOST_COEFFICIENTS)))
    return basis_over(low=low, high=high, step_m=round(step, 6))


def _plane(seen: Observations) -> Floats:
    """Least-squares plane (height at the origin, slopes), so that the rest is small numbers."""
    columns = np.column_stack(
        [seen.weight.sum(axis=1), (seen.weight * seen.x_m).sum(axis=1), (seen.weight * seen.y_m).sum(axis=1)]
    )
    scale = 1.0 / seen.sd_m
    found, *_ = np.linalg.lstsq(columns * scale[:, None], seen.value_m * scale, rcond=None)
    return np.asarray(found)


def _plane_values(plane: Floats, seen: Observations) -> Floats:
    at = plane[0] + plane[1] * seen.x_m + plane[2] * seen.y_m
    return np.asarray((seen.weight * at).sum(axis=1))


def _surface(*, floor: Floor, grid: Grid, basis: Basis, plane: Floats, task: Task, robust: Robust) -> Surface:
    fitted, seen = robust.fitted, task.observations
    noise, found = fitted.smoothed.noise, fitted.smoothed.found
    xs, ys = np.meshgrid(grid.xs(), grid.ys())
    height = grid_heights(design=task.design, coefficients=found.coefficients, grid=grid)
    height += plane[0] + plane[1] * xs + plane[2] * ys
    if task.design.joints:
        height += on_grid(task.design, grid) @ found.beside
    error = np.sqrt(noise * grid_variances(found, fitted.inverse, grid))
    inside = nodes_inside(floor=floor, grid=grid)
    misreads = misreads_of(seen=seen, robust=robust)
    problems = (
        *misread_problems(floor=floor, misreads=misreads),
        *doubtful_problems(floor=floor, seen=seen, robust=robust),
        *sparse_problems(
            floor=floor, grid=grid, inside=inside, error_m=error, seen=seen, kept=~robust.left_out
        ),
    )
    return Surface(
        floor_id=floor.id,
        grid=grid,
        height=to_steps(height),
        error=to_steps(error, step_m=ERROR_STEP_M),
        inside=inside,
        spline=_spline(basis=basis, plane=plane, task=task, fitted=fitted, kept=~robust.left_out),
        noise_sd_m=float(np.sqrt(noise * np.median(1.0 / fitted.stated))),
        effective_parameters=float(fitted.leverage.sum()),
        readings_plane=readings_plane(observations=seen),
        observations_used=int((~robust.left_out).sum()),
        misreads=misreads,
        problems=problems,
        steps=joint_steps(found=found, noise=noise),
    )


def _spline(*, basis: Basis, plane: Floats, task: Task, fitted: Fitted, kept: np.ndarray) -> Spline:
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
        joints=with_coefficients(found=fitted.smoothed.found, noise=noise),
    )
