"""How far a floor is from level, apart from how flat it is."""

from dataclasses import dataclass

import numpy as np

from slab_core.numerics.grid import Floats, Grid, Mask


@dataclass(frozen=True, slots=True, kw_only=True)
class Level:
    """`fall_m` is highest less lowest; the slopes are those of the least-squares plane, in m per m."""

    fall_m: float
    slope_x: float
    slope_y: float


def level_of(*, grid: Grid, heights_m: Floats, inside: Mask) -> Level:
    """Fall and slope over the nodes inside; zero where there are none."""
    if not inside.any():
        return Level(fall_m=0.0, slope_x=0.0, slope_y=0.0)
    xs, ys = (axis[inside] for axis in np.meshgrid(grid.xs(), grid.ys()))
    z = heights_m[inside]
    columns = np.column_stack([np.ones(len(z)), xs - xs.mean(), ys - ys.mean()])
    plane, *_ = np.linalg.lstsq(columns, z - z.mean(), rcond=None)
    return Level(fall_m=float(z.max() - z.min()), slope_x=float(plane[1]), slope_y=float(plane[2]))
