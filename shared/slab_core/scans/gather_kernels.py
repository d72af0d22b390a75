"""Kernels that give every point its cell, sort points by cell and thin them evenly."""

import numpy as np
from numpy.typing import NDArray

from slab_core.numerics.grid import Floats, Ints
from slab_core.numerics.kernel import kernel

Singles = NDArray[np.float32]
FARTHEST_M = 1e9


@kernel
def assign(
    points: Floats,
    frame: Floats,
    across_cells: int,
    arrived: Ints,
    level: Ints,
    thinned: bool,
    extent: Floats,
    cell: Ints,
    height: Singles,
) -> tuple[int, int, int]:
    """Cell and height of the points that lie on the floor and are not thinned out.

    `frame` is (ox, oy, oz, cos, sin, sx, sy) with lengths after the turn in cells from the grid's corner;
    `arrived` counts the points of each cell, below 0 where there is no floor. Gives how many were kept,
    how many are not on the floor, and the first row that holds no number (-1: none).
    """
    ox, oy, oz = frame[0], frame[1], frame[2]
    cos, sin, sx, sy = frame[3], frame[4], frame[5], frame[6]
    down_cells = arrived.shape[0] // across_cells
    kept = 0
    outside = 0
    low_x, low_y, low_z = extent[0], extent[1], extent[2]
    high_x, high_y, high_z = extent[3], extent[4], extent[5]
    for i in range(points.shape[0]):
        x = points[i, 0] - ox
        y = points[i, 1] - oy
        z = points[i, 2] - oz
        low_x = min(low_x, x)
        high_x = max(high_x, x)
        low_y = min(low_y, y)
        high_y = max(high_y, y)
        low_z = min(low_z, z)
        high_z = max(high_z, z)
        across = cos * x - sin * y + sx
        along = sin * x + cos * y + sy
        # A place that is not a number lies in no range, nor does a height that is not.
        if not (0.0 <= across < across_cells and 0.0 <= along < down_cells and abs(z) < FARTHEST_M):
            if not np.isfinite(x + y + z):
                return kept, outside, i
            outside += 1
            continue
        k = int(along) * across_cells + int(across)
        nth = arrived[k]
        if nth < 0:
            outside += 1
            continue
        arrived[k] = nth + 1
        if thinned and nth & ((1 << level[k]) - 1):
            continue
        cell[kept] = k
        height[kept] = z
        kept += 1
    extent[0], extent[1], extent[2] = low_x, low_y, low_z
    extent[3], extent[4], extent[5] = high_x, high_y, high_z
    return kept, outside, -1


@kernel
def count(cell: Ints, counts: Ints) -> None:
    """Add the points of each cell to `counts`."""
    for k in cell:
        counts[k] += 1


@kernel
def scatter(cell: Ints, height: Singles, place: Ints, ordered: Singles) -> None:
    """Write heights to their cell's next place, which moves on."""
    for i in range(cell.shape[0]):
        k = cell[i]
        ordered[place[k]] = height[i]
        place[k] += 1


@kernel
def thin(cell: Ints, height: Singles, drop: Ints, seen: Ints) -> int:
    """Of the cells to `drop` from keep every second point, in place; gives how many are left.

    `seen` counts the cells' points on from block to block.
    """
    kept = 0
    for i in range(cell.shape[0]):
        k = cell[i]
        nth = seen[k]
        seen[k] = nth + 1
        if drop[k] and nth & 1:
            continue
        cell[kept] = k
        height[kept] = height[i]
        kept += 1
    return kept
