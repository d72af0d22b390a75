"""The sliding straightedge: samples a second, beside a numpy hull for every window."""

import time

import numpy as np

from slab_core.numerics.budget import Budget
from slab_core.numerics.grid import Floats, Grid
from slab_core.tolerance.lattice import free_steps
from slab_core.tolerance.model import Rule, RuleKind
from slab_core.tolerance.straightedge import departures, profile_departures
from slab_core.tolerance.warm import warm
from tests.benchmarks.measure import Figure, measures
from tests.slabs import make_slab

TEN_FT_M = 3.048
STEP_M = 0.05


def _window_hull(z: Floats) -> Floats:
    """Upper hull of one window at its samples, by numpy."""
    kept: list[int] = []
    for j in range(len(z)):
        while len(kept) > 1:
            a, b = kept[-2], kept[-1]
            if (z[b] - z[a]) * (j - a) > (z[j] - z[a]) * (b - a):
                break
            kept.pop()
        kept.append(j)
    return np.interp(np.arange(len(z)), kept, z[kept])


def _peer_samples_per_s(line: Floats) -> tuple[float, float]:
    """Samples a second of a hull per window, and its largest difference from ours, on one line."""
    span = round(3.0 / STEP_M)
    gap = np.zeros(len(line))
    start = time.thread_time()
    for i in range(len(line) - span):
        window = line[i : i + span + 1]
        gap[i : i + span + 1] = np.maximum(gap[i : i + span + 1], _window_hull(window) - window)
    seconds = time.thread_time() - start
    rule = Rule(length_m=3.0, gap_m=0.005, kind="gap-only")
    own = profile_departures(heights_m=line, spacing_m=STEP_M, rule=rule).gap_m[0]
    return len(line) / seconds, float(np.abs(own - gap).max())


@measures("straightedge.")
def bench_hall() -> list[Figure]:
    """30 × 50 m at 50 mm, 10 ft edge, 16 directions, one core. A sample is a node in one direction.

    `straightedge.msamples_s` counts one side (the gap under the edge) as the peer does;
    `.both_ways_msamples_s` is the default rule, which does twice the work.
    """
    warm()
    rng = np.random.default_rng(0)
    slab = make_slab(rng=rng, width_m=30.0, depth_m=50.0)
    grid = Grid(x0_m=0.0, y0_m=0.0, step_m=STEP_M, nx=601, ny=1001)
    xs, ys = np.meshgrid(grid.xs(), grid.ys())
    heights = slab.height(xs, ys) + rng.normal(0.0, 0.0003, xs.shape)
    free = free_steps(floor=slab.floor, grid=grid, inside=np.ones(xs.shape, dtype=np.bool_))
    kinds: tuple[RuleKind, ...] = ("gap-only", "both-ways")
    rates = [_rate(grid, heights, free, Rule(length_m=TEN_FT_M, gap_m=0.005, kind=kind)) for kind in kinds]
    peer_rate, difference = _peer_samples_per_s(heights[:, 300])
    peer = "numpy hull per window, Msamples/s"
    return [
        _figure("straightedge.msamples_s", rates[0] / 1e6, "Msamples/s", peer, peer_rate / 1e6),
        _figure("straightedge.both_ways_msamples_s", rates[1] / 1e6, "Msamples/s", None, None),
        _figure("straightedge.speedup_vs_numpy", rates[0] / peer_rate, "x", peer, peer_rate / 1e6),
        _figure("straightedge.max_difference_m", difference, "m", "numpy hull per window", 0.0),
    ]


def _rate(grid: Grid, heights: Floats, free: np.ndarray, rule: Rule) -> float:
    seconds = []
    for _ in range(3):
        start = time.thread_time()
        departures(grid=grid, heights_m=heights, free=free, rule=rule, budget=Budget())
        seconds.append(time.thread_time() - start)
    return 16 * heights.size / min(seconds)


def _figure(name: str, value: float, unit: str, peer: str | None, peer_value: float | None) -> Figure:
    return Figure(
        name=name, value=value, unit=unit, peer=peer, peer_value=peer_value, n=16 * 601 * 1001, memory_mb=None
    )
