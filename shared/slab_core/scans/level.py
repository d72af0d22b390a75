"""Where the floor is: the lowest height that many cells share, and the plane through it."""

import numpy as np

from slab_core.errors import refuse
from slab_core.numerics.grid import Floats

LEVEL_BIN_M = 0.02
LEVEL_BAND_BINS = 5
LEAST_SHARE = 0.10
"""Share of the cells within a tenth of a metre of height that may be the floor."""

ENOUGH_CELLS = 10_000
"""A plane through so many, evenly taken, is as good as one through all."""

STEEPEST = 0.09
"""A ramp for wheelchairs is 1 in 12; steeper is a scan that was not set level, or whose z is not height."""


def floor_level(heights_m: Floats) -> float:
    """Middle of the lowest 0.1 m of height that holds a tenth of the cells' heights, shape (n,).

    Raises InputRefused when no height is shared by so many.
    """
    low = float(heights_m.min())
    bins = ((heights_m - low) / LEVEL_BIN_M).astype(np.int64)
    counts = np.bincount(np.minimum(bins, 1_000_000), minlength=LEVEL_BAND_BINS)
    held = np.convolve(counts, np.ones(LEVEL_BAND_BINS), mode="valid")
    enough = np.flatnonzero(held >= max(LEAST_SHARE * len(heights_m), 1.0))
    if not len(enough):
        detail = "No height is shared by a tenth of the scanned cells, so the floor cannot be found."
        raise refuse(
            code="scan-without-floor", detail=f"{detail} Check that z points up and the floor is in it."
        )
    first = int(enough[0])
    while first + 1 < len(held) and held[first + 1] > held[first]:
        first += 1
    return low + (first + LEVEL_BAND_BINS / 2) * LEVEL_BIN_M


def floor_plane(*, x_m: Floats, y_m: Floats, heights_m: Floats) -> Floats:
    """Plane (height at the origin, slope along x, along y) through most of what lies about the floor's level.

    Raises InputRefused when it is steeper than a floor, or there is no level.
    """
    every = max(1, len(heights_m) // ENOUGH_CELLS)
    x_m, y_m, heights_m = x_m[::every], y_m[::every], heights_m[::every]
    middle = np.array([x_m.mean(), y_m.mean()])
    columns = np.column_stack([np.ones_like(x_m), x_m - middle[0], y_m - middle[1]])
    plane = np.array([floor_level(heights_m), 0.0, 0.0])
    for band in (0.15, 0.12, 0.09, 0.06, 0.06, 0.06):
        near = np.abs(heights_m - columns @ plane) <= band
        if np.count_nonzero(near) < 3:
            break
        plane = _least_squares(columns[near], heights_m[near])
    slope = float(np.hypot(plane[1], plane[2]))
    if slope > STEEPEST:
        detail = f"The lowest surface of the scan rises {slope:.0%} of its length, more than a floor."
        raise refuse(code="scan-not-level", detail=f"{detail} Level the scan, with z up, and send it again.")
    return np.array([plane[0] - plane[1:] @ middle, plane[1], plane[2]])


def _least_squares(columns: Floats, values: Floats) -> Floats:
    """By the normal equations: the columns are lengths in a building about their middle."""
    return np.asarray(np.linalg.lstsq(columns.T @ columns, columns.T @ values, rcond=None)[0])
