"""The chance of passing: how long it takes, and how often floors pass that were given a chance.

The slabs are those that look like slabs (tests/real_slabs.py), whole, half and a quarter as uneven, read by
crews with three instruments; their seeds are not those that the amounts in tolerance/chance.py were set on.
"""

from dataclasses import replace
from functools import partial

import numpy as np
from scipy.stats import norm

from slab_core.numerics.budget import Budget
from slab_core.numerics.grid import Floats, to_metres
from slab_core.surface.fit import fit_surface
from slab_core.surface.model import Surface, SurfaceOptions
from slab_core.tolerance.chance import with_chances
from slab_core.tolerance.lattice import free_steps
from slab_core.tolerance.model import Rule, RuleReport
from slab_core.tolerance.straightedge import departures
from tests.benchmarks.measure import Figure, measures, processor_seconds
from tests.real_slabs import RealSlab, read_by_crew, real_slab
from tests.slabs import Slab

SLABS = 60
FIRST_SEED = 7000
LENGTHS_M = (3.048, 1.8288, 0.6096)
INSTRUMENTS_M = (0.0003, 0.0007, 0.0013)


def _slab(rng: np.random.Generator) -> RealSlab:
    real, share = real_slab(rng=rng), float(rng.choice([1.0, 0.5, 0.25]))
    whole = real.slab.height
    height = lambda x, y: share * whole(x, y)  # noqa: E731  # a height is a plain function of x and y
    return replace(real, slab=Slab(floor=real.slab.floor, height=height))


def _largest_m(real: RealSlab, surface: Surface, heights_m: Floats, rule: Rule) -> float:
    grid = surface.grid
    free = free_steps(floor=real.slab.floor, grid=grid, inside=surface.inside)
    found = departures(grid=grid, heights_m=heights_m, free=free, rule=rule, budget=Budget())
    return float(found.larger_m().max())


@measures("tolerance.chance.")
def bench_chances() -> list[Figure]:
    """Rooms of 35 m², three edges each. The gap of a rule is where its chance is anything from 60 to 90 %, or
    95 to 99 %, by the normal logarithm that the chance is worked out with."""
    likely: list[tuple[float, bool]] = []
    sure: list[tuple[float, bool]] = []
    seconds = []
    for seed in range(FIRST_SEED, FIRST_SEED + SLABS):
        rng = np.random.default_rng(seed)
        real = _slab(rng)
        count, sd = int(rng.choice([60, 120, 200, 350])), float(rng.choice(INSTRUMENTS_M))
        readings = read_by_crew(real=real, count=count, rng=rng, sd_m=sd)
        surface = fit_surface(
            floor=real.slab.floor, observations=readings, options=SurfaceOptions(), budget=Budget()
        )
        xs, ys = np.meshgrid(surface.grid.xs(), surface.grid.ys())
        for length in LENGTHS_M:
            edge = Rule(length_m=length, gap_m=1.0)
            fitted = _largest_m(real, surface, to_metres(surface.height), edge)
            true = _largest_m(real, surface, real.slab.height(xs, ys), edge)
            report = RuleReport(
                rule=replace(edge, gap_m=1.2 * fitted),
                used_length_m=length,
                largest_m=fitted,
                passes=True,
                failing_share=0.0,
                worst=(),
                departure=surface.height,
            )
            work = partial(
                with_chances, floor=real.slab.floor, surface=surface, reports=(report,), budget=Budget()
            )
            (found,), spent = processor_seconds(work, rounds=1)
            assert found.chance is not None
            assert found.chance.draws
            low, high = np.log([found.chance.largest_low_m, found.chance.largest_high_m])
            seconds.append(spent)
            for given, least, most in ((likely, 0.6, 0.9), (sure, 0.95, 0.99)):
                chance = float(rng.uniform(least, most))
                away = float(norm.ppf(chance)) / float(norm.ppf(0.95))
                limit = np.exp((low + high) / 2 + away * (high - low) / 2)
                given.append((chance, bool(true <= limit)))
    return [
        _figure("tolerance.chance.seconds", float(np.median(seconds)), "s"),
        _figure("tolerance.chance.seconds_at_most", max(seconds), "s"),
        _shares("tolerance.chance.60_to_90_truly_pass", likely),
        _shares("tolerance.chance.95_to_99_truly_pass", sure),
    ]


def _shares(name: str, given: list[tuple[float, bool]]) -> Figure:
    chances, passed = np.array(given).T
    return Figure(
        name=name,
        value=float(passed.mean()),
        unit="share",
        peer="mean of the chances given",
        peer_value=float(chances.mean()),
        n=len(given),
        memory_mb=None,
    )


def _figure(name: str, value: float, unit: str) -> Figure:
    return Figure(name=name, value=value, unit=unit, peer=None, peer_value=None, n=3 * SLABS, memory_mb=None)
