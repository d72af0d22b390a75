"""What a rule of flatness changes of bags and grinding hours, beside 3/16 in in 10 ft, on invented slabs: for
floors brought to one plane, as an allowance foretells them, and for the cheapest floor. No peer does this."""

from collections.abc import Iterator

import numpy as np

from slab_core.numerics.grid import Floats
from slab_core.stages import CHEAPEST, PLANE
from slab_core.tolerance.model import Rule
from slab_core.units.lengths import METRES_PER_FOOT as FOOT_M
from slab_core.units.lengths import METRES_PER_INCH as INCH_M
from tests.benchmarks.measure import Figure, measures
from tests.invented_floors import Work, rectangle, work
from tests.real_slabs import real_slab

SLABS = 12
WIDTH_M, DEPTH_M = 4.0, 5.0
USUAL = (10.0, 3 / 16)
OTHERS = {"8th_in_10ft": (10.0, 1 / 8), "4th_in_10ft": (10.0, 1 / 4), "8th_in_6ft": (6.0, 1 / 8)}
NONE = np.array([0.5, 0.1])
"""Half a bag and six minutes are added, so that a plan without either has a logarithm."""


@measures("quote.rule_")
def bench_allowance_rule() -> list[Figure]:
    """Geometric means over the slabs."""
    return [figure for alternate in (PLANE, CHEAPEST) for figure in _figures(alternate)]


def _figures(alternate: str) -> Iterator[Figure]:
    usual = _logs(alternate, USUAL)
    for name, rule in OTHERS.items():
        factors = np.exp((_logs(alternate, rule) - usual).mean(axis=0)).tolist()
        for what, factor in zip(("bags", "hours"), factors, strict=True):
            yield Figure(
                name=f"quote.rule_{name}_{alternate}_{what}", value=factor, unit="",
                peer=None, peer_value=None, n=SLABS, memory_mb=None,
            )  # fmt: skip


def _logs(alternate: str, rule: tuple[float, float]) -> Floats:
    plans = (_work(k, rule).plan(alternate) for k in range(SLABS))
    return np.log([np.array([plan.bags, plan.grinder_hours]) + NONE for plan in plans])


def _work(k: int, rule: tuple[float, float]) -> Work:
    real = real_slab(rng=np.random.default_rng([91, k]), width_m=WIDTH_M, depth_m=DEPTH_M)
    feet, inches = rule
    return work(
        floor=rectangle(width_m=WIDTH_M, length_m=DEPTH_M),
        height_m=real.slab.height,
        columns=40,
        rules=(Rule(length_m=feet * FOOT_M, gap_m=inches * INCH_M),),
    )
