"""Where on a floor an edge can lie: along every row of nodes, past no wall, partition or obstacle."""

import numpy as np
import pytest
import shapely

from slab_core.numerics.budget import Budget
from slab_core.numerics.grid import Grid, Mask
from slab_core.rooms.model import Floor, Opening, Room
from slab_core.surface.area import nodes_inside
from slab_core.tolerance import straightedge
from slab_core.tolerance.coarse import Coarse
from slab_core.tolerance.lattice import DIRECTIONS, free_steps
from slab_core.tolerance.model import Rule, RuleKind
from slab_core.tolerance.straightedge import departures
from slab_core.tolerance.supports import worst_lie
from tests.slabs import floor_of, rectangle
from tests.unit.slab_core.tolerance.edges import HOLED, KINDS, WAYS, brute_force


@pytest.fixture(params=WAYS)
def way(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> str:
    """One of the two ways of working out departures, whatever the length of the edge."""
    monkeypatch.setattr(straightedge, "MOST_STEPS", WAYS[request.param])
    return str(request.param)


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


ON_NODES = {
    "two rooms, a wall of two steps and a doorway in it": floor_of(
        shell=(
            (0.0, 0.0), (0.6, 0.0), (0.6, 0.3), (0.7, 0.3), (0.7, 0.0), (1.3, 0.0),
            (1.3, 1.2), (0.7, 1.2), (0.7, 0.6), (0.6, 0.6), (0.6, 1.2), (0.0, 1.2),
        )
    ),
    "a wall of one step": floor_of(
        shell=(
            (0.0, 0.0), (0.6, 0.0), (0.6, 0.5), (0.65, 0.5), (0.65, 0.0), (1.3, 0.0), (1.3, 1.0), (0.0, 1.0),
        )
    ),
    "an L and a column": floor_of(
        shell=((0.0, 0.0), (1.4, 0.0), (1.4, 0.5), (0.5, 0.5), (0.5, 1.2), (0.0, 1.2)),
        gaps=(((0.2, 0.2), (0.3, 0.2), (0.3, 0.35), (0.2, 0.35)),),
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", ON_NODES)
def test_where_walls_run_through_nodes_an_edge_may_go_just_where_the_floor_goes(name: str) -> None:
    floor = ON_NODES[name]
    grid = Grid(x0_m=0.0, y0_m=0.0, step_m=0.05, nx=30, ny=26)
    inside = nodes_inside(floor=floor, grid=grid)
    free = free_steps(floor=floor, grid=grid, inside=inside)
    solid = shapely.Polygon(floor.shell, floor.gaps).buffer(1e-7)
    for d, (dx, dy) in enumerate(DIRECTIONS):
        for j, i in np.argwhere(inside[: grid.ny - dy]):
            if 0 <= i + dx < grid.nx and inside[j + dy, i + dx]:
                ends = [(grid.xs()[i], grid.ys()[j]), (grid.xs()[i + dx], grid.ys()[j + dy])]
                assert free[d, j, i] == solid.covers(shapely.LineString(ends)), (dx, dy, ends)


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
