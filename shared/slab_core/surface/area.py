"""The grid over a floor, and which of its nodes lie on it."""

import math

import numpy as np
import shapely

from slab_core.numerics.grid import Grid, Mask
from slab_core.rooms.geometry import floor_polygon
from slab_core.rooms.model import Floor

FINE_STEP_M = 0.05
COARSE_STEP_M = 0.1
COARSE_ABOVE_M2 = 150.0


def grid_over(*, floor: Floor, step_m: float | None) -> Grid:
    """Nodes that cover the floor's bounding box, centred on it, with a margin of at most one step."""
    step = step_m or (FINE_STEP_M if floor.area_m2 <= COARSE_ABOVE_M2 else COARSE_STEP_M)
    x0, y0, x1, y1 = floor_polygon(floor).bounds
    nx, ny = (math.ceil((high - low) / step - 1e-9) + 1 for low, high in ((x0, x1), (y0, y1)))
    return Grid(
        x0_m=round((x0 + x1 - (nx - 1) * step) / 2, 9),
        y0_m=round((y0 + y1 - (ny - 1) * step) / 2, 9),
        step_m=step,
        nx=nx,
        ny=ny,
    )


def nodes_inside(*, floor: Floor, grid: Grid) -> Mask:
    """Which nodes lie on the floor or on its edge (within a micrometre), shape (ny, nx)."""
    xs, ys = np.meshgrid(grid.xs(), grid.ys())
    widened = floor_polygon(floor).buffer(1e-6, join_style="mitre")
    shapely.prepare(widened)
    return np.asarray(shapely.contains_xy(widened, xs, ys), dtype=np.bool_)
