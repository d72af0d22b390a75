"""The largest departure from a straightedge at every node, over every position in sixteen directions."""

from dataclasses import dataclass

import numpy as np

from slab_core.numerics.budget import Budget
from slab_core.numerics.grid import Floats, Grid, Mask
from slab_core.tolerance.hulls import scan_runs
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
        most = scan_runs(z, free[d], dx, dy, span, rule.kind == "chord", both, gap, rise)
        longest = max(longest, step * most)
    return Departures(gap_m=gap, rise_m=rise, longest_run_m=longest)


def profile_departures(*, heights_m: Floats, spacing_m: float, rule: Rule) -> Departures:
    """The rule's departures along one measured line; arrays of shape (1, n)."""
    z = np.ascontiguousarray(heights_m, dtype=np.float64)[None, :]
    free = np.ones(z.shape, dtype=np.bool_)
    free[0, -1] = False
    gap, rise = np.zeros_like(z), np.zeros_like(z)
    both = rule.kind != "gap-only"
    most = scan_runs(z, free, 1, 0, rule.length_m / spacing_m, rule.kind == "chord", both, gap, rise)
    return Departures(gap_m=gap, rise_m=rise, longest_run_m=most * spacing_m)
