"""Compile every kernel of the surface once, so that child processes find them ready."""

import numpy as np

from slab_core.numerics.budget import Budget
from slab_core.rooms.model import Floor
from slab_core.surface.fit import fit_surface
from slab_core.surface.model import SurfaceOptions
from slab_core.surface.sample import draw, evaluate
from slab_core.surveys.model import Observations

SIDE_M = 3.0
"""Steps are searched for along lines that are not much shorter."""


def warm() -> None:
    """Fit a small surface with a gap and a step, which is searched for, and draw from it."""
    side = np.linspace(0.0, SIDE_M, 6)
    x, y = (np.append(axis.ravel(), 0.5) for axis in np.meshgrid(side, side))
    count = len(x)
    ends = np.zeros(count)
    ends[-1] = 1.0
    weight = np.zeros((count, 3))
    weight[:, 0] = 1.0
    weight[-1] = -1.0, 0.5, 0.5
    seen = Observations(
        x_m=np.column_stack([x, np.zeros(count), ends]),
        y_m=np.column_stack([y, np.zeros(count), ends]),
        weight=weight,
        value_m=np.where(x < 0.5 * SIDE_M, 0.0, 0.02) * weight.sum(axis=1),
        sd_m=np.full(count, 0.001),
        position_sd_m=np.full(count, 0.01),
        pointer=("",) * count,
    )
    shell = ((0.0, 0.0), (SIDE_M, 0.0), (SIDE_M, SIDE_M), (0.0, SIDE_M))
    floor = Floor(id="warm", rooms=(), shell=shell, gaps=(), area_m2=SIDE_M**2, wall_m=4 * SIDE_M)
    surface = fit_surface(
        floor=floor, observations=seen, options=SurfaceOptions(grid_step_m=0.5), budget=Budget()
    )
    evaluate(spline=surface.spline, x_m=ends, y_m=ends)
    draw(spline=surface.spline, grid=surface.grid, count=1, rng=np.random.default_rng(0))
