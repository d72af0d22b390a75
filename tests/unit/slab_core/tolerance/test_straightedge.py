"""The sliding straightedge against an independent brute force and against values known by hand."""

from itertools import product

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from slab_core.numerics.budget import Budget, Stopped
from slab_core.numerics.grid import Floats, Grid, Mask
from slab_core.rooms.model import Floor, Opening, Room
from slab_core.surface.area import nodes_inside
from slab_core.tolerance import straightedge
from slab_core.tolerance.coarse import Coarse
from slab_core.tolerance.lattice import DIRECTIONS, free_steps
from slab_core.tolerance.model import Rule, RuleKind
from slab_core.tolerance.straightedge import departures, departures_in_short, profile_departures
from slab_core.tolerance.supports import worst_lie
from tests.slabs import floor_of, rectangle

INCH = 0.0254
KINDS: tuple[RuleKind, ...] = ("both-ways", "gap-only", "chord")


def brute_force(z: Floats, span: float, *, chord: bool) -> Floats:
    """Largest height of a line over every sample, by trying all pairs of points of all positions."""
    n, best = len(z), np.zeros(len(z))
    xs = np.arange(n, dtype=np.float64)
    starts = [*xs, *(xs - span)] if n - 1 > span + 1e-9 else [0.0]
    length = min(span, n - 1.0)
    for start in starts:
        end = start + length
        if start < -1e-9 or end > n - 1 + 1e-9:
            continue
        inner = xs[(xs > start + 1e-9) & (xs < end - 1e-9)]
        at = np.array([start, *inner, end])
        height = np.interp(at, xs, z)
        p, q = ([0], [len(at) - 1]) if chord else np.triu_indices(len(at), 1)
        left, right = at[p, None], at[q, None]
        line = height[p, None] + (height[q] - height[p])[:, None] * (xs - left) / (right - left)
        between = (xs > left + 1e-9) & (xs < right - 1e-9)
        best = np.maximum(best, np.where(between, line - z, 0.0).max(axis=0))
    return best


def _profile(rng: np.random.Generator, *, n: int, kind: int) -> Floats:
    noise = rng.normal(0.0, 0.001, n)
    smooth = np.cumsum(np.cumsum(rng.normal(0.0, 0.0003, n)))
    steps = np.round(rng.normal(0.0, 1.5, n)) * 0.001
    return np.asarray((noise, np.cumsum(noise), smooth, steps)[kind])


WAYS = {"pairs": 60, "hulls": 0}
"""The longest edge in steps that is worked out by pairs, so that both ways see every length."""


