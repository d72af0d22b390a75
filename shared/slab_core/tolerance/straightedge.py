"""The largest departure from a straightedge at every node, over every position in sixteen directions."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from slab_core.numerics.budget import Budget
from slab_core.numerics.grid import Floats, Grid, Ints, Mask, Reals
from slab_core.tolerance.hulls import scan_runs
from slab_core.tolerance.lattice import direction_array
from slab_core.tolerance.model import Rule
from slab_core.tolerance.pairs import MOST_STEPS, WIDTH, run_steps, scan_pairs

Short = NDArray[np.float32]


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
    """The rule's departures, exactly, for the positions of the edge on the grid.

    `free` comes from lattice.free_steps. Heights between two nodes of a line lie on the straight line
    between them; every position with one end on a node is tried, the other end is interpolated. With
    both ends between nodes an edge of L may gape over a valley Δw² / 4L more, Δ being the difference of its
    sides' slopes and w the nodes' distance along it: micrometres, and less than what between.py allows.
    A stretch of floor shorter than the edge is tried with an edge as long as the stretch.

    Raises
    ------
    Stopped
        when the budget says so, between directions.
    """
    gap, rise = np.zeros(heights_m.shape), np.zeros(heights_m.shape)
    every = direction_array()
    longest = _scan(
        every,
        heights_m=heights_m,
        free=free,
        step_m=grid.step_m,
        rule=rule,
        budget=budget,
        gap=[gap] * len(every),
        rise=[rise] * len(every),
    )
    return Departures(gap_m=gap, rise_m=rise, longest_run_m=longest)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Runs:
    """For every direction the free steps behind and ahead of each node, shape (16, ny, nx), and those of the
    longest run: the same for all heights on a grid."""

    back: Ints
    ahead: Ints
    longest: tuple[int, ...]

    def first_columns(self, count: int) -> "Runs":
        """Of the first columns alone, where no run leads on from them."""
        back, ahead = (np.ascontiguousarray(steps[:, :, :count]) for steps in (self.back, self.ahead))
        return Runs(back=back, ahead=ahead, longest=self.longest)


def runs_of(free: Mask) -> Runs:
    """The runs of lattice.free_steps."""
    back, ahead = np.zeros((2, *free.shape), dtype=np.int32)
    longest = tuple(
        int(run_steps(free[d], dx, dy, back[d], ahead[d])) for d, (dx, dy) in enumerate(direction_array())
    )
    return Runs(back=back, ahead=ahead, longest=longest)


def longest_stretch_m(*, grid: Grid, free: Mask) -> float:
    """How long the longest edge is that the floor has room for, in any of the sixteen directions."""
    steps_m = np.hypot(*direction_array().T) * grid.step_m
    return float((steps_m * np.array(runs_of(free).longest)).max())


def departures_in_short(
    *,
    grid: Grid,
    heights_m: Floats,
    free: Mask,
    rule: Rule,
    budget: Budget,
    runs: Runs | None = None,
) -> tuple[Short, Short]:
    """(gap, rise) in metres at every node, shape (ny, nx), in 32 bits: good to a hundred thousandth of a
    millimetre where heights lie within 100 mm of their mean. Who asks often may have the `runs` of `free`.

    Raises
    ------
    Stopped
        when the budget says so, between directions.
    """
    gap, rise = np.zeros((2, *heights_m.shape), dtype=np.float32)
    each = len(direction_array())
    _scan_short(
        grid=grid,
        heights_m=heights_m,
        free=free,
        rule=rule,
        budget=budget,
        gap=[gap] * each,
        rise=[rise] * each,
        runs=runs,
    )
    return gap, rise


def departures_each_way(
    *, grid: Grid, heights_m: Floats, free: Mask, rule: Rule, budget: Budget
) -> tuple[Short, Short]:
    """What departures_in_short tells for each of the sixteen directions by itself, shape (16, ny, nx).

    Raises
    ------
    Stopped
        when the budget says so, between directions.
    """
    gap, rise = np.zeros((2, len(direction_array()), *heights_m.shape), dtype=np.float32)
    _scan_short(
        grid=grid, heights_m=heights_m, free=free, rule=rule, budget=budget, gap=list(gap), rise=list(rise)
    )
    return gap, rise


def profile_departures(*, heights_m: Floats, spacing_m: float, rule: Rule) -> Departures:
    """The rule's departures along one measured line; arrays of shape (1, n)."""
    z = np.asarray(heights_m, dtype=np.float64)[None, :]
    free = np.ones((1, *z.shape), dtype=np.bool_)
    free[0, 0, -1] = False
    along = direction_array()[:1]
    gap, rise = np.zeros_like(z), np.zeros_like(z)
    longest = _scan(
        along,
        heights_m=z,
        free=free,
        step_m=spacing_m,
        rule=rule,
        budget=Budget(),
        gap=[gap],
        rise=[rise],
    )
    return Departures(gap_m=gap, rise_m=rise, longest_run_m=longest)


def _scan_short(
    *,
    grid: Grid,
    heights_m: Floats,
    free: Mask,
    rule: Rule,
    budget: Budget,
    gap: Sequence[Short],
    rise: Sequence[Short],
    runs: Runs | None = None,
) -> None:
    """The scan over heights less their mean: those far from 0 would lose digits."""
    floor = free.any(axis=0)
    mean_m = float(heights_m[floor].mean()) if floor.any() else 0.0
    _scan(
        direction_array(),
        heights_m=(heights_m - mean_m).astype(np.float32),
        free=free,
        step_m=grid.step_m,
        rule=rule,
        budget=budget,
        gap=gap,
        rise=rise,
        runs=runs,
    )


def _scan(
    directions: NDArray[np.int64],
    *,
    heights_m: Reals,
    free: Mask,
    step_m: float,
    rule: Rule,
    budget: Budget,
    gap: Sequence[Reals],
    rise: Sequence[Reals],
    runs: Runs | None = None,
) -> float:
    """Raise each direction's `gap` and `rise`, in the precision of all three; gives the length in metres of
    the longest run. A rule of gaps alone leaves `rise` at zero."""
    z = np.ascontiguousarray(heights_m)
    back, ahead = np.zeros(z.shape, dtype=np.int32), np.zeros(z.shape, dtype=np.int32)
    both, chord = rule.kind != "gap-only", rule.kind == "chord"
    pad = 3 * MOST_STEPS
    padded = np.pad(z, ((0, 0), (pad, pad + WIDTH)))
    longest = 0.0
    for d, (dx, dy) in enumerate(directions):
        budget.left_s()
        step = step_m * float(np.hypot(dx, dy))
        span = rule.length_m / step
        if chord or span > MOST_STEPS:
            most = scan_runs(z, free[d], dx, dy, span, chord, both, gap[d], rise[d])
        elif runs is not None:
            most = runs.longest[d]
            scan_pairs(padded, pad, dx, dy, span, runs.back[d], runs.ahead[d], gap[d], rise[d])
        else:
            most = run_steps(free[d], dx, dy, back, ahead)
            scan_pairs(padded, pad, dx, dy, span, back, ahead, gap[d], rise[d])
        longest = max(longest, step * most)
    if not both:
        for one in rise:
            one.fill(0.0)  # pairs give the rise together with the gap
    return longest
