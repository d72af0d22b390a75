"""Cells of a scan joined into squares, so that a fit has tens of thousands of heights and not millions."""

import math
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from slab_core.numerics.grid import Floats
from slab_core.scans.model import CellHeights

Longs = NDArray[np.int64]

HEIGHT_DIGITS = 6
_SAME = 1e-6


def joined_cells(*, cells: CellHeights, most: int) -> CellHeights:
    """Mean heights of squares of cells, at most about `most` over the whole floor.

    The squares lie alike for every scan of a floor, and larger ones hold whole smaller ones. What their
    cells share, the bias, stays as it is.
    """
    whole = cells.cells_covered + cells.cells_cleared + cells.cells_empty
    return coarser(cells=cells, across=2 ** max(0, math.ceil(math.log2(whole / most) / 2)))


def coarser(*, cells: CellHeights, across: int) -> CellHeights:
    """Means of squares that are so many cells wide; a square's random error is that of the mean."""
    if across == 1:
        return cells
    side = across * cells.cell_m
    group, count = _groups(cells, side)
    n = np.bincount(group, minlength=count).astype(np.float64)

    def mean(values: Floats) -> Floats:
        return np.asarray(np.bincount(group, weights=values, minlength=count) / n)

    random = np.sqrt(mean(cells.random_error_m**2) / n)
    bias = np.sqrt(mean(cells.standard_error_m**2 - cells.random_error_m**2).clip(min=0.0))
    return replace(
        cells,
        x_m=np.round(mean(cells.x_m), 9),
        y_m=np.round(mean(cells.y_m), 9),
        height_m=np.round(mean(cells.height_m), HEIGHT_DIGITS),
        standard_error_m=np.hypot(random, bias),
        random_error_m=random,
        points=np.bincount(group, weights=cells.points, minlength=count).astype(np.int32),
        cell_m=side,
    )


def alike(one: CellHeights, other: CellHeights) -> tuple[CellHeights, CellHeights]:
    """Both with squares as large as the larger of the two have."""
    side = max(one.cell_m, other.cell_m)
    first, second = (coarser(cells=cells, across=round(side / cells.cell_m)) for cells in (one, other))
    return first, second


def square_of(*, x_m: Floats, y_m: Floats, side_m: float) -> tuple[Longs, Longs]:
    """In which square of a plane full of them each place lies, along x and along y."""
    across, along = (np.floor(values / side_m + _SAME).astype(np.int64) for values in (x_m, y_m))
    return across, along


def _groups(cells: CellHeights, side: float) -> tuple[Longs, int]:
    """Number of each cell's square, in order of y, then of x, and how many there are."""
    across, along = square_of(x_m=cells.x_m, y_m=cells.y_m, side_m=side)
    found, group = np.unique(along * 2**32 + across, return_inverse=True)
    return np.asarray(group, dtype=np.int64), len(found)
