"""Whether the leftovers of an adjustment are what its observations' accuracy allows."""

from math import erfc, exp, lgamma, log, sqrt

REFUSED_BELOW = 0.001
"""A network whose leftovers chance alone makes in fewer than one of 1,000 does not close."""

DOUBTED_BELOW = 0.01
"""One that chance makes in fewer than one of 100 is told, and goes on."""

ALLOWED_SD = 3.2905267
"""Standard deviations that chance exceeds, on either side, once in 1,000."""

DOUBTED_SD = 2.5758293
"""Standard deviations that chance exceeds, on either side, once in 100."""


def chi_square_beyond(*, value: float, degrees_of_freedom: int) -> float:
    """Probability that a chi-square variate exceeds `value`.

    The finite series of the upper incomplete gamma function at whole and half numbers.
    """
    half = value / 2
    if degrees_of_freedom <= 0 or half <= 0:
        return 1.0
    odd = degrees_of_freedom % 2 == 1
    total = erfc(sqrt(half)) if odd else 0.0
    for step in range(degrees_of_freedom // 2):
        power = step + 0.5 if odd else float(step)
        total += exp(power * log(half) - half - lgamma(power + 1))
    return min(1.0, total)


def largest_beyond(*, normalised: float, count: int) -> float:
    """Probability, at most, that the largest of `count` normalised residuals exceeds this one."""
    return min(1.0, erfc(abs(normalised) / sqrt(2)) * max(1, count))
