"""The share of lays that keep a gap, against every pair of supports tried one by one."""

from itertools import combinations

import numpy as np
import pytest

from slab_core.numerics.grid import Floats, Grid
from slab_core.tolerance.check import check_heights
from slab_core.tolerance.lattice import DIRECTIONS, free_steps
from slab_core.tolerance.lays import kept_share
from slab_core.tolerance.model import Rule
from tests.slabs import Height, rectangle
from tests.surfaces import known_surface

STEP_M = 0.2


def _gap_m(x: Floats, z: Floats) -> float:
    """The largest gap under the edge: over all pairs of supports with no height above their chord."""
    largest = 0.0
    for a, b in combinations(range(len(x)), 2):
        chord = z[a] + (z[b] - z[a]) * (x - x[a]) / (x[b] - x[a])
        if np.all(z <= chord + 1e-12):
            largest = max(largest, float((chord - z)[a : b + 1].max()))
    return largest


def _lays(heights_m: Floats, *, length_m: float) -> list[float]:
    """Gaps of all lays on a rectangle of nodes, one at every node."""
    ny, nx = heights_m.shape
    gaps = []
    for dx, dy in DIRECTIONS:
        step = STEP_M * float(np.hypot(dx, dy))
        for j in range(ny):
            for i in range(nx):
                line = []
                while 0 <= j + len(line) * dy < ny and 0 <= i + len(line) * dx < nx:
                    line.append(heights_m[j + len(line) * dy, i + len(line) * dx])
                run = step * (len(line) - 1)
                starts_at_wall = not (j - dy >= 0 and 0 <= i - dx < nx)
                if run < length_m - 1e-9 and (not starts_at_wall or run < length_m / 2):
                    continue
                end = min(run, length_m)
                at = step * np.arange(len(line))
                x = np.append(at[at < end - 1e-9], end)
                gaps.append(_gap_m(x, np.interp(x, at, line)))
    return gaps


@pytest.mark.parametrize("length_m", [0.9, 1.0, 1.7])
def test_the_share_is_that_of_all_lays_tried_one_by_one(length_m: float) -> None:
    floor = rectangle(2.0, 1.4)
    grid = Grid(x0_m=0.0, y0_m=0.0, step_m=STEP_M, nx=11, ny=8)
    heights = np.random.default_rng(3).normal(0.0, 0.001, (8, 11))
    free = free_steps(floor=floor, grid=grid, inside=np.ones((8, 11), dtype=np.bool_))
    gaps = np.array(_lays(heights, length_m=length_m))
    for gap_m in np.quantile(gaps, [0.1, 0.5, 0.9]):
        found = kept_share(grid=grid, heights_m=heights, free=free, length_m=length_m, gap_m=gap_m + 1e-9)
        assert found == pytest.approx(np.mean(gaps <= gap_m + 1e-9))


@pytest.mark.parametrize(("width_m", "passes"), [(0.3, True), (2.0, False)])
def test_a_gap_that_nine_in_ten_lays_keep_may_be_wider_somewhere(width_m: float, passes: bool) -> None:
    dip: Height = lambda x, y: np.asarray(  # noqa: E731  # one shape for two sizes
        -0.015 * np.maximum(0.0, 1.0 - np.hypot(x - 4.0, y - 4.0) / width_m)
    )
    floor = rectangle(8.0, 8.0)
    surface = known_surface(floor=floor, height=dip)
    nine, every = check_heights(
        floor=floor,
        grid=surface.grid,
        heights_m=1e-5 * surface.height,
        inside=surface.inside,
        rules=tuple(Rule(length_m=3.048, gap_m=0.005, kind="gap-only", share=share) for share in (0.9, 1.0)),
    )
    assert not every.passes
    assert every.kept_share is None
    assert nine.passes is passes
    assert nine.kept_share is not None
    assert (nine.kept_share >= 0.9) is passes
    assert nine.largest_m == every.largest_m
