"""The largest departure from a straightedge at every node, over every position in sixteen directions."""

from dataclasses import dataclass

import numpy as np

from slab_core.numerics.budget import Budget
from slab_core.numerics.grid import Floats, Grid, Mask
from slab_core.numerics.kernel import kernel
from slab_core.tolerance.hulls import sliding_chord, sliding_hull
from slab_core.tolerance.lattice import direction_array
from slab_core.tolerance.model import Rule


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Departures:
    """Metres at every node, shape (ny, nx): `gap` under the edge and `rise` over it."""

    gap_m: Floats
    rise_m: Floats
    longest_run_m: float

    def larger_m(self) -> Floats:
        """The larger of the two at every node."""
        return np.maximum(self.gap_m, self.rise_m)


def departures(*, grid: Grid, heights_m: Floats, free: Mask, rule: Rule, budget: Budget) -> Departures:
    """The rule's departures, exactly, for all positions of the edge on the grid.

    `free` comes from lattice.free_steps. Heights between two nodes of a line lie on the straight line
    between them; every position with one end on a node is tried, the other end is interpolated.
    A stretch of floor shorter than the edge is tried with an edge as long as the stretch.

    Raises
    ------
    Stopped
        when the budget says so, between directions.
    """
    z = np.ascontiguousarray(heights_m)
    gap, rise = np.zeros_like(z), np.zeros_like(z)
    longest = 0.0
    for d, (dx, dy) in enumerate(direction_array()):
        budget.left_s()
        step = grid.step_m * float(np.hypot(dx, dy))
        span = rule.length_m / step
        both = rule.kind != "gap-only"
        most = _scan(z, free[d], dx, dy, span, rule.kind == "chord", both, gap, rise)
        longest = max(longest, step * most)
    return Departures(gap_m=gap, rise_m=rise, longest_run_m=longest)


def profile_departures(*, heights_m: Floats, spacing_m: float, rule: Rule) -> Departures:
    """The rule's departures along one measured line; arrays of shape (1, n)."""
    z = np.ascontiguousarray(heights_m, dtype=np.float64)[None, :]
    free = np.ones(z.shape, dtype=np.bool_)
    free[0, -1] = False
    gap, rise = np.zeros_like(z), np.zeros_like(z)
    both = rule.kind != "gap-only"
    most = _scan(z, free, 1, 0, rule.length_m / spacing_m, rule.kind == "chord", both, gap, rise)
    return Departures(gap_m=gap, rise_m=rise, longest_run_m=most * spacing_m)


@kernel
def _scan(
    z: Floats,
    free: Mask,
    dx: int,
    dy: int,
    span: float,
    chord: bool,
    both: bool,
    gap: Floats,
    rise: Floats,
) -> int:
    """Try every run of one direction; gives the steps of the longest run."""
    ny, nx = z.shape
    room = max(ny, nx) + 1
    run, cover = np.empty(room), np.empty(room)
    left, saved = np.zeros(room, dtype=np.int32), np.zeros(room, dtype=np.int32)
    tops, right = np.zeros(room, dtype=np.int32), np.zeros(room, dtype=np.int32)
    longest = 0
    for j in range(ny):
        for i in range(nx):
            if not free[j, i]:
                continue
            if j - dy >= 0 and 0 <= i - dx < nx and free[j - dy, i - dx]:
                continue
            # Heights from the run's own start: a datum far away would cost digits.
            n, y, x, base = 0, j, i, z[j, i]
            while True:
                run[n] = z[y, x] - base
                n += 1
                if not free[y, x]:
                    break
                y += dy
                x += dx
            longest = max(longest, n - 1)
            for side in range(2 if both else 1):
                if side == 1:
                    for k in range(n):
                        run[k] = -run[k]
                for k in range(n):
                    cover[k] = run[k]
                if chord:
                    sliding_chord(run, n, span, cover)
                else:
                    sliding_hull(run, n, span, left, saved, tops, right, cover)
                out = gap if side == 0 else rise
                for k in range(n):
                    y, x = j + k * dy, i + k * dx
                    out[y, x] = max(out[y, x], cover[k] - run[k])
    return longest
