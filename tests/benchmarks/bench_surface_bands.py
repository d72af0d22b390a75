"""Whether the surface's errors are what it says, what a declared joint gives, and how fast draws are."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from slab_core.numerics.budget import Budget
from slab_core.numerics.grid import ERROR_STEP_M, Floats, Grid, to_metres
from slab_core.rooms.model import Floor, Joint
from slab_core.surface.fit import fit_surface
from slab_core.surface.model import Surface, SurfaceOptions
from slab_core.surface.sample import draw
from slab_core.surveys.model import Observations
from tests.benchmarks.measure import Figure, measures, processor_seconds
from tests.real_slabs import INSTRUMENT_SDS_M, RealSlab, read_by_crew, real_slab
from tests.slabs import make_slab, places_beside_joint, read_slab, stepped

COUNTS = (40, 60, 100, 200, 500)
SIZES = ((5.0, 7.0), (3.5, 4.5), (8.0, 6.0))


def _plain(name: str, value: float, unit: str, *, n: int) -> Figure:
    return Figure(name=name, value=value, unit=unit, peer=None, peer_value=None, n=n, memory_mb=None)


def _fit(floor: Floor, seen: Observations, step_m: float) -> Surface:
    options = SurfaceOptions(grid_step_m=step_m)
    return fit_surface(floor=floor, observations=seen, options=options, budget=Budget())


def _cover(real: RealSlab, seen: Observations) -> float:
    """Share of the floor's nodes whose truth lies within 1.96 standard errors."""
    surface = _fit(real.slab.floor, seen, 0.1)
    xs, ys = np.meshgrid(surface.grid.xs(), surface.grid.ys())
    away = np.abs(to_metres(surface.height) - real.slab.height(xs, ys))[surface.inside]
    return float(np.mean(away < 1.96 * to_metres(surface.error, step_m=ERROR_STEP_M)[surface.inside]))


@measures("surface.coverage95")
def bench_coverage() -> list[Figure]:
    """240 real slabs, none of which set anything: three sizes, five densities of readings (named by their
    number in a room of 35 m²), on the crew's grid and scattered, two instruments."""
    covers: dict[int, list[float]] = {count: [] for count in COUNTS}
    for seed in range(240):
        rng = np.random.default_rng(7000 + seed)
        count, size = COUNTS[seed % 5], SIZES[seed // 5 % 3]
        real = real_slab(rng=rng, width_m=size[0], depth_m=size[1])
        seen = read_by_crew(
            real=real,
            count=max(12, round(count * size[0] * size[1] / 35.0)),
            rng=rng,
            sd_m=INSTRUMENT_SDS_M[seed // 15 % 2],
            scattered=seed // 30 % 2 == 1,
        )
        covers[count].append(_cover(real, seen))
    every = [cover for own in covers.values() for cover in own]
    return [
        _plain("surface.coverage95", float(np.mean(every)), "share", n=len(every)),
        *(
            _plain(f"surface.coverage95_{count}", float(np.mean(own)), "share", n=len(own))
            for count, own in covers.items()
        ),
    ]


BESIDE_M = 0.3
STEP_M = 0.005


def _beside_step(
    width: float, depth: float, *, seeds: Sequence[int], off_joint_m: float = 0.127
) -> tuple[float, float]:
    """Root mean square errors within a foot of a 5 mm step with 20 readings on each side: with the joint
    declared and without."""
    squares: dict[bool, list[float]] = {True: [], False: []}
    at = width / 2.0 + 0.0137
    joint = Joint(id="j", kind="construction", start=(at, 0.0), end=(at, depth))
    for seed in seeds:
        rng = np.random.default_rng(seed)
        slab = stepped(make_slab(rng=rng, width_m=width, depth_m=depth, hump_m=0.0), at_m=at, step_m=STEP_M)
        places = places_beside_joint(rng=rng, width_m=width, depth_m=depth, off_joint_m=off_joint_m)
        seen = read_slab(slab=slab, places=places, rng=rng)
        for declared in squares:
            room = replace(slab.floor.rooms[0], joints=(joint,) if declared else ())
            surface = _fit(replace(slab.floor, rooms=(room,)), seen, 0.05)
            xs, ys = np.meshgrid(surface.grid.xs(), surface.grid.ys())
            near = surface.inside & (np.abs(xs - at) < BESIDE_M)
            away: Floats = (to_metres(surface.height) - slab.height(xs, ys))[near]
            squares[declared].append(float(np.mean(np.square(away))))
    return tuple(1000.0 * float(np.sqrt(np.mean(values))) for values in squares.values())  # type: ignore[return-value]


@measures("surface.step")
def bench_step() -> list[Figure]:
    """Rooms with a joint across the middle, its readings as crews take them: a line 5 in off walls and joint.

    Beside them the same with no line along the joint (1 ft off it), and a room four times as large with as
    few readings.
    """
    seeds = range(8000, 8020)
    rooms = [_beside_step(w, d, seeds=seeds) for w, d in ((3.0, 4.0), (3.7, 3.7), (4.9, 2.7), (5.0, 4.0))]
    declared, smooth = (float(np.sqrt(np.mean(np.square([room[k] for room in rooms])))) for k in (0, 1))
    off = _beside_step(4.9, 2.7, seeds=seeds, off_joint_m=0.3)
    large = _beside_step(5.0, 7.0, seeds=seeds)
    return [
        _plain("surface.step_rmse_mm", declared, "mm", n=40),
        _plain("surface.step_undeclared_rmse_mm", smooth, "mm", n=40),
        _plain("surface.step_no_line_along_joint_rmse_mm", off[0], "mm", n=40),
        _plain("surface.step_large_room_rmse_mm", large[0], "mm", n=40),
    ]


@measures("surface.samples_s")
def bench_samples() -> list[Figure]:
    """1,000 joint draws over 100 × 140 nodes of a fit of 150 readings."""
    rng = np.random.default_rng(2)
    real = real_slab(rng=rng)
    spline = _fit(real.slab.floor, read_by_crew(real=real, count=150, rng=rng), 0.05).spline
    grid = Grid(x0_m=0.0, y0_m=0.0, step_m=0.05, nx=100, ny=140)
    _, seconds = processor_seconds(
        lambda: draw(spline=spline, grid=grid, count=1000, rng=np.random.default_rng(3)), rounds=3
    )
    return [_plain("surface.samples_s", seconds, "s", n=1000)]
