"""Edges that lie between the directions and nodes which are tried stay within the bound."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.interpolate import RegularGridInterpolator

from slab_core.numerics.budget import Budget
from slab_core.numerics.grid import Floats, Grid
from slab_core.tolerance.between import between_m
from slab_core.tolerance.check import check_heights
from slab_core.tolerance.lattice import free_steps
from slab_core.tolerance.model import Rule
from slab_core.tolerance.straightedge import departures
from tests.slabs import make_slab, rectangle

LENGTH_M = 1.5


def _departure(height_of: object, middle: Floats, angle: float, length_m: float) -> float:
    """The gap or rise of an edge about the middle, on the true surface, read every 5 mm."""
    along = np.array([np.cos(angle), np.sin(angle)])
    at = np.linspace(-0.5, 0.5, int(length_m / 0.005) + 1) * length_m
    places = middle + at[:, None] * along
    z = height_of(places[:, 0], places[:, 1])  # type: ignore[operator]  # a height of tests.slabs
    chord = z[0] + (z[-1] - z[0]) * (at - at[0]) / (at[-1] - at[0])
    return float(np.abs(chord - z).max())


@pytest.mark.parametrize("seed", range(4))
def test_no_edge_of_any_direction_and_place_departs_beyond_the_bound(seed: int) -> None:
    rng = np.random.default_rng(seed)
    slab = make_slab(rng=rng, width_m=4.0, depth_m=5.0)
    grid = Grid(x0_m=0.0, y0_m=0.0, step_m=0.1, nx=41, ny=51)
    xs, ys = np.meshgrid(grid.xs(), grid.ys())
    (found,) = check_heights(
        floor=slab.floor,
        grid=grid,
        heights_m=slab.height(xs, ys),
        inside=np.ones(xs.shape, dtype=np.bool_),
        rules=(Rule(length_m=LENGTH_M, gap_m=0.001),),
    )
    tried = [
        _departure(slab.height, rng.uniform((0.8, 0.8), (3.2, 4.2)), rng.uniform(0, np.pi), LENGTH_M)
        for _ in range(400)
    ]
    assert max(tried) <= found.largest_m + found.between_m
    assert 0.0 < found.between_m < found.largest_m


def test_a_tilted_plane_leaves_nothing_between() -> None:
    grid = Grid(x0_m=0.0, y0_m=0.0, step_m=0.1, nx=31, ny=41)
    xs, ys = np.meshgrid(grid.xs(), grid.ys())
    (found,) = check_heights(
        floor=rectangle(3.0, 4.0),
        grid=grid,
        heights_m=0.01 * xs - 0.003 * ys,
        inside=np.ones(xs.shape, dtype=np.bool_),
        rules=(Rule(length_m=2.0, gap_m=0.001),),
    )
    assert found.between_m == pytest.approx(0.0, abs=1e-12)


def test_a_finer_grid_leaves_less_between() -> None:
    bound = []
    for step in (0.2, 0.1, 0.05):
        n = round(3.0 / step) + 1
        grid = Grid(x0_m=0.0, y0_m=0.0, step_m=step, nx=n, ny=n)
        xs, ys = np.meshgrid(grid.xs(), grid.ys())
        (found,) = check_heights(
            floor=rectangle(3.0, 3.0),
            grid=grid,
            heights_m=0.002 * (xs - 1.5) ** 2 + 0.001 * ys**2,
            inside=np.ones(xs.shape, dtype=np.bool_),
            rules=(Rule(length_m=1.0, gap_m=0.001),),
        )
        bound.append(found.between_m)
    assert bound[0] > bound[1] > bound[2]


def _under_the_edge(heights: RegularGridInterpolator, middle: Floats, angle: float, length_m: float) -> float:
    """The largest gap under an edge about the middle that rests where it may, every 1/80 of it."""
    at = np.linspace(-0.5, 0.5, 81) * length_m
    z = heights(middle[::-1] + at[:, None] * np.array([np.sin(angle), np.cos(angle)]))
    hull: list[int] = []
    for k in range(len(at)):
        while len(hull) > 1 and (z[hull[-1]] - z[hull[-2]]) * (k - hull[-2]) <= (z[k] - z[hull[-2]]) * (
            hull[-1] - hull[-2]
        ):
            hull.pop()
        hull.append(k)
    return float(np.max(np.interp(np.arange(len(at)), hull, z[hull]) - z))


@settings(max_examples=6, deadline=None, derandomize=True)
@given(
    seed=st.integers(0, 10_000),
    length_m=st.sampled_from((0.6, 1.2, 1.8)),
    rough_m=st.sampled_from((0.0, 2e-4, 1e-3)),
)
def test_edges_turned_and_moved_to_gape_most_on_the_grids_own_surface_stay_within_the_bound(
    seed: int, length_m: float, rough_m: float
) -> None:
    rng = np.random.default_rng(seed)
    slab = make_slab(rng=rng, width_m=3.0, depth_m=3.0)
    grid = Grid(x0_m=0.0, y0_m=0.0, step_m=0.1, nx=31, ny=31)
    xs, ys = np.meshgrid(grid.xs(), grid.ys())
    z = slab.height(xs, ys) + rough_m * rng.normal(size=xs.shape)
    (found,) = check_heights(
        floor=slab.floor,
        grid=grid,
        heights_m=z,
        inside=np.ones(xs.shape, dtype=np.bool_),
        rules=(Rule(length_m=length_m, gap_m=0.001, kind="gap-only"),),
    )
    surface = RegularGridInterpolator((grid.ys(), grid.xs()), z)
    low, high = length_m / 2, 3.0 - length_m / 2
    edges = [(rng.uniform(low, high, 2), rng.uniform(0, np.pi)) for _ in range(300)]
    gaps = [_under_the_edge(surface, *edge, length_m) for edge in edges]
    worst = max(gaps)
    for start in np.argsort(gaps)[-3:]:
        (middle, angle), step = edges[start], 0.2
        for _ in range(60):
            tried = np.clip(middle + step * rng.normal(size=2), low, high), angle + step * rng.normal()
            gap = _under_the_edge(surface, *tried, length_m)
            if gap > gaps[start]:
                (middle, angle), gaps[start] = tried, gap
            else:
                step *= 0.93
        worst = max(worst, gaps[start])
    assert worst <= found.largest_m + found.between_m + 1e-5


@settings(max_examples=10, deadline=None, derandomize=True)
@given(across=st.floats(-0.01, 0.01), along=st.floats(-0.01, 0.01), up=st.floats(-5.0, 5.0))
def test_tilting_or_raising_a_floor_changes_nothing(across: float, along: float, up: float) -> None:
    grid = Grid(x0_m=0.0, y0_m=0.0, step_m=0.1, nx=25, ny=25)
    xs, ys = np.meshgrid(grid.xs(), grid.ys())
    z = 0.003 * np.sin(2.0 * xs + 1.0) * np.cos(1.3 * ys)
    inside = np.hypot(xs - 1.0, ys - 1.4) < 1.1

    def bound(heights_m: Floats) -> float:
        nothing = np.zeros_like(heights_m)
        return between_m(grid=grid, heights_m=heights_m, inside=inside, departure_m=nothing, length_m=1.0)

    assert bound(z + across * xs + along * ys + up) == pytest.approx(bound(z), rel=1e-6)


def test_a_strip_one_node_wide_counts_its_slopes() -> None:
    grid = Grid(x0_m=0.0, y0_m=0.0, step_m=0.1, nx=3, ny=31)
    inside = np.zeros((31, 3), dtype=np.bool_)
    inside[:, 1] = True
    z = np.where(inside, 0.01 * np.abs(grid.ys() - 1.5)[:, None], 0.0)
    nothing = np.zeros_like(z)
    # The slope turns by 0.02 at its middle, half the diagonal of a cell away from an edge's node.
    bound = between_m(grid=grid, heights_m=z, inside=inside, departure_m=nothing, length_m=1.0)
    assert bound >= 0.02 * 0.1 / np.sqrt(2.0)


@pytest.mark.parametrize("angle_deg", [9.2, 22.5, 39.3, 50.7, 80.8, 99.2, 129.3, 170.8])
@pytest.mark.parametrize("length_m", [1.0, 2.0])
def test_a_saddle_between_two_directions_is_within_the_bound(angle_deg: float, length_m: float) -> None:
    angle, bend = np.radians(angle_deg), 0.01
    grid = Grid(x0_m=0.0, y0_m=0.0, step_m=0.02, nx=151, ny=151)
    xs, ys = np.meshgrid(grid.xs() - 1.5, grid.ys() - 1.5)
    along = xs * np.cos(angle) + ys * np.sin(angle)
    across = ys * np.cos(angle) - xs * np.sin(angle)
    (found,) = check_heights(
        floor=rectangle(3.0, 3.0),
        grid=grid,
        heights_m=bend / 2.0 * (along**2 - across**2),
        inside=np.ones(xs.shape, dtype=np.bool_),
        rules=(Rule(length_m=length_m, gap_m=0.001, kind="gap-only"),),
    )
    # An edge along the saddle: a parabola's sagitta.
    most = bend * length_m**2 / 8.0
    assert found.largest_m < most
    assert most <= found.largest_m + found.between_m
    assert most > found.largest_m + found.between_m / 100.0


@pytest.mark.parametrize("length_m", [0.16, 0.21, 0.33, 0.61])
def test_a_short_edge_over_a_valley_with_both_ends_between_nodes_is_within_the_bound(length_m: float) -> None:
    grid = Grid(x0_m=0.0, y0_m=0.0, step_m=0.05, nx=41, ny=21)
    valley = np.tile(0.02 * np.abs(grid.xs() - 1.0), (21, 1))
    inside = np.ones(valley.shape, dtype=np.bool_)
    free = free_steps(floor=rectangle(2.0, 1.0), grid=grid, inside=inside)
    rule = Rule(length_m=length_m, gap_m=0.001)
    found = departures(grid=grid, heights_m=valley, free=free, rule=rule, budget=Budget()).larger_m()
    more = between_m(grid=grid, heights_m=valley, inside=inside, departure_m=found, length_m=length_m)
    truly = 0.02 * length_m / 2.0  # the middle of the edge over the bottom
    assert found.max() <= truly + 1e-12
    assert truly <= found.max() + more
