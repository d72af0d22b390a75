"""Whether the leftovers of an adjustment are what its observations' accuracy allows."""

from math import erfc, exp, lgamma, log, sqrt

SURE = 0.999
"""A disagreement is reported when chance alone would make it in fewer than one of 1,000 networks."""

ALLOWED_SD = 3.2905267
"""Standard deviations that chance exceeds, on either side, once in 1,000."""


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


def beyond(*, normalised: float, count: int) -> bool:
    """Whether the largest of `count` normalised residuals is larger than chance makes it."""
    return erfc(abs(normalised) / sqrt(2)) * max(1, count) < 1 - SURE
