"""Lengths as people write them, read without guessing."""

import re
from dataclasses import dataclass
from fractions import Fraction
from math import isfinite

from slab_core.units.lengths import EXACT_METRES_PER, LengthRefused, LengthUnit
from slab_core.units.writing import plain

_NAMES: dict[str, LengthUnit] = {
    **dict.fromkeys(("m", "meter", "meters", "metre", "metres"), "m"),
    **dict.fromkeys(("cm", "centimeter", "centimeters", "centimetre", "centimetres"), "cm"),
    **dict.fromkeys(("mm", "millimeter", "millimeters", "millimetre", "millimetres"), "mm"),
    **dict.fromkeys(("ft", "foot", "feet", "'"), "ft"),
    **dict.fromkeys(("in", "inch", "inches", '"'), "in"),
}
_KNOWN = "m, cm, mm, ft or ', in or \""
_RIGHT = "12' 3-5/8\", 12.3 ft, 147.6 in, 3.75 m, 375 cm or 3750 mm"
_LONGEST_TEXT = 64

_PART = re.compile(
    r"""(?:(?P<whole>[0-9]+)(?:\ ?-\ ?|\ ))?(?P<top>[0-9]+)\ ?/\ ?(?P<bottom>[0-9]+)
      | (?P<decimal>(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]{1,2}(?![0-9]))?)""",
    re.VERBOSE,
)
_UNIT = re.compile(r" ?([A-Za-z]+|['\"])\.?")


@dataclass(frozen=True, slots=True, kw_only=True)
class _Part:
    """One number with its unit; `whole` means that a smaller part may follow."""

    amount: Fraction
    unit: LengthUnit
    is_whole: bool


def parse_length(value: str | int | float, *, unit: LengthUnit | None = None) -> float:
    """Read one length; metres.

    A number, or a text without a unit, is in `unit`. A text may be feet-inches-fractions in any
    customary writing, decimal feet or inches, or metric.

    Raises
    ------
    LengthRefused
        with a stable code, and a text that says what was read and what would be right.
    """
    if isinstance(value, bool) or not isinstance(value, str | int | float):
        raise _refused("not-a-length", f"{value!r} is neither a number nor a text; write {_RIGHT}")
    if not isinstance(value, str):
        return _from_number(value, unit=unit)
    if len(value) > _LONGEST_TEXT:
        raise _refused("not-a-length", f"a length of {len(value)} characters is no length; write {_RIGHT}")
    return _from_text(value, unit=unit)


def read_unit(name: str) -> LengthUnit:
    """The unit that a name stands for.

    Raises
    ------
    LengthRefused
        unknown-unit.
    """
    known = _NAMES.get(plain(name).rstrip(".").lower())
    if known is None:
        raise _refused("unknown-unit", f"“{name}” is not a known unit of length; use {_KNOWN}")
    return known


def _from_number(value: int | float, *, unit: LengthUnit | None) -> float:
    number = _finite(value)
    if unit is None:
        raise _refused("unit-missing", f"{value} has no unit; name one of {_KNOWN}")
    # Through the shortest decimal that names this number, so that 12.3 with the unit "ft" and the
    # text "12.3 ft" are one length to the last bit.
    return _finite(Fraction(repr(number)) * EXACT_METRES_PER[read_unit(unit)])


def _finite(value: int | float | Fraction) -> float:
    try:
        number = float(value)
    except OverflowError:
        number = float("inf")
    if not isfinite(number):
        raise _refused("not-finite", f"{number} is not a finite number; leave out what was not measured")
    return number


def _from_text(text: str, *, unit: LengthUnit | None) -> float:
    body = plain(text)
    if body.lower().lstrip("+-") in ("nan", "inf", "infinity"):
        raise _refused("not-finite", f"“{text}” is not a number; leave out what was not measured")
    if "," in body:
        raise _refused(
            "unclear-comma",
            f"the comma in “{text}” may mean a decimal point or thousands; "
            "write 1.5 for one and a half, 1500 for fifteen hundred",
        )
    sign = -1 if body.startswith("-") else 1
    parts = _parts(body.removeprefix("-" if sign < 0 else "+").lstrip(), text=text, unit=unit)
    return _finite(sign * sum(part.amount * EXACT_METRES_PER[part.unit] for part in parts))


