"""Compile every kernel of the surface once, so that child processes find them ready."""

import numpy as np

from slab_core.numerics.budget import Budget
from slab_core.rooms.model import Floor
from slab_core.surface.fit import fit_surface
from slab_core.surface.model import SurfaceOptions
from slab_core.surface.sample import draw, evaluate
from slab_core.surveys.model import Observations


def warm() -> None:
    """Fit a tiny surface with a gap in it, and draw from it."""
    corner = np.array([[0.0, 0.0], [1.0, 0.0], [0.0, 1.0], [1.0, 1.0], [0.5, 0.5]])
    zero = np.zeros(5)
    seen = Observations(
        x_m=np.column_stack([corner[:, 0], zero, [0.0, 0.0, 0.0, 0.0, 1.0]]),
        y_m=np.column_stack([corner[:, 1], zero, [0.0, 0.0, 0.0, 0.0, 1.0]]),
        weight=np.array([[1.0, 0.0, 0.0]] * 4 + [[-1.0, 0.5, 0.5]]),
        value_m=zero,
        sd_m=np.full(5, 0.001),
        position_sd_m=np.full(5, 0.01),
        pointer=("", "", "", "", ""),
    )
    shell = ((0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0))
    floor = Floor(id="warm", rooms=(), shell=shell, gaps=(), area_m2=1.0, wall_m=4.0)
    surface = fit_surface(
        floor=floor, observations=seen, options=SurfaceOptions(grid_step_m=0.5), budget=Budget()
    )
    evaluate(spline=surface.spline, x_m=zero, y_m=zero)
    draw(spline=surface.spline, grid=surface.grid, count=1, rng=np.random.default_rng(0))
