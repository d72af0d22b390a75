"""What jobs say of a rate: a normal prior on the logarithm of actual over estimated, updated job by job.

The update is the conjugate one, precision added to precision, with each job's weight lowered as a Student
distribution of few degrees of freedom would, so that a job that went wrong counts little; an entry that no
job could explain is left out altogether and named.
"""

import numpy as np

from slab_core.closeout.model import Learned
from slab_core.numerics.grid import Floats, Mask

PRIOR_SD = 0.25
"""A starter rate is off by about a quarter for a given crew (from memory)."""

DEGREES = 4.0
ABSURD_SDS = 4.0
"""An entry farther than this from what all others and the prior foretell is absurd."""

_ROUNDS = 50
_NINETY_FIVE = 1.96


def learn(*, code: str, ratios: Floats, noise_sd: float, prior_sd: float = PRIOR_SD) -> Learned:
    """What is believed of the factor after these ratios of actual to estimated, one a job, all above 0.

    `noise_sd` is how far one job's logarithm scatters about its crew's own; the order of jobs is no matter.
    """
    logs = np.log(np.asarray(ratios, dtype=np.float64))
    kept = ~absurd(logs=logs, noise_sd=noise_sd, prior_sd=prior_sd)
    mean, sd = _posterior(logs[kept], noise_sd=noise_sd, prior_sd=prior_sd)
    return Learned(
        code=code,
        jobs=int(kept.sum()),
        left_out=int((~kept).sum()),
        factor=float(np.exp(mean)),
        low=float(np.exp(mean - _NINETY_FIVE * sd)),
        high=float(np.exp(mean + _NINETY_FIVE * sd)),
    )


def absurd(*, logs: Floats, noise_sd: float, prior_sd: float = PRIOR_SD) -> Mask:
    """Which entries no job explains: each is held against what all others foretell, shape (n,)."""
    found = np.zeros(len(logs), dtype=np.bool_)
    for k in range(len(logs)):
        others = np.delete(logs, k)
        mean, sd = _posterior(others, noise_sd=noise_sd, prior_sd=prior_sd)
        found[k] = abs(logs[k] - mean) > ABSURD_SDS * float(np.hypot(sd, noise_sd))
    return found


def _posterior(logs: Floats, *, noise_sd: float, prior_sd: float) -> tuple[float, float]:
    """Mean and standard deviation of the factor's logarithm."""
    mean = float(np.median(logs)) if len(logs) else 0.0
    precision = 1.0 / prior_sd**2
    for _ in range(_ROUNDS):
        weights = (DEGREES + 1.0) / (DEGREES + np.square((logs - mean) / noise_sd)) / noise_sd**2
        precision = float(1.0 / prior_sd**2 + weights.sum())
        before, mean = mean, float(weights @ logs) / precision
        if abs(mean - before) < 1e-12:
            break
    return mean, float(precision**-0.5)
