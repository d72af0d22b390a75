"""Rounding of money, exact and with its rule named."""

from decimal import (
    ROUND_HALF_EVEN,
    ROUND_HALF_UP,
    Context,
    Decimal,
    DivisionByZero,
    Inexact,
    InvalidOperation,
)
from fractions import Fraction
from typing import Literal

Rounding = Literal["half-up", "half-even"]
"""half-up: a tie goes away from zero; half-even: a tie goes to the even last digit."""

_MODES = {"half-up": ROUND_HALF_UP, "half-even": ROUND_HALF_EVEN}

EXACT = Context(prec=120, traps=[InvalidOperation, DivisionByZero, Inexact])
"""Arithmetic that raises rather than lose a digit: the caller's own context may round in silence."""

_WIDE = Context(prec=120, traps=[InvalidOperation, DivisionByZero])


def round_to(*, amount: Decimal, digits: int, rounding: Rounding) -> Decimal:
    """The amount with exactly `digits` decimal places; never a negative zero.

    Raises
    ------
    ValueError
        when the amount is not a finite number.
    """
    if not amount.is_finite():
        raise ValueError(f"{amount} is not an amount of money")
    step = Decimal(1).scaleb(-digits)
    rounded = amount.quantize(step, rounding=_MODES[rounding], context=_WIDE)
    return rounded.copy_abs() if rounded.is_zero() else rounded


def round_ratio(*, value: Fraction, digits: int, rounding: Rounding) -> Decimal:
    """A quotient rounded once, from its exact value: dividing first and rounding after would round twice."""
    scaled = value * Fraction(10) ** digits
    whole, rest = divmod(abs(scaled.numerator), scaled.denominator)
    twice = 2 * rest
    tie_up = rounding == "half-up" or whole % 2 == 1
    if twice > scaled.denominator or (twice == scaled.denominator and tie_up):
        whole += 1
    steps = whole if scaled >= 0 else -whole
    return Decimal(steps).scaleb(-digits, context=EXACT)


def add_up(*, amounts: tuple[Decimal, ...]) -> Decimal:
    """The exact sum, the same in any order."""
    total = Decimal(0)
    for amount in amounts:
        total = EXACT.add(total, amount)
    return total


def from_float(*, value: float, places: int) -> Decimal:
    """A measured quantity as an exact decimal with a stated number of places, ties to even.

    The float is taken at its exact binary value and rounded once.

    Raises
    ------
    ValueError
        when the quantity is not a finite number.
    """
    return round_to(amount=Decimal(value), digits=places, rounding="half-even")
