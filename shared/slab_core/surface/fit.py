"""The surface stage: one smooth surface through every observation, with its standard errors."""

import numpy as np

from slab_core.errors import refuse
from slab_core.numerics.budget import Budget
from slab_core.numerics.grid import Floats, Grid, Mask
from slab_core.rooms.model import Floor
from slab_core.surface.area import grid_over
from slab_core.surface.basis import Basis, basis_over
from slab_core.surface.change import as_at_first, with_change
from slab_core.surface.design import Design, design
from slab_core.surface.joints import spline_joints
from slab_core.surface.model import Change, Surface, SurfaceOptions
from slab_core.surface.nearness import measured
from slab_core.surface.relief import unseen_relief, walls_of
from slab_core.surface.result import surface_of
from slab_core.surface.robust import Robust, Task, fit_robustly
from slab_core.surface.smoothing import BENDING_CHANGE_M2
from slab_core.surveys.model import Observations

LEAST_KNOT_M, GREATEST_KNOT_M = 0.17, 0.3
KNOTS_PER_SPACING = 0.6
ROUGH_KNOT_M = 0.5
"""Knots of the fit that only tells the smoothing and the slopes: slabs' waves are longer."""

MARGIN_M, MARGIN_KNOTS = 0.3, 1.5
"""The spline reaches beyond the floor by the greater of both, else it would bend too freely at walls."""

MOST_COEFFICIENTS = 18_000
LEAST_SPREAD_M = 0.01


