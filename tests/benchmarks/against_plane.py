"""The cheapest floor of an invented slab held against its cheapest plane, in the same cost model."""

import time
from dataclasses import dataclass

import numpy as np

from slab_core.correction.model import Plan
from slab_core.materials import starter
from slab_core.numerics.grid import Floats
from slab_core.stages import CHEAPEST, PLANE
from slab_core.tolerance.model import Rule
from tests.invented_floors import RULE, work
from tests.real_slabs import real_slab

SEEDS = range(301, 351)
"""Other slabs than those on which the search was made: rooms of 35 m² at 50 mm."""


@dataclass(frozen=True, kw_only=True)
class AgainstPlane:
    """Costs, infinite where a plan does not pass, and processor seconds of the cheapest floor alone."""

    seconds: float
    gap: float
    cost: float
    plane_cost: float
    on_a_plane: bool

    def saved(self) -> float:
        """The share of the plane's cost."""
        return 1.0 - self.cost / self.plane_cost


def against_plane(*, seed: int, rules: tuple[Rule, ...] = (RULE,)) -> AgainstPlane:
    """Both plans pass the rules as the slab is, without a probability."""
    real = real_slab(rng=np.random.default_rng(seed))
    job = work(floor=real.slab.floor, height_m=real.slab.height, compound=starter.compound(), rules=rules)
    begun = time.thread_time()
    best = job.plan(CHEAPEST)
    seconds = time.thread_time() - begun
    plane = job.plan(PLANE)
    done = AgainstPlane(
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


def quartiles_saved(done: list[AgainstPlane]) -> Floats:
    """Of the shares saved, where some plane passes."""
    saved = [one.saved() for one in done if np.isfinite(one.plane_cost)]
    return np.quantile(saved, (0.25, 0.5, 0.75))


def _cost(plan: Plan) -> float:
    return plan.solve.objective if plan.passes else np.inf
