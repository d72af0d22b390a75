"""How sure combined F-numbers are, from how much the measured lines differ.

ASTM E1155 states 90 % limits by a rule that was not read; this interval is our own. Lines are drawn again
with replacement, since readings along one line are not independent, and the spread of the logarithm is
widened for their small number by Student's t.
"""

from math import sqrt

import numpy as np
from scipy.stats import t as student

from slab_core.numerics.grid import Floats

LEAST_LINES = 4
DRAWS = 1000
LEVEL = 0.90


def interval(numbers: tuple[tuple[float, int], ...]) -> tuple[float, float] | None:
    """90 % limits of the combined F-number of (F, r) by line; None below four or with a perfect plane."""
    f, r = (np.array(column, dtype=np.float64) for column in zip(*numbers, strict=True))
    lines = len(f)
    if lines < LEAST_LINES or not np.isfinite(f).all():
        return None
    # A fixed seed: places of a quadrature, not chances of the job.
    drawn = np.random.default_rng(0).integers(0, lines, (DRAWS, lines))
    logs = 0.5 * np.log(r[drawn].sum(axis=1) / (r / f**2)[drawn].sum(axis=1))
    middle = 0.5 * np.log(r.sum() / (r / f**2).sum())
    sd = float(_spread(logs)) * sqrt(lines / (lines - 1.0))
    away = float(student.ppf(0.5 + LEVEL / 2.0, lines - 1)) * sd
    return float(np.exp(middle - away)), float(np.exp(middle + away))


def _spread(logs: Floats) -> float:
    return float(logs.std(ddof=1))
