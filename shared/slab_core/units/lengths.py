"""Units of length, what each is in metres, and the refusal of what is not a length."""

from fractions import Fraction
from math import isfinite
from typing import Literal

from slab_core.errors import SlabError

LengthUnit = Literal["m", "cm", "mm", "ft", "in"]

EXACT_METRES_PER: dict[LengthUnit, Fraction] = {
    "m": Fraction(1),
    "cm": Fraction(1, 100),
    "mm": Fraction(1, 1000),
    "ft": Fraction(3048, 10_000),
    "in": Fraction(254, 10_000),
}
"""The international foot and inch, exact since 1959."""

METRES_PER: dict[LengthUnit, float] = {unit: float(metres) for unit, metres in EXACT_METRES_PER.items()}
"""For whole columns of numbers: multiply by this."""

METRES_PER_FOOT = METRES_PER["ft"]
METRES_PER_INCH = METRES_PER["in"]

NANOMETRES_PER_INCH = 25_400_000


class LengthRefused(SlabError):
    """A value is not a length, or not clearly one.

    `code` is one of unit-missing, unknown-unit, not-a-length, unclear-comma, not-finite,
    not-a-fraction, parts-out-of-order, not-a-range, range-reversed.
    """

    def __init__(self, *, code: str, detail: str) -> None:
        super().__init__(detail)
        self.code = code
        self.detail = detail


def to_nanometres(metres: float) -> int:
    """Metres as whole nanometres, in which 1/64 in is 396,875 exactly; ties to even.

    Raises
    ------
    LengthRefused
        not-finite.
    """
    if not isfinite(metres):
        raise LengthRefused(code="not-finite", detail=f"{metres} is not a finite number of metres")
    return round(metres * 1e9)
