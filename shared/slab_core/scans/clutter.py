"""Which cells show the floor, and which the top of something that stands on it."""

from dataclasses import dataclass

import numpy as np

from slab_core.errors import Problem
from slab_core.numerics.grid import Floats, Grid, Ints, Mask
from slab_core.scans.patches import patches

LINK_M = 0.003
"""Neighbouring cells of one floor differ by less: 1 in 12, the steepest ramp, is 2.1 mm in 25 mm."""

BAND_M = 0.06
LARGE_M2 = 0.5
SAME_M = 0.008
REACHES_M = (0.15, 0.4, 1.0, 2.5)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Cleared:
    """`floor`: cells that show it; `level_m`: the floor's height less the plane, about every cell."""

    floor: Mask
    level_m: Floats
    problems: tuple[Problem, ...]


def clear(*, grid: Grid, above_plane_m: Floats, random_m: Floats) -> Cleared:
    """Tell floor from clutter by patches of touching cells, shape (ny, nx) each.

    A patch is floor when it is the largest about the plane, or of at least half a square metre within 60 mm
    of the plane, or small and within 8 mm of the floor around it.
    """
    label, count = patches(height_m=above_plane_m, apart_m=LINK_M * grid.step_m / 0.025 + 4 * random_m)
    size, middle = _sizes(label, above_plane_m, count)
    large = (np.abs(middle) <= BAND_M) & (size * grid.cell_area_m2() >= LARGE_M2)
    main = int(np.argmax(np.where(np.abs(middle) <= BAND_M, size, 0)))
    large[main] = True
    floor = (label >= 0) & large[label]
    level = nearby_mean(values=above_plane_m, known=floor, step_m=grid.step_m)
    _, away = _sizes(label, above_plane_m - level, count)
    small = ~large & (np.abs(away) <= SAME_M)
    floor |= (label >= 0) & small[label]
    return Cleared(floor=floor, level_m=level, problems=_raised(grid, label, large, main, above_plane_m))


def _sizes(label: Ints, values_m: Floats, count: int) -> tuple[Floats, Floats]:
    """Cells and mean value of each patch."""
    seen = label >= 0
    size = np.bincount(label[seen], minlength=count)
    total = np.bincount(label[seen], weights=values_m[seen], minlength=count)
    return size.astype(np.float64), total / np.maximum(size, 1)


def nearby_mean(*, values: Floats, known: Mask, step_m: float) -> Floats:
    """Mean of the known values about each cell, in the smallest square that holds some; else of all."""
    result = np.full(values.shape, np.nan)
    filled = np.where(known, values, 0.0)
    for reach in REACHES_M:
        half = max(1, round(reach / step_m))
        weight = _box_sum(known.astype(np.float64), half)
        mean = _box_sum(filled, half) / np.maximum(weight, 1.0)
        result = np.where(np.isnan(result) & (weight >= 0.5), mean, result)
        if not np.isnan(result).any():
            break
    return np.where(np.isnan(result), values[known].mean(), result)


def _box_sum(values: Floats, half: int) -> Floats:
    """Sum over a square of 2·half + 1 cells about each cell."""
    for _ in range(2):
        sums = np.concatenate([np.zeros((1, values.shape[1])), np.cumsum(values, axis=0)])
        rows = np.arange(values.shape[0])
        high, low = np.minimum(rows + half + 1, len(rows)), np.maximum(rows - half, 0)
        values = (sums[high] - sums[low]).T
    return values


def _raised(grid: Grid, label: Ints, large: Mask, main: int, above_plane_m: Floats) -> tuple[Problem, ...]:
    """A finding for each large patch that meets the rest of the floor with a step."""
    found = []
    for patch in np.flatnonzero(large):
        if patch == main:
            continue
        here = label == patch
        rest = (label >= 0) & large[label] & ~here
        reach = nearby_mean(values=above_plane_m, known=rest, step_m=grid.step_m)
        edge = here & (_box_sum(rest.astype(np.float64), 2) > 0.5)
        step = float(np.median((above_plane_m - reach)[edge])) if edge.any() else 0.0
        if abs(step) > SAME_M / 2:
            found.append(_step_problem(grid, here, step))
    return tuple(found)


def _step_problem(grid: Grid, here: Mask, step_m: float) -> Problem:
    area = np.count_nonzero(here) * grid.cell_area_m2()
    j, i = (float(at.mean()) for at in np.nonzero(here))
    place = f"({grid.x0_m + i * grid.step_m:.2f}, {grid.y0_m + j * grid.step_m:.2f}) m"
    side = "above" if step_m > 0 else "below"
    return Problem(
        code="scan-patch-with-step",
        detail=f"{area:.1f} m² about {place} lie {abs(step_m) * 1000:.0f} mm {side} the floor beside them, "
        "with a sharp edge. They were taken as floor: check that nothing lies there, or report the joint.",
    )
