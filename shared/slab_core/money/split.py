"""Splitting an amount so that the parts add up to it."""

from decimal import Decimal
from fractions import Fraction

from slab_core.money.rounding import round_to


def split(*, total: Decimal, weights: tuple[Decimal, ...], digits: int) -> tuple[Decimal, ...]:
    """Parts of `total` in proportion to `weights`, each with `digits` places, adding up exactly.

    Largest remainders: every part is cut off towards zero, then the steps left over go to the parts
    that lost most; of equal losses the earlier part gets it. No part is off its exact share by a
    whole step. Weights that are all zero share evenly.

    Raises
    ------
    ValueError
        when there is no weight, one is negative, or the total has more places than `digits`.
    """
    if not weights or any(not w.is_finite() or w < 0 for w in weights):
        raise ValueError("the weights of a split are one or more finite numbers, none below zero")
    if total != round_to(amount=total, digits=digits, rounding="half-even"):
        raise ValueError(f"{total} has more than {digits} decimal places")
    steps = int(total.scaleb(digits))
    sign = -1 if steps < 0 else 1
    return tuple(Decimal(sign * n).scaleb(-digits) for n in _whole_steps(steps=abs(steps), weights=weights))


def _whole_steps(*, steps: int, weights: tuple[Decimal, ...]) -> list[int]:
    shares = [Fraction(w) for w in weights]
    whole = sum(shares)
    if whole == 0:
        shares, whole = [Fraction(1)] * len(weights), Fraction(len(weights))
    exact = [steps * share / whole for share in shares]
    parts = [value.numerator // value.denominator for value in exact]
    by_loss = sorted(range(len(parts)), key=lambda i: (parts[i] - exact[i], i))
    for i in by_loss[: steps - sum(parts)]:
        parts[i] += 1
    return parts
