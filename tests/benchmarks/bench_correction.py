"""The unrestricted optimum of a correction on slabs that look like slabs, beside a general-purpose solver.

Fill to grinding 1 : 3 by volume, at most 1/4 in ground and 1 1/2 in filled, 3/16 in in 10 ft both ways in 16
directions, nothing known of the slab's planes. Slabs 101-105; the method's numbers were chosen on others.
"""

import time
from dataclasses import replace

import highspy
import numpy as np

from slab_core.correction.optimum.floor import columns_of_demand, on_grid, places_of
from slab_core.correction.optimum.heights import unrestricted_optimum
from slab_core.correction.optimum.model import Demand, DepthPrices, Lies, Optimum
from slab_core.correction.optimum.rows import Rows, no_rows, rows_of
from slab_core.correction.optimum.solver import Columns, from_nothing, solve
from slab_core.correction.warm import warm
from slab_core.numerics.budget import Budget
from slab_core.numerics.grid import Floats, Grid
from slab_core.tolerance.lattice import DIRECTIONS, free_steps
from slab_core.tolerance.model import Rule
from tests.benchmarks.measure import Figure, measures
from tests.real_slabs import real_slab

FIRST_SEED, SLABS = 101, 5
RULE = Rule(length_m=3.048, gap_m=0.0047625)
GRIND_CAP_MM, FILL_CAP_MM = 6.35, 38.1

MIDPOINTS = ((15, 4.7625), (3, 1.5875))
"""Half lengths in steps of 100 mm and gaps in mm: 10 ft and 2 ft."""

PEER_SECONDS = 300.0


def _demand(*, seed: int, nx: int, ny: int, step_m: float) -> Demand:
    width_m, depth_m = (nx - 1) * step_m, (ny - 1) * step_m
    real = real_slab(rng=np.random.default_rng(seed), width_m=width_m, depth_m=depth_m)
    grid = Grid(x0_m=0.0, y0_m=0.0, step_m=step_m, nx=nx, ny=ny)
    heights = real.slab.height(*np.meshgrid(grid.xs(), grid.ys())) * 1e3
    inside = np.ones(heights.shape, dtype=np.bool_)
    area = np.full(heights.shape, step_m**2)
    nowhere, free = np.zeros_like(inside), np.full(heights.shape, np.inf)
    return Demand(
        step_m=step_m,
        heights_mm=heights,
        inside=inside,
        free=free_steps(floor=real.slab.floor, grid=grid, inside=inside),
        rules=(RULE,),
        fill_weight=area,
        grind_weight=area,
        fill_prices=DepthPrices(breaks_mm=np.zeros(0), per_mm=np.array([1.0])),
        grind_prices=DepthPrices(breaks_mm=np.zeros(0), per_mm=np.array([3.0])),
        greatest_grind_mm=GRIND_CAP_MM,
        greatest_fill_mm=FILL_CAP_MM,
        keep_grinder_off=nowhere,
        keep_fill_off=nowhere,
        lowest_mm=-free,
        highest_mm=free,
    )


def _timed(demand: Demand) -> tuple[Optimum, float]:
    start = time.thread_time()
    found = unrestricted_optimum(demand=demand, budget=Budget())
    seconds = time.thread_time() - start
    cell = demand.step_m**2
    print(
        f"  {demand.inside.shape}: {found.status}, {seconds:.2f} s, "
        f"{found.fill_mm.sum() * cell:.0f} L filled, {found.grind_mm.sum() * cell:.0f} L ground, "
        f"gap {found.gap():.5f}, violation {found.violation_mm:.4f} mm",
        flush=True,
    )
    return found, seconds


def _figure(
    name: str, value: float, unit: str, *, n: int, peer: str | None = None, peer_value: float | None = None
) -> Figure:
    return Figure(name=name, value=value, unit=unit, peer=peer, peer_value=peer_value, n=n, memory_mb=None)


@measures("correction.100x140.", "correction.200x300.", "correction.gap", "correction.violation_mm")
def bench_the_true_rule() -> list[Figure]:
    """Median CPU seconds of five rooms of 5 × 7 m at 50 mm, and those of one hall of 20 × 30 m at 100 mm.

    `gap` and `violation_mm` are the worst of all of them.
    """
    warm()
    rooms = [
        _timed(_demand(seed=seed, nx=100, ny=140, step_m=0.05))
        for seed in range(FIRST_SEED, FIRST_SEED + SLABS)
    ]
    hall = _timed(_demand(seed=FIRST_SEED, nx=200, ny=300, step_m=0.1))
    found = [optimum for optimum, _ in (*rooms, hall)]
    return [
        _figure("correction.100x140.seconds", float(np.median([s for _, s in rooms])), "s", n=14_000),
        _figure("correction.200x300.seconds", hall[1], "s", n=60_000),
        _figure("correction.gap", max(optimum.gap() for optimum in found), "ratio", n=len(found)),
        _figure("correction.violation_mm", max(o.violation_mm for o in found), "mm", n=len(found)),
    ]


