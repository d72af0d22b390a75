"""The cheapest floor with placement in the model: how long, how near to its bound, and what it saves."""

import time
from dataclasses import dataclass

import numpy as np

from slab_core.correction.model import Plan
from slab_core.correction.warm import warm
from slab_core.materials import starter
from slab_core.stages import CHEAPEST, PLANE
from tests.benchmarks.measure import Figure, measures
from tests.invented_floors import Work, work
from tests.real_slabs import real_slab

FIRST_SEED, SLABS = 301, 50
"""Other slabs than those on which the search was made."""

MOST_S = 5.0
"""What a room of 35 m² may take."""


@dataclass(frozen=True, kw_only=True)
class _Done:
    """Costs in the same model; infinite where no plane is allowed."""

    seconds: float
    gap: float
    cost: float
    plane_cost: float
    on_a_plane: bool

    def saved(self) -> float:
        return 1.0 - self.cost / self.plane_cost


def _slab(seed: int) -> Work:
    real = real_slab(rng=np.random.default_rng(seed))
    return work(floor=real.slab.floor, height_m=real.slab.height, compound=starter.compound())


def _done(seed: int) -> _Done:
    """Processor seconds of the cheapest floor alone; the plane it is held against is worked out apart."""
    job = _slab(seed)
    begun = time.thread_time()
    best = job.plan(CHEAPEST)
    seconds = time.thread_time() - begun
    plane = job.plan(PLANE)
    done = _Done(
        seconds=seconds,
        gap=best.solve.gap(),
        cost=_cost(best),
        plane_cost=_cost(plane),
        on_a_plane=best.plane is not None,
    )
    print(
        f"  slab {seed}: {done.seconds:.1f} s, {done.cost:.0f} against {done.plane_cost:.0f} on a plane, "
        f"gap {done.gap:.2f}, {best.bags} bags, {best.pour_days} pour days, passes {best.passes}",
        flush=True,
    )
    return done


def _cost(plan: Plan) -> float:
    return plan.solve.objective if plan.passes else np.inf


@measures("correction.placement.", "correction.saving_vs_plane")
def bench_placement() -> list[Figure]:
    """Medians of processor seconds and of gaps, and the lower quartile of the share of cost saved, over rooms
    of 35 m² at 50 mm. The saving is by the rule alone: both plans pass it as it is."""
    warm()
    done = [_done(seed) for seed in range(FIRST_SEED, FIRST_SEED + SLABS)]
    kept = [one for one in done if np.isfinite(one.cost)]
    saved = [one.saved() for one in done if np.isfinite(one.plane_cost)]
    seconds = np.array([one.seconds for one in done])
    gaps = np.array([one.gap for one in kept])
    quartiles = np.round(np.quantile(saved, (0.25, 0.5, 0.75)), 3)
    print(
        f"  {len(kept)} of {len(done)} pass, {sum(one.on_a_plane for one in done)} by a plane; seconds "
        f"up to {seconds.max():.1f}, {np.count_nonzero(seconds > MOST_S)} over {MOST_S:.0f}; gaps "
        f"{gaps.min():.2f}-{gaps.max():.2f}; saved {min(saved):.2f}-{max(saved):.2f}, quartiles {quartiles}"
    )
    figures = {
        "correction.placement.seconds": (float(np.median(seconds)), "s"),
        "correction.placement.gap": (float(np.median(gaps)), "ratio"),
        "correction.saving_vs_plane": (float(np.quantile(saved, 0.25)), "ratio"),
    }
    return [
        Figure(name=name, value=value, unit=unit, peer=None, peer_value=None, n=len(done), memory_mb=None)
        for name, (value, unit) in figures.items()
    ]
