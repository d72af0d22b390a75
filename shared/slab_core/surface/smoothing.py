"""How smooth the surface is, and how noisy the readings: restricted likelihood with weak priors."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from slab_core.numerics.budget import Budget
from slab_core.numerics.grid import Floats
from slab_core.surface.design import Design, border, normal_equations
from slab_core.surface.posterior import Posterior, posterior

LOG_SMOOTHING_MEAN = 8.8
LOG_SMOOTHING_SD = 1.2
# A slab that strays a few mm from a plane within a room, and one e-fold or two either way (common
# practice, no single source). It decides only when a dozen readings or fewer say little themselves.
NOISE_PRIOR_COUNT = 3.0
# The instrument's stated standard deviation counts as much as this many readings do.
PLANE = 3
"""Unpenalised dimensions: the planes."""

LOG_LOW, LOG_HIGH = -5.0, 32.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Smoothed:
    """The chosen fit. `noise` multiplies the stated variances."""

    found: Posterior
    log_smoothing: float
    noise: float


def choose(
    *, design: Design, precision: Floats, value_m: Floats, start: float, budget: Budget, first_step: float
) -> Smoothed:
    """Smoothing of greatest restricted likelihood near `start`, the noise profiled out.

    Source of the criterion: D. A. Harville, "Maximum likelihood approaches to variance component
    estimation", 1977 (from memory), with a normal prior on ln λ and an inverse gamma on the noise.
    """
    used = precision > 0.0
    band, right = normal_equations(design=design, precision=precision, value_m=value_m)
    beside = (
        border(design=design, beside=design.beside, precision=precision, value_m=value_m)
        if design.joints
        else None
    )
    total = float(np.sum(precision * np.square(value_m)))
    freedom = float(used.sum()) - PLANE + NOISE_PRIOR_COUNT
    tried: dict[float, tuple[float, Smoothed]] = {}

    def criterion(log_smoothing: float) -> float:
        budget.left_s()
        found = posterior(
            design=design,
            band=band,
            right=right,
            precision=precision,
            smoothing=float(np.exp(log_smoothing)),
            border=beside,
        )
        explained = float(right @ found.coefficients)
        if beside is not None:
            explained += float(beside.right @ found.beside)
        squares = max(0.0, total - explained)
        noise = (squares + NOISE_PRIOR_COUNT) / freedom
        value = freedom * np.log(noise) + found.log_determinant
        value -= (len(right) - PLANE) * log_smoothing
        value += ((log_smoothing - LOG_SMOOTHING_MEAN) / LOG_SMOOTHING_SD) ** 2
        tried[log_smoothing] = (value, Smoothed(found=found, log_smoothing=log_smoothing, noise=noise))
        return float(value)

    best = minimise(criterion, start=start, step=first_step, low=LOG_LOW, high=LOG_HIGH)
    if best not in tried:
        criterion(best)
    return tried[best][1]


def minimise(
    function: Callable[[float], float],
    *,
    start: float,
    step: float,
    low: float,
    high: float,
    close: float = 0.12,
) -> float:
    """Lowest point of a unimodal function: walk until bracketed, then parabolas until a move is small."""
    points = {start: function(start)}
    left, right = max(low, start - step), min(high, start + step)
    points[right] = function(right)
    if points[right] > points[start]:
        points[left] = function(left)
    while True:
        order = sorted(points)
        best = min(order, key=points.__getitem__)
        place = order.index(best)
        if place == len(order) - 1 and best < high:
            nearer = min(high, best + 1.6 * (best - order[place - 1]))
        elif place == 0 and best > low:
            nearer = max(low, best - 1.6 * (order[1] - best))
        elif place in (0, len(order) - 1):
            return best
        else:
            nearer = _vertex(order[place - 1], best, order[place + 1], points)
            if abs(nearer - best) < close or min(abs(nearer - p) for p in order) < close / 4:
                return best
        points[nearer] = function(nearer)


def _vertex(a: float, b: float, c: float, points: dict[float, float]) -> float:
    """Lowest point of the parabola through three points, kept off the outer ones."""
    fa, fb, fc = points[a], points[b], points[c]
    bend = (b - a) * (fb - fc) - (b - c) * (fb - fa)
    if bend == 0.0:
        return b
    vertex = b - 0.5 * ((b - a) ** 2 * (fb - fc) - (b - c) ** 2 * (fb - fa)) / bend
    return float(min(max(vertex, a + 0.1 * (b - a)), c - 0.1 * (c - b)))
