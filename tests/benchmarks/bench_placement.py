"""The cheapest floor with placement in the model: how long, how near to its bound, and what it saves."""

import numpy as np

from slab_core.correction.warm import warm
from tests.benchmarks.against_plane import SEEDS, against_plane, quartiles_saved
from tests.benchmarks.measure import Figure, measures

MOST_S = 5.0
"""What a room of 35 m² may take."""


@measures("correction.placement.", "correction.saving_vs_plane")
def bench_placement() -> list[Figure]:
    """Medians of processor seconds and of gaps, and the lower quartile of the share of cost saved, under
    3/16 in in 10 ft; other rules are bench_saving.py's."""
    warm()
    done = [against_plane(seed=seed) for seed in SEEDS]
    kept = [one for one in done if np.isfinite(one.cost)]
    seconds = np.array([one.seconds for one in done])
    gaps = np.array([one.gap for one in kept])
    quartiles = quartiles_saved(done)
    print(
        f"  {len(kept)} of {len(done)} pass, {sum(one.on_a_plane for one in done)} by a plane; seconds "
        f"up to {seconds.max():.1f}, {np.count_nonzero(seconds > MOST_S)} over {MOST_S:.0f}; gaps "
        f"{gaps.min():.2f}-{gaps.max():.2f}; quartiles of what is saved {quartiles.round(3)}"
    )
    figures = {
        "correction.placement.seconds": (float(np.median(seconds)), "s"),
        "correction.placement.gap": (float(np.median(gaps)), "ratio"),
        "correction.saving_vs_plane": (float(quartiles[0]), "ratio"),
    }
    return [
        Figure(name=name, value=value, unit=unit, peer=None, peer_value=None, n=len(done), memory_mb=None)
        for name, (value, unit) in figures.items()
    ]
