"""Ranges of height, as a threshold has them."""

import re
from collections.abc import Sequence

from slab_core.units.lengths import LengthRefused, LengthUnit
from slab_core.units.parse import parse_length
from slab_core.units.writing import plain

_BETWEEN = re.compile(r"^(?P<low>.+?)(?: to |\.\.\.?)(?P<high>.+)$")
_AROUND = re.compile(r"^(?P<middle>.+?) ?(?:±|\+/-|\+-) ?(?P<spread>.+)$")
_RIGHT = '"1/2 in to 3/4 in", "12 mm ± 1 mm" or a pair of lengths'


def parse_height_range(
    value: str | Sequence[str | int | float], *, unit: LengthUnit | None = None
) -> tuple[float, float]:
    """Read a range as (low, high) in metres: "1/2 to 3/4 in", "12 ± 1 mm", or two lengths.

    In a text the unit may stand at the end only.

    Raises
    ------
    LengthRefused
        not-a-range, range-reversed, or why one of its lengths could not be read.
    """
    low, high = _ends(value, unit=unit)
    if low > high:
        raise LengthRefused(
            code="range-reversed", detail=f"{value!r} starts above its end; write the lower height first"
        )
    return low, high


def _ends(value: str | Sequence[str | int | float], *, unit: LengthUnit | None) -> tuple[float, float]:
    if not isinstance(value, str):
        if not isinstance(value, Sequence) or len(value) != 2:
            raise LengthRefused(code="not-a-range", detail=f"{value!r} is not a range; write {_RIGHT}")
        return parse_length(value[0], unit=unit), parse_length(value[1], unit=unit)
    text = plain(value)
    if between := _BETWEEN.match(text):
        return _pair(between["low"], between["high"], unit=unit)
    if around := _AROUND.match(text):
        middle, spread = _pair(around["middle"], around["spread"], unit=unit)
        return middle - spread, middle + spread
    raise LengthRefused(code="not-a-range", detail=f"{value!r} is not a range; write {_RIGHT}")


def _pair(first: str, second: str, *, unit: LengthUnit | None) -> tuple[float, float]:
    last = parse_length(second, unit=unit)
    try:
        return parse_length(first, unit=unit), last
    except LengthRefused as refused:
        name = re.search(r"([A-Za-z]+|['\"])\.?$", second)
        if refused.code != "unit-missing" or name is None:
            raise
        return parse_length(first + name[1]), last
