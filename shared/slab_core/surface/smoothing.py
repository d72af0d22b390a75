"""How smooth the surface is, and how noisy the readings: restricted likelihood with weak priors."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from slab_core.numerics.budget import Budget
from slab_core.numerics.grid import Floats
from slab_core.surface.design import Design, border, normal_equations
from slab_core.surface.joint_scales import JointEvidence, likeliest_scales, mixture, start_scales
from slab_core.surface.posterior import Complement, Posterior, complement, posterior, with_joints

LOG_SMOOTHING_MEAN = 7.0
LOG_SMOOTHING_SD = 1.0
"""A slab strays some 4 mm from a plane in waves of a few metres, give or take two thirds (common practice, no
single source). It decides when some dozens of readings or fewer say little themselves."""

BENDING_CHANGE_M2 = 0.1
"""Waves of a slab are smoother than its bending energy alone would let them be: they look like a Matérn
field whose length is some 4 ft (common practice, no single source)."""

NOISE_PRIOR_COUNT = 40.0
"""The stated standard deviation counts as much as this many readings do, so it is known to about 11 %."""

PLANE = 3
"""Unpenalised dimensions: the planes."""

LOG_LOW, LOG_HIGH = -5.0, 32.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Smoothed:
    """The chosen fit. `noise` multiplies the stated variances."""

    found: Posterior
    log_smoothing: float
    noise: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Tried:
    """The fit for one smoothing, and −2 times its log posterior: what is smaller is likelier."""

    found: Posterior
    left: Complement
    beside: JointEvidence
    log_smoothing: float
    value: float


def choose(
    *, design: Design, precision: Floats, value_m: Floats, start: float, budget: Budget, first_step: float
) -> Smoothed:
    """Smoothing of greatest restricted likelihood near `start`, the noise profiled out.

    Source of the criterion: D. A. Harville, "Maximum likelihood approaches to variance component
    estimation", 1977 (from memory), with a normal prior on ln λ and an inverse gamma on the noise.
    """
    band, right = normal_equations(design=design, precision=precision, value_m=value_m)
    edge = border(design=design, precision=precision, value_m=value_m)
    total = float(np.sum(precision * np.square(value_m)))
    freedom = float((precision > 0.0).sum()) - PLANE + NOISE_PRIOR_COUNT
    scales = start_scales(joints=len(design.joints))
    kept: list[_Tried] = []
    spare: list[Floats] = []  # a factor is larger than all else, so one that is not kept gives its memory

    def tried(log_smoothing: float) -> _Tried:
        nonlocal scales
        budget.left_s()
        found = posterior(
            design=design,
            band=band,
            right=right,
            precision=precision,
            smoothing=float(np.exp(log_smoothing)),
            memory=spare.pop() if spare else np.empty_like(band),
        )
        squares = max(0.0, total - float(right @ found.coefficients)) + NOISE_PRIOR_COUNT
        left = complement(found, edge)
        beside = JointEvidence(
            gram=left.gram, right=left.right, squares=squares, freedom=freedom, shared=design.shared
        )
        if not kept:  # they hardly change with the smoothing, and are found again at the end
            scales = likeliest_scales(beside, start=scales)
        value = found.log_determinant - (len(right) - PLANE) * log_smoothing
        value += float(beside.misfit(scales[None])[0])
        value += ((log_smoothing - LOG_SMOOTHING_MEAN) / LOG_SMOOTHING_SD) ** 2
        return _Tried(found=found, left=left, beside=beside, log_smoothing=log_smoothing, value=value)

    def criterion(log_smoothing: float) -> float:
        now = tried(log_smoothing)
        kept.append(now)
        if len(kept) > 1:
            kept.sort(key=lambda one: one.value)
            spare.append(kept.pop().found.lower)
        return now.value

    minimise(criterion, start=start, step=first_step, low=LOG_LOW, high=LOG_HIGH)
    best = kept[0]
    found, noise = best.found, float(best.beside.noise(scales[None])[0])
    if design.beside.shape[1]:
        mean, covariance = mixture(best.beside, scales=likeliest_scales(best.beside, start=scales))
        found = with_joints(found, best.left.shared, mean=mean, covariance=covariance)
    return Smoothed(found=found, log_smoothing=best.log_smoothing, noise=noise)


def minimise(
    function: Callable[[float], float],
    *,
    start: float,
    step: float,
    low: float,
    high: float,
    close: float = 0.2,
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
