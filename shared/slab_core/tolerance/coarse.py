"""A coarser grid over a floor, on which draws of its surface are checked against the rules."""

from dataclasses import dataclass, replace
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from slab_core.numerics.budget import Budget
from slab_core.numerics.grid import Floats, Grid, Mask, to_metres
from slab_core.rooms.model import Floor
from slab_core.surface.model import Surface
from slab_core.surface.sample import Sampler, evaluate
from slab_core.tolerance.lattice import free_steps
from slab_core.tolerance.model import Rule
from slab_core.tolerance.straightedge import departures, departures_in_short, runs_of

Scalar = TypeVar("Scalar", bound=np.generic)

SIDE_BY_SIDE = 16

FINEST_M, COARSEST_M, STEPS_OF_AN_EDGE = 0.1, 0.15, 20.0
"""Draws hold no waves shorter than about 0.7 m, which a grid of 0.15 m tells."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Coarse:
    """Every so many-th node of a surface's grid: those in `rows` and `columns` of its arrays."""

    grid: Grid
    inside: Mask
    free: Mask
    rows: slice
    columns: slice

    def of(self, values: NDArray[Scalar]) -> NDArray[Scalar]:
        """What an array over the surface's grid holds at these nodes, shape (ny, nx)."""
        return values[self.rows, self.columns]

    def within(self, *, floor: Floor, where: Mask) -> "Coarse":
        """The same nodes, of which only those count that are marked in an array over the surface's grid: no
        edge lies on or across others."""
        inside = self.inside & self.of(where)
        return replace(self, inside=inside, free=free_steps(floor=floor, grid=self.grid, inside=inside))

    def departures_m(self, heights_m: Floats, *, rule: Rule, budget: Budget) -> tuple[Floats, Floats]:
        """Gap and rise at every node, shapes (ny, nx); 0 outside the floor."""
        known = np.where(self.inside, heights_m, 0.0)
        found = departures(grid=self.grid, heights_m=known, free=self.free, rule=rule, budget=budget)
        return np.where(self.inside, found.gap_m, 0.0), np.where(self.inside, found.rise_m, 0.0)

    def larger_m(self, heights_m: Floats, *, rule: Rule, budget: Budget) -> Floats:
        """The larger of the two at every node."""
        return np.asarray(np.maximum(*self.departures_m(heights_m, rule=rule, budget=budget)))

    def of_many(self, heights_m: Floats, *, rule: Rule, budget: Budget) -> tuple[Floats, Floats]:
        """Gaps and rises of several floors, shapes (count, ny, nx); in 32 bits, as draws need no more.

        Side by side as if they were one wide floor, between whose parts no edge may lie: that fills the
        vector unit, which a narrow room leaves half empty.
        """
        gaps, rises = np.empty_like(heights_m), np.empty_like(heights_m)
        ny, nx = self.inside.shape
        most = min(SIDE_BY_SIDE, len(heights_m))
        free = np.tile(self.free, (1, 1, most))
        runs = runs_of(free)
        for first in range(0, len(heights_m), SIDE_BY_SIDE):
            part = np.where(self.inside, heights_m[first : first + SIDE_BY_SIDE], 0.0)
            count = len(part)
            wide = part.transpose(1, 0, 2).reshape(ny, count * nx)
            if count < most:
                free, runs = np.ascontiguousarray(free[:, :, : count * nx]), runs.first_columns(count * nx)
            found = departures_in_short(
                grid=self.grid, heights_m=wide, free=free, rule=rule, budget=budget, runs=runs
            )
            for all_of, side in zip((gaps, rises), found, strict=True):
                split = side.reshape(ny, count, nx).transpose(1, 0, 2)
                all_of[first : first + count] = np.where(self.inside, split, 0.0)
        return gaps, rises


def stride_for(length_m: float, *, step_m: float) -> int:
    """How many steps of the surface's grid apart the nodes may be for an edge of this length."""
    wanted = min(max(length_m / STEPS_OF_AN_EDGE, FINEST_M), COARSEST_M)
    return max(1, round(wanted / step_m))


def coarse(*, floor: Floor, surface: Surface, stride: int) -> Coarse:
    """Every `stride`-th node, so placed that as much is left out at one wall as at the other."""
    fine = surface.grid
    first_x, first_y = (fine.nx - 1) % stride // 2, (fine.ny - 1) % stride // 2
    rows, columns = slice(first_y, None, stride), slice(first_x, None, stride)
    inside = surface.inside[rows, columns]
    ny, nx = inside.shape
    grid = Grid(
        x0_m=fine.x0_m + first_x * fine.step_m,
        y0_m=fine.y0_m + first_y * fine.step_m,
        step_m=fine.step_m * stride,
        nx=nx,
        ny=ny,
    )
    free = free_steps(floor=floor, grid=grid, inside=inside)
    return Coarse(grid=grid, inside=inside, free=free, rows=rows, columns=columns)


def drawn_m(
    *, surface: Surface, sampler: Sampler, on: Coarse, count: int, rng: np.random.Generator
) -> Floats:
    """Joint draws of the slab's heights on a coarser grid, about the heights that are stored, shape
    (count, ny, nx); the `sampler` is that of the surface's spline."""
    heights = sampler.draws(grid=on.grid, count=count, rng=rng)
    places = on.grid.places()
    middle = evaluate(spline=surface.spline, x_m=places[:, 0], y_m=places[:, 1]).reshape(on.inside.shape)
    return np.asarray(heights + (on.of(to_metres(surface.height)) - middle))