def fit_surface(
    *,
    floor: Floor,
    observations: Observations,
    options: SurfaceOptions,
    budget: Budget,
    change: Change | None = None,
) -> Surface:
    """Fit the floor's surface to its observations, all of them as after the `change`.

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
    if change is not None:
        before = as_at_first(observations, change=change)
        surface = fit_surface(floor=floor, observations=before, options=options, budget=budget)
        return with_change(surface, change=change, seen=observations)
    grid = grid_over(floor=floor, step_m=options.grid_step_m)
    basis = _basis(floor=floor, grid=grid, seen=observations)
    plane = _plane(observations)
    task = _task(floor=floor, basis=basis, plane=plane, seen=observations, budget=budget)
    robust = fit_robustly(task)
    return surface_of(floor=floor, grid=grid, basis=basis, plane=plane, task=task, robust=robust)


def robust_fit(*, floor: Floor, observations: Observations, budget: Budget) -> Robust:
    """The fit alone, for whoever wants what readings share. They tell a surface (`tells_a_surface`)."""
    grid = grid_over(floor=floor, step_m=None)
    basis, plane = _basis(floor=floor, grid=grid, seen=observations), _plane(observations)
    return fit_robustly(_task(floor=floor, basis=basis, plane=plane, seen=observations, budget=budget))


def tells_a_surface(seen: Observations) -> bool:
    """Whether there are three heights or more that do not lie on one line."""
    heights = _heights(seen)
    at = np.column_stack([seen.x_m[heights, 0], seen.y_m[heights, 0]])
    return len(at) >= 3 and bool(np.linalg.eigvalsh(np.cov(at.T, bias=True))[0] >= LEAST_SPREAD_M**2)


def _heights(seen: Observations) -> Mask:
    return np.asarray((seen.weight[:, 1:] == 0.0).all(axis=1) & (seen.weight[:, 0] != 0.0))


def _task(*, floor: Floor, basis: Basis, plane: Floats, seen: Observations, budget: Budget) -> Task:
    everywhere = measured(x_m=seen.x_m, y_m=seen.y_m, weight=seen.weight)
    return Task(
        observations=seen,
        design=_design(basis, floor=floor, seen=seen),
        rough=_design(_rougher(basis), floor=floor, seen=seen),
        value_m=seen.value_m - _plane_values(plane, seen),
        plane_slope=(plane[1], plane[2]),
        relief_m2=unseen_relief(observations=seen, seen=everywhere, walls=walls_of(floor)),
        budget=budget,
    )


def _refuse_unusable(*, floor: Floor, seen: Observations) -> None:
    columns = (seen.x_m, seen.y_m, seen.weight, seen.value_m, seen.position_sd_m, seen.sd_m)
    if not all(np.isfinite(column).all() for column in columns) or (seen.sd_m <= 0.0).any():
        finite = np.isfinite(np.column_stack(columns)).all(axis=1)
        i = int(np.flatnonzero(~finite | (seen.sd_m <= 0.0))[0])
        detail = (
            f"floor {floor.id}: every column of a reading must be a finite number and its standard deviation "
            "above 0"
        )
        raise refuse(code="reading-not-a-number", detail=detail, pointer=seen.pointer[i])
    if tells_a_surface(seen):
        return
    detail = (
        f"height readings in usable places on floor {floor.id}: {int(_heights(seen).sum())}; a surface "
        "needs at least three that do not lie on one line (straightedge gaps alone say nothing of the level)"
    )
    raise refuse(code="readings-too-few", detail=detail, pointer="/surveys")


def _basis(*, floor: Floor, grid: Grid, seen: Observations) -> Basis:
    """Knots by the mean spacing of the readings, over everything that is read or drawn."""
    spacing = np.sqrt(floor.area_m2 / len(seen.value_m))
    step = float(np.clip(KNOTS_PER_SPACING * spacing, LEAST_KNOT_M, GREATEST_KNOT_M))
    margin = max(MARGIN_M, MARGIN_KNOTS * step)
    x1, y1 = grid.x0_m + (grid.nx - 1) * grid.step_m, grid.y0_m + (grid.ny - 1) * grid.step_m
    low = (min(grid.x0_m, float(seen.x_m.min())) - margin, min(grid.y0_m, float(seen.y_m.min())) - margin)
    high = (max(x1, float(seen.x_m.max())) + margin, max(y1, float(seen.y_m.max())) + margin)
    area = (high[0] - low[0]) * (high[1] - low[1])
    step = max(step, float(np.sqrt(area / MOST_COEFFICIENTS)))
    return basis_over(low=low, high=high, step_m=round(step, 6))


def _rougher(basis: Basis) -> Basis:
    """The same rectangle with knots twice as far apart, but not farther than they need to be."""
    step = max(basis.step_m, min(2.0 * basis.step_m, ROUGH_KNOT_M))
    x1, y1 = basis.x0_m + basis.cells_x * basis.step_m, basis.y0_m + basis.cells_y * basis.step_m
    return basis_over(low=(basis.x0_m, basis.y0_m), high=(x1, y1), step_m=step)


def _design(basis: Basis, *, floor: Floor, seen: Observations) -> Design:
    return design(
        basis=basis,
        x_m=seen.x_m,
        y_m=seen.y_m,
        weight=seen.weight,
        joints=spline_joints(floor),
        shared_m=seen.shared_m,
        bending_change_m2=BENDING_CHANGE_M2,
    )


def _plane(seen: Observations) -> Floats:
    """Least-squares plane (height at the origin, slopes), so that the rest is small numbers."""
    x, y = float(seen.x_m[:, 0].mean()), float(seen.y_m[:, 0].mean())
    columns = np.array([seen.weight, seen.weight * (seen.x_m - x), seen.weight * (seen.y_m - y)]).sum(axis=2)
    weighted = columns / np.square(seen.sd_m)
    height, slope_x, slope_y = np.linalg.solve(weighted @ columns.T, weighted @ seen.value_m)
    return np.array([height - slope_x * x - slope_y * y, slope_x, slope_y])


def _plane_values(plane: Floats, seen: Observations) -> Floats:
    at = plane[0] + plane[1] * seen.x_m + plane[2] * seen.y_m
    return np.asarray((seen.weight * at).sum(axis=1))
