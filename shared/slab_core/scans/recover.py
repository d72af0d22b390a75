"""A second look at cells whose lowest dense height is not the floor: a few returns may still be of it."""

import numpy as np

from slab_core.numerics.grid import Floats, Ints
from slab_core.numerics.kernel import kernel
from slab_core.scans.modes import Singles

HALF_WINDOW_M = 0.006
CLEAR_ABOVE_M = 0.030


def recover(
    *, ordered: Singles, starts: Ints, cells: Ints, expected_m: Floats, least_points: int
) -> tuple[Floats, Floats, Ints]:
    """Mean, standard deviation and count of the points within 6 mm of the height expected in each of `cells`.

    They count only where they stand out: a leg or a wall has as many points in the 24 mm above. A cell
    without them has a mean that is not a number.
    """
    mean, sd = np.full(len(cells), np.nan), np.zeros(len(cells))
    used = np.zeros(len(cells), dtype=np.int32)
    bounds = np.array([HALF_WINDOW_M, CLEAR_ABOVE_M])
    _look(ordered, starts, cells, expected_m, bounds, max(3, least_points // 2), mean, sd, used)
    return mean, sd, used


@kernel
def _look(
    ordered: Singles,
    starts: Ints,
    cells: Ints,
    expected: Floats,
    bounds: Floats,
    least: int,
    mean: Floats,
    sd: Floats,
    used: Ints,
) -> None:
    for c in range(cells.shape[0]):
        n = 0
        over = 0
        total = 0.0
        squares = 0.0
        for value in ordered[starts[cells[c]] : starts[cells[c] + 1]]:
            away = value - expected[c]
            if -bounds[0] <= away <= bounds[0]:
                n += 1
                total += away
                squares += away * away
            elif bounds[0] < away <= bounds[1]:
                over += 1
        if n >= least and n > 2 * over:
            used[c] = n
            mean[c] = expected[c] + total / n
            sd[c] = np.sqrt(max(squares / n - (total / n) ** 2, 0.0) * n / (n - 1))
