"""The surface: accuracy, calibration and time on synthetic slabs, beside scipy's radial basis functions.

The peer's smoothing is chosen on held-out readings of a sample of 800 and that choice is not timed.
"""

import time
from collections.abc import Callable
from typing import Any

import numpy as np
from scipy.interpolate import RBFInterpolator

from slab_core.numerics.budget import Budget
from slab_core.numerics.grid import ERROR_STEP_M, Floats, Grid, to_metres
from slab_core.surface.fit import fit_surface
from slab_core.surface.model import Surface, SurfaceOptions
from slab_core.surface.sample import draw
from slab_core.surface.warm import warm
from slab_core.surveys.model import Observations
from tests.benchmarks.measure import Figure, measures
from tests.slabs import Slab, grid_places, make_slab, random_places, read_slab

SMOOTHINGS = tuple(10.0**power for power in range(-7, 1))


def _figure(
    name: str, value: float, unit: str, *, n: int, peer: str | None = None, peer_value: float | None = None
) -> Figure:
    return Figure(name=name, value=value, unit=unit, peer=peer, peer_value=peer_value, n=n, memory_mb=None)


def _fit(slab: Slab, seen: Observations, step: float | None = None) -> Surface:
    options = SurfaceOptions(grid_step_m=step)
    return fit_surface(floor=slab.floor, observations=seen, options=options, budget=Budget())


def _timed(work: Callable[[], Any], *, rounds: int) -> tuple[Any, float]:
    """The result and the least CPU seconds of several rounds on this thread."""
    seconds = []
    for _ in range(rounds):
        start = time.thread_time()
        result = work()
        seconds.append(time.thread_time() - start)
    return result, min(seconds)


def _rmse(slab: Slab, surface: Surface) -> float:
    xs, ys = np.meshgrid(surface.grid.xs(), surface.grid.ys())
    away = (to_metres(surface.height) - slab.height(xs, ys))[surface.inside]
    return float(np.sqrt(np.mean(np.square(away))))


def _peer(seen: Observations, nodes: Floats, *, smoothing: float, neighbours: int | None) -> Floats:
    at = np.column_stack([seen.x_m[:, 0], seen.y_m[:, 0]])
    fitted = RBFInterpolator(
        at, seen.value_m, kernel="thin_plate_spline", smoothing=smoothing, neighbors=neighbours
    )
    return np.asarray(fitted(nodes))


