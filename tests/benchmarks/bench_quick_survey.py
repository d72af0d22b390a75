"""How well a quick survey tells bags and grinding hours, on invented slabs with every fault other than those
that the model was taken from. There is no general-purpose peer."""

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from slab_core.correction.model import Plan
from slab_core.numerics.grid import Floats
from slab_core.pipeline.line import run
from slab_core.stages import PLANE
from slab_core.surveys.model import Readings, Survey
from slab_core.takeoff.unseen.allowance import BAGS_VARY, GRINDING_VARIES
from tests.benchmarks.measure import Figure, measures
from tests.real_slabs import RealSlab, crew_places, real_slab, spacing_for
from tests.sample_jobs import one_room_job

SLABS, READINGS, TRUTH = 12, 48, 350
SIZE_M = (5.0, 7.0)
SD_M, ASIDE_M = 0.0015, 0.1
OFF_WALL_M = 0.3
NONE = (0.5, 0.1)
"""Half a bag and six minutes are added, so that a plan without either has a logarithm."""


@measures("quote.quick_survey_")
def bench_quick_survey() -> list[Figure]:
    """Root mean square of the logarithm's error, beside what the model takes of as many readings."""
    error = np.array(list(_errors()))
    root = np.sqrt(np.mean(error**2, axis=0)).tolist()
    modelled = (BAGS_VARY / READINGS**0.5, GRINDING_VARIES / READINGS**0.5)
    return [
        Figure(
            name=f"quote.quick_survey_{name}_log_error",
            value=value,
            unit="",
            peer="as modelled",
            peer_value=taken,
            n=SLABS,
            memory_mb=None,
        )
        for name, value, taken in zip(("bags", "hours"), root, modelled, strict=True)
    ]


def _errors() -> Iterator[Floats]:
    for k in range(SLABS):
        rng = np.random.default_rng([88, k])
        real = real_slab(rng=rng, width_m=SIZE_M[0], depth_m=SIZE_M[1])
        places = crew_places(size=SIZE_M, spacing_m=spacing_for(size=SIZE_M, count=TRUTH))
        truth = _planned(_survey(real, *places, sd_m=0.0003, aside_m=0.002, rng=rng))
        x, y = (rng.uniform(OFF_WALL_M, end - OFF_WALL_M, READINGS) for end in SIZE_M)
        yield _planned(_survey(real, x, y, sd_m=SD_M, aside_m=ASIDE_M, rng=rng)) - truth


def _planned(survey: Survey) -> Floats:
    """Logarithms of bags and of the large grinder's hours."""
    job = replace(one_room_job(width_m=SIZE_M[0], depth_m=SIZE_M[1]), surveys=(survey,))
    plan = run(job=job).model(Plan, "correction", "studio", PLANE)
    return np.log([plan.bags + NONE[0], plan.grinder_hours + NONE[1]])


def _survey(
    real: RealSlab, x: Floats, y: Floats, *, sd_m: float, aside_m: float, rng: np.random.Generator
) -> Survey:
    """Read a little beside where it is noted."""
    aside = rng.normal(0.0, aside_m, (2, len(x)))
    at = (np.clip(v + a, 0.01, end - 0.01) for v, a, end in zip((x, y), aside, SIZE_M, strict=True))
    readings = Readings(
        kind="elevation",
        x_m=x,
        y_m=y,
        value_m=real.slab.height(*at) + rng.normal(0.0, sd_m, len(x)),
        setup=np.full(len(x), -1, dtype=np.int32),
        sd_m=np.full(len(x), sd_m),
        position_sd_m=np.full(len(x), aside_m),
    )
    return Survey(id="quick", readings=(readings,))