@pytest.fixture(params=WAYS)
def way(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> str:
    """One of the two ways of working out departures, whatever the length of the edge."""
    monkeypatch.setattr(straightedge, "MOST_STEPS", WAYS[request.param])
    return str(request.param)


def test_500_random_profiles_equal_brute_force_to_a_nanometre(monkeypatch: pytest.MonkeyPatch) -> None:
    rng = np.random.default_rng(20)
    for case in range(500):
        z = _profile(rng, n=int(rng.integers(2, 33)), kind=case % 4)
        span = float(rng.integers(1, 14)) if case % 3 == 0 else float(rng.uniform(0.4, 16.0))
        for chord in (False, True):
            gap, rise = (brute_force(sign * z, span, chord=chord) for sign in (1.0, -1.0))
            for kind, way in product(KINDS[2:] if chord else KINDS[:2], WAYS):
                monkeypatch.setattr(straightedge, "MOST_STEPS", WAYS[way])
                rule = Rule(length_m=span * 0.05, gap_m=0.001, kind=kind)
                found = profile_departures(heights_m=z, spacing_m=0.05, rule=rule)
                np.testing.assert_allclose(found.gap_m[0], gap, atol=1e-9)
                np.testing.assert_allclose(found.rise_m[0], 0.0 if kind == "gap-only" else rise, atol=1e-9)


def test_long_edges_are_worked_out_alike_by_pairs_and_by_hulls(monkeypatch: pytest.MonkeyPatch) -> None:
    rng = np.random.default_rng(21)
    for case in range(40):
        z = _profile(rng, n=int(rng.integers(60, 300)), kind=case % 4)
        rule = Rule(length_m=float(rng.uniform(20.0, 90.0)), gap_m=0.001)
        found = []
        for most in (0, 90):
            monkeypatch.setattr(straightedge, "MOST_STEPS", most)
            found.append(profile_departures(heights_m=z, spacing_m=1.0, rule=rule))
        np.testing.assert_allclose(found[0].gap_m, found[1].gap_m, atol=1e-12)
        np.testing.assert_allclose(found[0].rise_m, found[1].rise_m, atol=1e-12)


def _runs(floor: Floor, grid: Grid, inside: Mask) -> list[list[tuple[int, int]]]:
    """Every straight row of nodes that stays on the floor, walked with shapely."""
    solid = shapely.Polygon(floor.shell, floor.gaps).buffer(1e-7)
    runs = []
    for dx, dy in DIRECTIONS:

        def step_on(j: int, i: int, dx: int = dx, dy: int = dy) -> tuple[int, int] | None:
            b, a = j + dy, i + dx
            if not (0 <= b < grid.ny and 0 <= a < grid.nx and inside[j, i] and inside[b, a]):
                return None
            ends = [(grid.xs()[i], grid.ys()[j]), (grid.xs()[a], grid.ys()[b])]
            return (b, a) if solid.covers(shapely.LineString(ends)) else None

        following = {(j, i): step_on(j, i) for j in range(grid.ny) for i in range(grid.nx)}
        reached = set(following.values())
        for node, after in following.items():
            if node in reached or after is None:
                continue
            run = [node]
            while (node_after := following[run[-1]]) is not None:
                run.append(node_after)
            runs.append(run)
    return runs


def _steps(run: list[tuple[int, int]]) -> float:
    return float(np.hypot(run[1][0] - run[0][0], run[1][1] - run[0][1]))


HOLED = floor_of(
    shell=((0.0, 0.0), (1.3, 0.0), (1.3, 0.62), (0.81, 0.62), (0.81, 1.1), (0.0, 1.1)),
    gaps=(((0.31, 0.37), (0.52, 0.33), (0.57, 0.58), (0.38, 0.61)), ((1.02, 0.2), (1.03, 0.2), (1.03, 0.41))),
)


@pytest.mark.usefixtures("way")
@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize(("seed", "length_m"), [(0, 0.3), (1, 0.47), (2, 2.0)])
def test_a_grid_with_holes_equals_brute_force_along_every_run(
    kind: RuleKind, seed: int, length_m: float
) -> None:
    rng = np.random.default_rng(seed)
    grid = Grid(x0_m=0.0, y0_m=0.0, step_m=0.1, nx=14, ny=12)
    inside = nodes_inside(floor=HOLED, grid=grid)
    z = rng.normal(0.0, 0.002, (grid.ny, grid.nx))
    rule = Rule(length_m=length_m, gap_m=0.001, kind=kind)
    free = free_steps(floor=HOLED, grid=grid, inside=inside)
    found = departures(grid=grid, heights_m=z, free=free, rule=rule, budget=Budget())
    gap, rise, longest = np.zeros_like(z), np.zeros_like(z), 0.0
    for run in _runs(HOLED, grid, inside):
        rows, columns = np.array(run).T
        step = grid.step_m * _steps(run)
        longest = max(longest, step * (len(run) - 1))
        heights = z[rows, columns]
        for sign, out in ((1.0, gap), (-1.0, rise)):
            best = brute_force(sign * heights, length_m / step, chord=kind == "chord")
            out[rows, columns] = np.maximum(out[rows, columns], best)
    np.testing.assert_allclose(found.gap_m, gap, atol=1e-9)
    np.testing.assert_allclose(found.rise_m, 0.0 if kind == "gap-only" else rise, atol=1e-9)
    assert found.longest_run_m == pytest.approx(longest)


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("length_m", [0.3, 0.47, 2.0])
def test_the_supports_of_every_node_give_its_departure(kind: RuleKind, length_m: float) -> None:
    grid = Grid(x0_m=0.0, y0_m=0.0, step_m=0.1, nx=14, ny=12)
    inside = nodes_inside(floor=HOLED, grid=grid)
    z = np.random.default_rng(4).normal(0.0, 0.002, (grid.ny, grid.nx))
    rule = Rule(length_m=length_m, gap_m=0.001, kind=kind)
    free = free_steps(floor=HOLED, grid=grid, inside=inside)
    found = departures(grid=grid, heights_m=z, free=free, rule=rule, budget=Budget())
    for j, i in zip(*np.nonzero(inside), strict=True):
        lie = worst_lie(grid=grid, heights_m=z, free=free, rule=rule, node=(j, i))
        assert lie.departure_m == pytest.approx(found.larger_m()[j, i], abs=1e-12)
        if lie.departure_m == 0.0:
            continue
        assert lie.side == ("gap" if found.gap_m[j, i] >= found.rise_m[j, i] else "rise")
        a, b = np.array(lie.support_a), np.array(lie.support_b)
        assert np.hypot(*(b - a)) <= length_m + 1e-9
        at = np.array([grid.xs()[i], grid.ys()[j]])
        along = b - a
        assert abs(along[0] * (at - a)[1] - along[1] * (at - a)[0]) < 1e-9
        assert np.degrees(np.arctan2(along[1], along[0])) % 180.0 == pytest.approx(lie.direction_deg)


def _inches(name: str) -> Floats:
    x = np.arange(241.0)
    shapes = {
        "valley": (0.125 / 3600.0) * (x - 120.0) ** 2,
        "hump": -(0.125 / 3600.0) * (x - 120.0) ** 2,
        "wave 120": np.sin(2 * np.pi * x / 120.0) / 16.0,
        "wave 240": np.sin(2 * np.pi * x / 240.0) / 16.0,
        "dip": -np.maximum(0.0, 0.25 * (1.0 - np.abs(x - 120.0) / 24.0)),
        "bump": np.maximum(0.0, 0.25 * (1.0 - np.abs(x - 120.0) / 24.0)),
        "ramp": x / 37.0,
    }
    return np.asarray(shapes[name])


# Computed for the reference facts of the project: 1 in sampling, 240 in long, inches; gap is the upper
# convex hull of the window less the floor.
VECTORS = [
    ("valley", 0.125, 0.045, 0.125),
    ("hump", 0.0, 0.0, 0.125),
    ("wave 120", 0.125, 0.081814, None),
    ("wave 240", 0.0625, 0.025763, None),
    ("dip", 0.250, 0.250, 0.250),
    ("bump", 0.200, 0.166667, 0.250),
    ("ramp", 0.0, 0.0, 0.0),
]


@pytest.mark.parametrize(("name", "ten_ft", "six_ft", "chord"), VECTORS)
def test_known_profiles_have_their_known_gaps(
    name: str, ten_ft: float, six_ft: float, chord: float | None
) -> None:
    z = np.asarray(_inches(name) * INCH)
    for length_ft, gap in ((10.0, ten_ft), (6.0, six_ft)):
        rule = Rule(length_m=length_ft * 12 * INCH, gap_m=0.001, kind="gap-only")
        found = profile_departures(heights_m=z, spacing_m=INCH, rule=rule).gap_m.max()
        # The vectors are printed to six decimals of an inch; those that are exact numbers hold to 1e-9 m.
        exact = gap == round(gap, 4)
        assert found == pytest.approx(gap * INCH, abs=1e-9 if exact else 0.6e-6 * INCH)
    if chord is not None:
        rule = Rule(length_m=120 * INCH, gap_m=0.001, kind="chord")
        found = profile_departures(heights_m=z, spacing_m=INCH, rule=rule).larger_m().max()
        assert found == pytest.approx(chord * INCH, abs=1e-9)


def test_a_crown_on_which_the_edge_rocks_counts_both_ways_but_shows_no_gap() -> None:
    z = np.asarray(_inches("hump") * INCH)
    both = profile_departures(heights_m=z, spacing_m=INCH, rule=Rule(length_m=120 * INCH, gap_m=0.001))
    assert both.gap_m.max() == pytest.approx(0.0, abs=1e-12)
    assert both.rise_m.max() == pytest.approx(0.125 * INCH, abs=1e-9)


def test_an_edge_that_is_no_whole_number_of_steps_is_as_long_as_it_says() -> None:
    # z = a·x² over samples 0.07 m apart, edge 1.0 m: an edge from sample i ends between two samples,
    # where the interpolated height is a(x² + u(s - u)), u from the last sample; the gap at x of the
    # chord from p to e is then a(x - p)(e - x) plus the end's excess times (x - p)/(e - p).
    s, length, a = 0.07, 1.0, 0.004
    z = a * (s * np.arange(60)) ** 2
    found = profile_departures(heights_m=z, spacing_m=s, rule=Rule(length_m=length, gap_m=0.001)).gap_m[0]
    u = length - 14 * s
    excess = a * u * (s - u)
    at = s * np.arange(1, 15)
    largest = (a * at * (length - at) + excess * at / length).max()
    assert found.max() == pytest.approx(largest, abs=1e-12)
    shorter = profile_departures(heights_m=z, spacing_m=s, rule=Rule(length_m=14 * s, gap_m=0.001))
    assert found.max() > shorter.gap_m.max() + 1e-6


def test_an_edge_longer_than_the_floor_lies_on_the_longest_stretch_that_fits() -> None:
    floor, grid = rectangle(1.0, 2.0), Grid(x0_m=0.0, y0_m=0.0, step_m=0.1, nx=11, ny=21)
    inside = np.ones((21, 11), dtype=np.bool_)
    xs, ys = np.meshgrid(grid.xs(), grid.ys())
    free = free_steps(floor=floor, grid=grid, inside=inside)
    found = departures(
        grid=grid,
        heights_m=0.004 * (ys - 1.0) ** 2 + 0.0 * xs,
        free=free,
        rule=Rule(length_m=3.0, gap_m=0.001),
        budget=Budget(),
    )
    assert found.longest_run_m == pytest.approx(np.hypot(1.0, 2.0))
    assert found.gap_m.max() == pytest.approx(0.004, abs=1e-12)


def test_a_wall_thinner_than_a_grid_step_stops_the_edge() -> None:
    # Two rooms that share one wall line at x = 1.03 with a doorway from y = 0.4 to 0.7.
    doorway = Opening(id="d", start=(1.03, 0.4), end=(1.03, 0.7), to_room="B")
    west = Room(
        id="A", name="A", outline=((0.0, 0.0), (1.03, 0.0), (1.03, 2.0), (0.0, 2.0)), openings=(doorway,)
    )
    east = Room(id="B", name="B", outline=((1.03, 0.0), (2.0, 0.0), (2.0, 2.0), (1.03, 2.0)))
    shell = ((0.0, 0.0), (2.0, 0.0), (2.0, 2.0), (0.0, 2.0))
    floor = Floor(id="A", rooms=(west, east), shell=shell, gaps=(), area_m2=4.0, wall_m=8.0)
    grid = Grid(x0_m=0.0, y0_m=0.0, step_m=0.1, nx=21, ny=21)
    free = free_steps(floor=floor, grid=grid, inside=np.ones((21, 21), dtype=np.bool_))
    along_x = free[DIRECTIONS.index((1, 0))]
    assert not along_x[15, 10]
    assert along_x[5, 10]
    assert along_x[15, 9]
    steep = free[DIRECTIONS.index((1, 3))]
    assert not steep[10, 10]
    assert not free[DIRECTIONS.index((-1, 3))][10, 11]


@given(
    tilt=st.tuples(st.floats(-0.02, 0.02), st.floats(-0.02, 0.02)),
    base=st.floats(-10.0, 10.0),
    length=st.floats(0.2, 4.0),
)
@settings(max_examples=30, deadline=None)
def test_a_tilted_plane_never_departs(tilt: tuple[float, float], base: float, length: float) -> None:
    grid = Grid(x0_m=0.0, y0_m=0.0, step_m=0.1, nx=14, ny=12)
    inside = nodes_inside(floor=HOLED, grid=grid)
    xs, ys = np.meshgrid(grid.xs(), grid.ys())
    free = free_steps(floor=HOLED, grid=grid, inside=inside)
    found = departures(
        grid=grid,
        heights_m=base + tilt[0] * xs + tilt[1] * ys,
        free=free,
        rule=Rule(length_m=length, gap_m=0.001),
        budget=Budget(),
    )
    assert found.larger_m().max() < 1e-12


@pytest.mark.parametrize("length_m", [0.6, 3.0])
@pytest.mark.parametrize("count", [1, 5, 16, 19])
def test_floors_side_by_side_depart_as_each_does_by_itself(length_m: float, count: int) -> None:
    """The last of them may fill less than a row; an obstacle stands in each."""
    ny, nx, step = 12, 14, 0.1
    grid = Grid(x0_m=0.0, y0_m=0.0, step_m=step, nx=nx, ny=ny)
    inside = nodes_inside(floor=HOLED, grid=grid)
    free = free_steps(floor=HOLED, grid=grid, inside=inside)
    every = slice(None)
    on = Coarse(grid=grid, inside=inside, free=free, rows=every, columns=every)
    heights = np.random.default_rng(count).normal(0.0, 0.002, (count, ny, nx))
    rule = Rule(length_m=length_m, gap_m=0.001)
    gaps, rises = on.of_many(heights, rule=rule, budget=Budget())
    for one, gap, rise in zip(heights, gaps, rises, strict=True):
        alone_gap, alone_rise = on.departures_m(one, rule=rule, budget=Budget())
        np.testing.assert_allclose(gap, alone_gap, atol=1e-8)
        np.testing.assert_allclose(rise, alone_rise, atol=1e-8)


@given(seed=st.integers(0, 10_000), short=st.floats(0.2, 1.0), more=st.floats(0.0, 1.0))
@settings(max_examples=30, deadline=None)
def test_turning_the_floor_upside_down_exchanges_gap_and_rise(seed: int, short: float, more: float) -> None:
    z = np.random.default_rng(seed).normal(0.0, 0.001, 40)
    rule = Rule(length_m=short + more, gap_m=0.001)
    up = profile_departures(heights_m=z, spacing_m=0.1, rule=rule)
    down = profile_departures(heights_m=-z[::-1], spacing_m=0.1, rule=rule)
    np.testing.assert_allclose(up.gap_m[0], down.rise_m[0][::-1], atol=1e-15)


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("length_m", [0.6, 3.0])
def test_in_32_bits_a_floor_far_from_height_0_departs_as_much_to_a_hundred_thousandth_of_a_millimetre(
    kind: RuleKind, length_m: float
) -> None:
    grid = Grid(x0_m=0.0, y0_m=0.0, step_m=0.1, nx=31, ny=21)
    free = free_steps(floor=rectangle(3.0, 2.0), grid=grid, inside=np.ones((21, 31), dtype=np.bool_))
    heights = 40.0 + np.random.default_rng(4).normal(0.0, 0.01, (21, 31))
    rule = Rule(length_m=length_m, gap_m=0.003, kind=kind)
    exact = departures(grid=grid, heights_m=heights, free=free, rule=rule, budget=Budget())
    gap, rise = departures_in_short(grid=grid, heights_m=heights, free=free, rule=rule, budget=Budget())
    assert gap.max() > 0.005
    assert np.abs(gap - exact.gap_m).max() < 1e-8
    assert np.abs(rise - exact.rise_m).max() < 1e-8


def test_a_cancelled_check_stops() -> None:
    grid = Grid(x0_m=0.0, y0_m=0.0, step_m=0.1, nx=3, ny=3)
    free = np.zeros((16, 3, 3), dtype=np.bool_)
    stopped = Budget(stop=lambda: True)
    with pytest.raises(Stopped):
        departures(
            grid=grid, heights_m=np.zeros((3, 3)), free=free, rule=Rule(length_m=1, gap_m=1), budget=stopped
        )


def test_no_edge_passes_a_partition_on_a_line_of_nodes() -> None:
    west = Room(id="A", name="A", outline=((0.0, 0.0), (1.0, 0.0), (1.0, 2.0), (0.0, 2.0)))
    door = Opening(id="d", start=(1.0, 0.4), end=(1.0, 0.8), to_room="A")
    east = Room(id="B", name="B", outline=((1.0, 0.0), (2.0, 0.0), (2.0, 2.0), (1.0, 2.0)), openings=(door,))
    shell = ((0.0, 0.0), (2.0, 0.0), (2.0, 2.0), (0.0, 2.0))
    floor = Floor(id="A", rooms=(west, east), shell=shell, gaps=(), area_m2=4.0, wall_m=8.0)
    grid = Grid(x0_m=0.0, y0_m=0.0, step_m=0.1, nx=21, ny=21)
    free = free_steps(floor=floor, grid=grid, inside=np.ones((21, 21), dtype=np.bool_))
    along_x, along_y = free[DIRECTIONS.index((1, 0))], free[DIRECTIONS.index((0, 1))]
    assert not along_x[15, 9:11].any()
    assert along_x[6, :20].all()
    assert along_y[:20, 20].all()
    assert along_y[:20, 0].all()


def test_an_edge_may_lie_along_an_obstacles_face_but_not_pass_its_corner() -> None:
    # Faces at y = 0.5 (a line of nodes) with both corners between nodes; a wall's vertex in mid-run.
    shell = ((0.0, 0.0), (2.0, 0.0), (2.0, 1.0), (1.0, 1.0), (0.0, 1.0))
    floor = floor_of(shell=shell, gaps=(((0.75, 0.5), (1.25, 0.5), (1.25, 0.75), (0.75, 0.75)),))
    grid = Grid(x0_m=0.0, y0_m=0.0, step_m=0.1, nx=21, ny=11)
    inside = nodes_inside(floor=floor, grid=grid)
    free = free_steps(floor=floor, grid=grid, inside=inside)
    assert free[DIRECTIONS.index((1, 0)), 5, :20].all()
    assert free[DIRECTIONS.index((1, 0)), 10, :20].all()
    assert not free[DIRECTIONS.index((1, 0)), 6, 7]