def _parts(body: str, *, text: str, unit: LengthUnit | None) -> list[_Part]:
    parts: list[_Part] = []
    at = 0
    while at < len(body) or not parts:
        number = _PART.match(body, at)
        if number is None:
            raise _not_a_length(text)
        name = _UNIT.match(body, number.end())
        part = _part(number, name=name, before=parts, text=text, unit=unit)
        _check_order(part, before=parts, text=text)
        parts.append(part)
        at = _skip_separator(body, at=name.end() if name else number.end(), after=part.unit)
    return parts


def _part(
    number: re.Match[str],
    *,
    name: re.Match[str] | None,
    before: list[_Part],
    text: str,
    unit: LengthUnit | None,
) -> _Part:
    amount = _amount(number, text=text)
    is_fraction = number["top"] is not None
    if name is not None:
        return _Part(
            amount=amount, unit=read_unit(name[1]), is_whole=not is_fraction and amount.denominator == 1
        )
    if not before and number.end() == len(number.string):
        return _Part(amount=amount, unit=_given(unit, text=text), is_whole=False)
    # After feet the inch mark is often left off (12' 3-5/8), and 3" 5/8 puts it early.
    after = before[-1].unit if before else None
    early_mark = after == "in" and is_fraction and number["whole"] is None
    if after == "ft" or early_mark:
        return _Part(amount=amount, unit="in", is_whole=False)
    raise _not_a_length(text)


def _given(unit: LengthUnit | None, *, text: str) -> LengthUnit:
    if unit is None:
        raise _refused("unit-missing", f"“{text}” has no unit; write {_RIGHT}")
    return read_unit(unit)


def _amount(number: re.Match[str], *, text: str) -> Fraction:
    if number["decimal"] is not None:
        return Fraction(number["decimal"])
    whole, top, bottom = int(number["whole"] or 0), int(number["top"]), int(number["bottom"])
    if bottom == 0:
        raise _refused("not-a-fraction", f"“{text}” divides by zero; a fraction of an inch is like 5/8")
    if number["whole"] is not None and top >= bottom:
        raise _refused("not-a-fraction", f"in “{text}” the fraction {top}/{bottom} is not below one")
    return whole + Fraction(top, bottom)


def _check_order(part: _Part, *, before: list[_Part], text: str) -> None:
    """A smaller part follows a whole larger one and stays below it, as in 12' 3": else it is a slip."""
    if not before:
        return
    last = before[-1]
    early_mark = last.unit == part.unit == "in" and not part.is_whole and part.amount < 1
    larger = Fraction(EXACT_METRES_PER[last.unit])
    size = part.amount * EXACT_METRES_PER[part.unit]
    falls = early_mark or larger > EXACT_METRES_PER[part.unit]
    if not (last.is_whole and falls and size < larger):
        raise _refused(
            "parts-out-of-order",
            f"in “{text}” each part must be whole and larger than all that follows it, as in 12' 3-5/8\"",
        )


def _skip_separator(body: str, *, at: int, after: LengthUnit) -> int:
    """Past a space, or past the hyphen that may follow feet or inches; a trailing one is left standing."""
    hyphen = re.compile(r" ?- ?(?=[0-9.])").match(body, at)
    if hyphen is not None and after in ("ft", "in"):
        return hyphen.end()
    return at + 1 if body.startswith(" ", at) else at


def _not_a_length(text: str) -> LengthRefused:
    return _refused("not-a-length", f"“{text}” cannot be read as a length; write {_RIGHT}")


def _refused(code: str, detail: str) -> LengthRefused:
    return LengthRefused(code=code, detail=detail)
