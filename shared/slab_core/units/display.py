"""Lengths as a crew reads them."""

from fractions import Fraction

from slab_core.units.lengths import NANOMETRES_PER_INCH, to_nanometres


def feet_inches(metres: float, *, denominator: int = 16) -> str:
    """A length to the nearest 1/`denominator` in, as 12' 3-5/8" (below a foot 3-5/8").

    Half-way goes to the even graduation (NIST Handbook 44, section 10.3, as quoted by the US Access
    Board).
    """
    steps = _steps(metres, denominator=denominator)
    feet, rest = divmod(abs(steps), 12 * denominator)
    sign = "-" if steps < 0 else ""
    return f"{sign}{feet}' {_inches(rest, denominator)}" if feet else sign + _inches(rest, denominator)


def inches(metres: float, *, denominator: int = 32) -> str:
    """A height to the nearest 1/`denominator` in, as 13/32" or 15-1/4"; half-way as `feet_inches`."""
    steps = _steps(metres, denominator=denominator)
    return ("-" if steps < 0 else "") + _inches(abs(steps), denominator)


def millimetres(metres: float, *, decimals: int = 1) -> str:
    """A length as 3.2 mm; half-way as `feet_inches`."""
    steps = round(Fraction(to_nanometres(metres) * 10**decimals, 10**6))
    whole, rest = divmod(abs(steps), 10**decimals)
    tail = f".{rest:0{decimals}d}" if decimals else ""
    return f"{'-' if steps < 0 else ''}{whole}{tail} mm"


def in_both(metres: float) -> str:
    """A height in both systems, as 3/16" (4.8 mm)."""
    return f"{inches(metres)} ({millimetres(metres)})"


def _steps(metres: float, *, denominator: int) -> int:
    # Through whole nanometres, in which a half graduation is exact: a float's last bit must not decide.
    return round(Fraction(to_nanometres(metres) * denominator, NANOMETRES_PER_INCH))


def _inches(steps: int, denominator: int) -> str:
    whole, rest = divmod(steps, denominator)
    if rest == 0:
        return f'{whole}"'
    fraction = Fraction(rest, denominator)
    lead = f"{whole}-" if whole else ""
    return f'{lead}{fraction.numerator}/{fraction.denominator}"'