def _peer_smoothing(seen: Observations) -> float:
    order = np.random.default_rng(0).permutation(len(seen.value_m))[:800]
    at = np.column_stack([seen.x_m[:, 0], seen.y_m[:, 0]])
    fit, held = order[: -len(order) // 5], order[-len(order) // 5 :]

    def error(smoothing: float) -> float:
        found = RBFInterpolator(at[fit], seen.value_m[fit], kernel="thin_plate_spline", smoothing=smoothing)
        return float(np.mean(np.square(found(at[held]) - seen.value_m[held])))

    return min(SMOOTHINGS, key=error)


def _against_rbf(
    *, name: str, width: float, depth: float, count: int, neighbours: int | None, step: float
) -> list[Figure]:
    warm()
    rng = np.random.default_rng(1)
    slab = make_slab(rng=rng, width_m=width, depth_m=depth, hump_m=0.019)
    seen = read_slab(
        slab=slab, places=random_places(floor=slab.floor, count=count, rng=rng), rng=rng, sd_m=0.0005
    )
    surface, own_s = _timed(lambda: _fit(slab, seen, step), rounds=3)
    xs, ys = np.meshgrid(surface.grid.xs(), surface.grid.ys())
    nodes = np.column_stack([xs[surface.inside], ys[surface.inside]])
    smoothing = _peer_smoothing(seen)
    theirs, peer_s = _timed(lambda: _peer(seen, nodes, smoothing=smoothing, neighbours=neighbours), rounds=1)
    their_rmse = float(np.sqrt(np.mean(np.square(theirs - slab.height(*nodes.T)))))
    own_rmse = _rmse(slab, surface)
    print(f"  {count} readings: {own_s * 1000:.0f} ms, rmse {own_rmse * 1000:.3f} mm")
    peer = f"scipy RBF thin plate, smoothing {smoothing:g}, neighbours {neighbours or 'all'}"
    return [
        _figure(f"{name}.speedup_vs_rbf", peer_s / own_s, "x", n=count, peer=f"{peer}, s", peer_value=peer_s),
        _figure(
            f"{name}.rmse_vs_rbf",
            own_rmse / their_rmse,
            "ratio",
            n=count,
            peer=f"{peer}, rmse mm",
            peer_value=their_rmse * 1000,
        ),
    ]


@measures("surface.5000.")
def bench_5000_readings() -> list[Figure]:
    """5 × 7 m, heights and standard errors on a 50 mm grid; the peer gives heights only."""
    return _against_rbf(name="surface.5000", width=5.0, depth=7.0, count=5000, neighbours=None, step=0.05)


@measures("surface.50000.")
def bench_50000_readings() -> list[Figure]:
    """30 × 50 m on a 100 mm grid."""
    return _against_rbf(name="surface.50000", width=30.0, depth=50.0, count=50_000, neighbours=50, step=0.1)


@measures("surface.150.", "surface.500.own", "surface.60.own")
def bench_small_surveys() -> list[Figure]:
    """Least CPU seconds of ten fits with standard errors on a 50 mm grid."""
    warm()
    figures = []
    for count in (60, 150, 500):
        rng = np.random.default_rng(count)
        slab = make_slab(rng=rng)
        seen = read_slab(slab=slab, places=grid_places(floor=slab.floor, count=count, rng=rng), rng=rng)
        _, seconds = _timed(lambda slab=slab, seen=seen: _fit(slab, seen), rounds=10)
        figures.append(_figure(f"surface.{count}.own_s", seconds, "s", n=count))
    return figures


@measures("surface.coverage95")
def bench_coverage() -> list[Figure]:
    """Mean share of nodes within 1.96 standard errors over 200 slabs of four kinds and four sizes."""
    covers = []
    for seed in range(200):
        rng = np.random.default_rng(1000 + seed)
        kind = seed % 4
        slab = make_slab(
            rng=rng,
            hump_m=(0.012, 0.019)[kind % 2],
            ridges_m=0.001 * (kind == 2),
            wall_band_m=0.002 * (kind == 3),
        )
        count = (60, 100, 200, 400)[seed // 4 % 4]
        seen = read_slab(slab=slab, places=grid_places(floor=slab.floor, count=count, rng=rng), rng=rng)
        surface = _fit(slab, seen, 0.1)
        xs, ys = np.meshgrid(surface.grid.xs(), surface.grid.ys())
        away = np.abs(to_metres(surface.height) - slab.height(xs, ys))[surface.inside]
        sd = to_metres(surface.error, step_m=ERROR_STEP_M)[surface.inside]
        covers.append(float(np.mean(away < 1.96 * sd)))
    return [_figure("surface.coverage95", float(np.mean(covers)), "share", n=200)]


@measures("surface.samples_s")
def bench_samples() -> list[Figure]:
    """1,000 joint draws over 100 × 140 nodes of a fit of 150 readings."""
    rng = np.random.default_rng(2)
    slab = make_slab(rng=rng)
    seen = read_slab(slab=slab, places=grid_places(floor=slab.floor, count=150, rng=rng), rng=rng)
    spline = _fit(slab, seen).spline
    grid = Grid(x0_m=0.0, y0_m=0.0, step_m=0.05, nx=100, ny=140)
    _, seconds = _timed(
        lambda: draw(spline=spline, grid=grid, count=1000, rng=np.random.default_rng(3)), rounds=3
    )
    return [_figure("surface.samples_s", seconds, "s", n=1000)]
