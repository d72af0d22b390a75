"""Surfaces made by hand, whose heights are known."""

import numpy as np

from slab_core.numerics.grid import Grid, to_steps
from slab_core.rooms.model import Floor
from slab_core.surface.area import nodes_inside
from slab_core.surface.model import Spline, Surface
from tests.slabs import Height


def known_surface(*, floor: Floor, height: Height, step: float = 0.1) -> Surface:
    """The heights of a formula on a floor with a corner at the origin, without errors."""
    x, y = np.array(floor.shell).T
    nx, ny = round(float(np.ptp(x)) / step) + 1, round(float(np.ptp(y)) / step) + 1
    grid = Grid(x0_m=0.0, y0_m=0.0, step_m=step, nx=nx, ny=ny)
    xs, ys = np.meshgrid(grid.xs(), grid.ys())
    return Surface(
        floor_id=floor.id,
        grid=grid,
        height=to_steps(height(xs, ys)),
        error=np.zeros((ny, nx), dtype=np.int32),
        inside=nodes_inside(floor=floor, grid=grid),
        spline=no_spline(),
        noise_sd_m=0.0007,
        effective_parameters=3.0,
        observations_used=100,
    )


def no_spline() -> Spline:
    """Of a surface that no readings were fitted to."""
    none = np.zeros(0)
    return Spline(
        x0_m=0.0, y0_m=0.0, knot_step_m=1.0, coefficient_m=np.zeros((11, 11)), smoothing=1.0, obs_x_m=none,
        obs_y_m=none, obs_weight=none, obs_value_m=none, obs_sd_m=none,
    )  # fmt: skip
