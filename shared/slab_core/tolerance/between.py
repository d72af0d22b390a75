"""How much more an edge may depart that lies between the directions and positions that are tried.

Turn an edge about the point of its departure by θ: with supports u and v away, the departure changes by
uv/(u + v) times the difference of the slopes at the supports across the edge, at most L/4 · G for an edge
of length L, where G is the largest difference of two slopes within its reach. Moved aside by δ it changes
by at most δ · G. A plane has one slope, so tilt costs nothing. The nearest direction tried is at most half of
18.4° away, the nearest node at most half the diagonal of a cell. The bound is for the fitted surface as its
grid shows it, and where no wall keeps the edge from being turned.
"""

import numpy as np
from scipy.ndimage import maximum_filter, minimum_filter

from slab_core.numerics.grid import Floats, Grid, Mask
from slab_core.tolerance.lattice import direction_array


def between_m(*, grid: Grid, heights_m: Floats, inside: Mask, departure_m: Floats, length_m: float) -> float:
    """What an edge of any direction and place may depart beyond the largest departure found."""
    if not inside.any():
        return 0.0
    known = np.where(inside, heights_m, np.nan)
    reach = 2 * int(np.ceil(length_m / grid.step_m)) + 1
    squared = np.zeros(heights_m.shape)
    for axis in (0, 1):
        if heights_m.shape[axis] < 2:
            continue
        steps = np.diff(known, axis=axis) / grid.step_m
        fills = (np.nan_to_num(steps, nan=-np.inf), np.nan_to_num(steps, nan=np.inf))
        margin = [(0, int(axis == 0)), (0, int(axis == 1))]
        high = maximum_filter(np.pad(fills[0], margin, constant_values=-np.inf), size=reach, mode="nearest")
        low = minimum_filter(np.pad(fills[1], margin, constant_values=np.inf), size=reach, mode="nearest")
        spread = high - low
        squared += np.where(np.isfinite(spread), spread, 0.0) ** 2
    move = length_m / 4.0 * _half_turn() + grid.step_m / np.sqrt(2.0)
    most = np.where(inside, departure_m + move * np.sqrt(squared), 0.0)
    return float(most.max() - departure_m.max(initial=0.0))


def _half_turn() -> float:
    """Half of the largest angle between two directions that follow each other, in radians."""
    x, y = direction_array().T.astype(np.float64)
    angles = np.arctan2(y, x)
    return float(np.diff(np.append(angles, angles[0] + np.pi)).max()) / 2.0
