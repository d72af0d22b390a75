"""What the cheapest floor saves against the best plane, by rule: a tight one leaves less to choose."""

import numpy as np

from slab_core.correction.warm import warm
from slab_core.tolerance.classes import BY_CODE
from tests.benchmarks.against_plane import SEEDS, against_plane, quartiles_saved
from tests.benchmarks.measure import Figure, measures

CODES = (
    "wood-nail-down-10ft",
    "wood-glue-down-6ft",
    "tile-10ft",
    "screed-sr1",
    "din-18202-row-3",
    "premium-20ft",
)
"""Single rules, pairs and a ladder of them; 3/16 in in 10 ft is bench_placement.py's."""


@measures("correction.saving_by_rule.")
def bench_saving() -> list[Figure]:
    """The lower quartile of the share of cost saved, the others printed."""
    warm()
    return [_figure(code) for code in CODES]


def _figure(code: str) -> Figure:
    rules = BY_CODE[code].rules
    print(f"  {code}")
    done = [against_plane(seed=seed, rules=rules) for seed in SEEDS]
    quartiles = quartiles_saved(done)
    seconds = np.array([one.seconds for one in done])
    planes = sum(np.isfinite(one.plane_cost) for one in done)
    print(
        f"  {code}: {sum(np.isfinite(one.cost) for one in done)} of {len(done)} pass, "
        f"{sum(one.on_a_plane for one in done)} by a plane; {planes} pass on a plane; "
        f"quartiles of what is saved {quartiles.round(3)}; "
        f"seconds {np.median(seconds):.1f}, up to {seconds.max():.1f}",
        flush=True,
    )
    return Figure(
        name=f"correction.saving_by_rule.{code}",
        value=float(quartiles[0]),
        unit="ratio",
        peer=None,
        peer_value=None,
        n=len(done),
        memory_mb=None,
    )
