"""Steps that nobody declared: how often one is suggested where there is none, and how often one is found.

What is aimed at, the slabs and how it is counted were fixed in tests/hidden_steps.py before the search was
written; the seeds here set nothing in it.
"""

import numpy as np

from slab_core.numerics.budget import Budget
from slab_core.surface.fit import fit_surface
from slab_core.surface.model import SurfaceOptions, SuspectedStep
from tests.benchmarks.measure import Figure, measures
from tests.hidden_steps import JUDGED, hidden_step, is_right, is_unfounded
from tests.real_slabs import RealSlab, read_by_crew, real_slab

SIZES = ((5.0, 7.0), (3.5, 4.5), (8.0, 6.0))
COUNTS = (60, 100, 150, 300, 500)
SLABS_WITHOUT, SLABS_WITH = 400, 100
TRACKED, TRACKED_SD_M, TRACKED_HEIGHT_M = 5000, 0.01, 0.0025
HEIGHTS_M = {100: (0.005, 0.01), 150: (0.005,), 300: (0.005,), 500: (0.005,)}


def _plain(name: str, value: float, *, n: int) -> Figure:
    return Figure(name=name, value=value, unit="share", peer=None, peer_value=None, n=n, memory_mb=None)


def _suspected(
    real: RealSlab, *, count: int, rng: np.random.Generator, scattered: bool, tracked: bool = False
) -> tuple[tuple[SuspectedStep, ...], float]:
    """What is suggested, and the mean spacing of the readings in metres."""
    placing = {"position_sd_m": TRACKED_SD_M} if tracked else {}
    seen = read_by_crew(real=real, count=count, rng=rng, scattered=scattered, **placing)
    options = SurfaceOptions(grid_step_m=0.5)
    floor = real.slab.floor
    surface = fit_surface(floor=floor, observations=seen, options=options, budget=Budget())
    return surface.suspected_steps, float(np.sqrt(floor.area_m2 / len(seen.value_m)))


@measures("steps.false_share", "steps.true_edge_share")
def bench_false_steps() -> list[Figure]:
    """400 real slabs without a hidden step, of three sizes and five densities (named by their number in a
    room of 35 m²), half of them scattered: the share with a suggestion that the true floor does not bear out,
    and the share where one lies along the edge of a patch."""
    unfounded: dict[int, list[bool]] = {count: [] for count in COUNTS}
    edges = []
    for seed in range(SLABS_WITHOUT):
        rng = np.random.default_rng(JUDGED + seed)
        count, size = COUNTS[seed % 5], SIZES[seed // 5 % 3]
        real = real_slab(rng=rng, width_m=size[0], depth_m=size[1])
        readings = max(12, round(count * size[0] * size[1] / 35.0))
        found, spacing = _suspected(real, count=readings, rng=rng, scattered=seed // 15 % 2 == 1)
        wrong = [
            is_unfounded(slab=real.slab, start=step.start, end=step.end, spacing_m=spacing) for step in found
        ]
        unfounded[count].append(any(wrong))
        edges.append(not all(wrong))
    every = [one for own in unfounded.values() for one in own]
    return [
        _plain("steps.false_share", float(np.mean(every)), n=len(every)),
        *(
            _plain(f"steps.false_share_{count}", float(np.mean(own)), n=len(own))
            for count, own in unfounded.items()
        ),
        _plain("steps.true_edge_share", float(np.mean(edges)), n=len(edges)),
    ]


@measures("steps.found_")
def bench_found_steps() -> list[Figure]:
    """100 real slabs each with a step of 5 mm (10 mm) from wall to wall, read on the crew's grid."""
    return [
        _plain(f"steps.found_{1000 * height_m:.0f}mm_{count}", _found(height_m, count), n=SLABS_WITH)
        for count, heights in HEIGHTS_M.items()
        for height_m in heights
    ]


@measures("steps.tracked_")
def bench_tracked_steps() -> list[Figure]:
    """100 real slabs without and 100 with a step of 2.5 mm, each read at 5,000 places: what is unfounded, and
    what is found."""
    unfounded = []
    for seed in range(SLABS_WITH):
        rng = np.random.default_rng([JUDGED, TRACKED, seed])
        real = real_slab(rng=rng)
        found, spacing = _suspected(real, count=TRACKED, rng=rng, scattered=True, tracked=True)
        unfounded.append(
            any(is_unfounded(slab=real.slab, start=s.start, end=s.end, spacing_m=spacing) for s in found)
        )
    return [
        _plain("steps.tracked_false_share", float(np.mean(unfounded)), n=SLABS_WITH),
        _plain("steps.tracked_found_2.5mm", _found(TRACKED_HEIGHT_M, TRACKED, tracked=True), n=SLABS_WITH),
    ]


def _found(height_m: float, count: int, *, tracked: bool = False) -> float:
    found = 0
    for seed in range(SLABS_WITH):
        # None of the slabs is one that another figure reads, with or without a step.
        rng = np.random.default_rng([JUDGED, count, round(1e6 * height_m), seed])
        step = hidden_step(rng=rng, height_m=height_m)
        suggested, spacing = _suspected(step.real, count=count, rng=rng, scattered=tracked, tracked=tracked)
        found += any(
            is_right(step=step, start=one.start, end=one.end, height_m=one.height_m, spacing_m=spacing)
            for one in suggested
        )
    return found / SLABS_WITH