class _Midpoints:
    """Both ways at the middle of an edge, on rows, columns and diagonals: every row, or those broken."""

    def __init__(self, demand: Demand) -> None:
        ny, nx = demand.heights_mm.shape
        self.demand, self.parts = demand, []
        for half, gap_mm in MIDPOINTS:
            for direction in (0, 4, 8, 12):
                dx, dy = DIRECTIONS[direction]
                j, i = np.mgrid[half * dy : ny - half * dy, half * abs(dx) : nx - half * abs(dx)]
                self.parts.append((half, gap_mm, direction, np.column_stack([j.ravel(), i.ravel()])))

    def __call__(self, x: Floats) -> tuple[float, Rows]:
        """Worst violation in mm, and the rows broken by more than half of what is allowed."""
        return self.broken(x, more_than_mm=0.005)

    def broken(self, x: Floats, *, more_than_mm: float) -> tuple[float, Rows]:
        """The same for another threshold; all rows for one of minus infinity."""
        t = self.demand.heights_mm + on_grid(demand=self.demand, values=x)
        worst, rows = -np.inf, no_rows()
        for half, gap_mm, direction, nodes in self.parts:
            dx, dy = (half * step for step in DIRECTIONS[direction])
            j, i = nodes.T
            gap = (t[j - dy, i - dx] + t[j + dy, i + dx]) / 2 - t[j, i]
            for side in (1.0, -1.0):
                over = side * gap - gap_mm
                worst = max(worst, float(over.max()))
                rows = rows.and_more(self._rows(nodes[over > more_than_mm], direction, half, side, gap_mm))
        return worst, rows

    def _rows(self, nodes: np.ndarray, direction: int, half: int, side: float, gap_mm: float) -> Rows:
        many = np.ones(len(nodes))
        lies = Lies(
            node=nodes,
            direction=np.full(len(nodes), direction),
            side=side * many,
            a=-half * many,
            b=half * many,
            gap_mm=gap_mm * many,
        )
        return rows_of(lies=lies, heights_mm=self.demand.heights_mm, place=places_of(self.demand))


@measures("correction.triplets.")
def bench_midpoint_triplets() -> list[Figure]:
    """60,000 cells of 100 mm: wall seconds of the dual simplex with all rows over ours, to a gap of 0.1 %.

    A row and its mirror are one row with two limits for the peer, which stops after 300 s at the latest.
    """
    warm()
    demand = replace(_demand(seed=FIRST_SEED, nx=200, ny=300, step_m=0.1), rules=())
    columns = columns_of_demand(demand)
    assert columns is not None
    triplets = _Midpoints(demand)
    start = time.perf_counter()
    ours = solve(
        columns=columns, look=triplets, guess=from_nothing(columns=columns), gap=1e-3, violation_mm=0.01,
        budget=Budget(),
    )  # fmt: skip
    seconds = time.perf_counter() - start
    _, rows = triplets.broken(np.zeros_like(columns.low), more_than_mm=-np.inf)
    peer_seconds, objective, ended = _peer(columns=columns, rows=rows)
    gap = (ours.cost - ours.bound) / ours.cost
    print(
        f"  ours {seconds:.2f} s, cost {ours.cost:.3f}, gap {gap:.5f}, violation {ours.violation_mm:.4f} mm; "
        f"all {len(rows) // 2} rows {peer_seconds:.2f} s, cost {objective:.3f}, {ended}"
    )
    assert gap <= 1e-3
    return [
        _figure(
            "correction.triplets.vs_full_highs",
            peer_seconds / seconds,
            "x",
            n=len(rows) // 2,
            peer="HiGHS dual simplex, all rows, s",
            peer_value=peer_seconds,
        )
    ]


def _peer(*, columns: Columns, rows: Rows) -> tuple[float, float, str]:
    """(wall seconds, objective, how it ended) of the peer: fill and grinding are its columns."""
    solver, n = highspy._Highs(), len(columns.low)
    for name, value in (
        ("output_flag", False),
        ("threads", 1),
        ("solver", "simplex"),
        ("simplex_strategy", 1),
        ("time_limit", PEER_SECONDS),
    ):
        if solver.setOptionValue(name, value) != highspy.HighsStatus.kOk:
            raise RuntimeError(f"the peer refused option {name}")
    upper = np.concatenate([columns.high, -columns.low])
    solver.addVars(2 * n, np.zeros(2 * n), upper)
    cost = np.concatenate([columns.up * 1.0, columns.down * 3.0])
    solver.changeColsCost(2 * n, np.arange(2 * n, dtype=np.int32), cost)
    column, weight = rows.column[:, :3], rows.weight[:, :3]
    entries = np.concatenate([column, column + n], axis=1)
    values = np.concatenate([weight, -weight], axis=1)
    assert not rows.weight[:, 3:].any()
    # Lies come by side within each part: the mirror's limit is the row's lower one.
    sides = _two_sided(rows)
    keep, low, high = sides
    solver.addRows(
        len(keep),
        low,
        high,
        6 * len(keep),
        np.arange(0, 6 * len(keep), 6, dtype=np.int32),
        entries[keep].ravel().astype(np.int32),
        values[keep].ravel(),
    )
    begun = time.perf_counter()
    solver.run()
    seconds = time.perf_counter() - begun
    status = solver.modelStatusToString(solver.getModelStatus())
    return seconds, float(solver.getInfo().objective_function_value), status


def _two_sided(rows: Rows) -> tuple[np.ndarray, Floats, Floats]:
    """Rows of the gap side, and their low and high limits from both."""
    gap_side = np.flatnonzero(rows.weight[:, 0] < 0.0)
    rise_side = np.flatnonzero(rows.weight[:, 0] > 0.0)
    same = (rows.column[gap_side][:, :3] == rows.column[rise_side][:, :3]).all()
    assert same
    return gap_side, -rows.limit[rise_side], rows.limit[gap_side]
