"""The share of a straightedge's lays under which no gap is larger than allowed.

A rule that nine in ten samples keep is about samples as a crew takes them, anywhere and in any direction (our
reading; how they are chosen was not read): so lays are counted all over the floor, in the sixteen directions,
EVERY_M apart. Across a floor narrower than the edge it lies from wall to wall, as in straightedge.py, but not
over corners: where less than half of the edge has room any floor keeps the gap, and such lays would make up
the share.
"""

import numpy as np
from numpy.typing import NDArray

from slab_core.numerics.grid import Floats, Grid, Mask
from slab_core.numerics.kernel import inner_kernel, kernel
from slab_core.tolerance.lattice import direction_array

EVERY_M = 0.15
"""Lays closer to each other have nearly the same gap."""


def kept_share(*, grid: Grid, heights_m: Floats, free: Mask, length_m: float, gap_m: float) -> float:
    """Between 0 and 1; 1 where no edge has room. `free` comes from lattice.free_steps.

    Heights between two nodes of a line lie on the straight line between them; every lay starts on a node.
    """
    heights = np.ascontiguousarray(heights_m, dtype=np.float64)
    every = max(1, round(EVERY_M / grid.step_m))
    laid, kept = 0, 0
    for d, (dx, dy) in enumerate(direction_array()):
        span = length_m / (grid.step_m * float(np.hypot(dx, dy)))
        counts = _lay_all(heights, free[d], dx, dy, span, every, gap_m)
        laid, kept = laid + counts[0], kept + counts[1]
    return kept / laid if laid else 1.0


@kernel
def _lay_all(
    heights: Floats, free: Mask, dx: int, dy: int, span: float, every: int, gap: float
) -> tuple[int, int]:
    """How many edges of `span` steps were laid along one direction and how many of them kept the gap."""
    ny, nx = heights.shape
    whole = int(span + 1e-6)
    rest = max(0.0, span - whole)
    x, z = np.empty((2, whole + 2))
    hull = np.empty(whole + 2, dtype=np.int64)
    laid, kept = 0, 0
    for j in range(ny):
        for i in range(nx):
            from_j, from_i = j - dy, i - dx
            before = from_j >= 0 and 0 <= from_i < nx and free[from_j, from_i]
            if before or not free[j, i]:
                continue
            run = 0
            while free[j + run * dy, i + run * dx]:
                run += 1
            for start in range(0, run, every):
                steps = min(whole, run - start)
                ends_between = steps == whole and rest > 1e-6 and start + whole < run
                is_full = steps == whole and (ends_between or rest <= 1e-6)
                if not is_full and (start > 0 or 2 * steps < span):
                    continue
                for k in range(steps + 1):
                    x[k] = k
                    z[k] = heights[j + (start + k) * dy, i + (start + k) * dx]
                count = steps + 1
                if ends_between:
                    beyond = heights[j + (start + count) * dy, i + (start + count) * dx]
                    x[count] = span
                    z[count] = z[steps] + rest * (beyond - z[steps])
                    count += 1
                laid += 1
                kept += _keeps(x, z, count, hull, gap)
    return laid, kept


@inner_kernel
def _keeps(x: Floats, z: Floats, count: int, hull: NDArray[np.int64], gap: float) -> bool:
    """Whether no height lies farther below the upper hull of all, where the edge rests."""
    top = 0
    hull[0] = 0
    for k in range(1, count):
        while top > 0:
            a, b = hull[top - 1], hull[top]
            if (z[b] - z[a]) * (x[k] - x[a]) > (z[k] - z[a]) * (x[b] - x[a]):
                break
            top -= 1
        top += 1
        hull[top] = k
    for h in range(top):
        a, b = hull[h], hull[h + 1]
        slope = (z[b] - z[a]) / (x[b] - x[a])
        for k in range(a + 1, b):
            if z[a] + slope * (x[k] - x[a]) - z[k] > gap:
                return False
    return True
