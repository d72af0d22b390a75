"""What boards ask of the air and of a wood subfloor, as their maker states it."""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

from slab_core.units.conversions import celsius
from slab_core.units.lengths import METRES_PER_INCH as INCH_M

_SLACK = 1e-6
_MOST_POINTS = 20.0


@dataclass(frozen=True, slots=True, kw_only=True)
class SubfloorPoints:
    """How far boards of at least this face width, in metres, may be from a wood subfloor, in percentage
    points of moisture."""

    from_width_m: float
    points: float


@dataclass(frozen=True, slots=True, kw_only=True)
class WoodLimits:
    """Limits of one product of wood, each group with its source in words.

    The air, with relative humidity in percent, is that in which boards acclimate, are laid and live; they are
    acclimated when they are within `acclimated_points` of the moisture that it brings wood to. Of
    `subfloor_points` the widest that a board reaches counts. The starter's values: the wood flooring trade's
    guideline, as quoted in its journal of June 2017, and its rule on subfloors as its press quotes it (both
    read second-hand); how near is near is common practice, no single source.
    """

    least_air_temperature_c: float = celsius(60.0)
    most_air_temperature_c: float = celsius(80.0)
    least_air_humidity_percent: float = 30.0
    most_air_humidity_percent: float = 50.0
    air_source: str = "the wood flooring trade's guideline, read second-hand"
    acclimated_points: float = 2.0
    acclimated_source: str = "common practice, no single source"
    subfloor_points: tuple[SubfloorPoints, ...] = (
        SubfloorPoints(from_width_m=0.0, points=4.0),
        SubfloorPoints(from_width_m=3 * INCH_M, points=2.0),
    )
    subfloor_source: str = "the wood flooring trade's rule, read second-hand"

    def most_points_apart(self, *, width_m: float) -> float:
        """How far boards of this face width and a wood subfloor may differ in moisture."""
        return [one.points for one in self.subfloor_points if one.from_width_m <= width_m + _SLACK][-1]


USUAL_WOOD = WoodLimits()


def wood_limit_slips(limits: WoodLimits) -> Iterator[tuple[str, str]]:
    """What no air and no boards can keep: the field, or the row of one, and what is wrong with it."""
    for low, high in (
        ("least_air_temperature_c", "most_air_temperature_c"),
        ("least_air_humidity_percent", "most_air_humidity_percent"),
    ):
        least, most = getattr(limits, low), getattr(limits, high)
        if least > most:
            yield low, f"{least:g} is more than {high}, which is {most:g}: no air is both"
    if limits.most_air_humidity_percent > 100.0:
        told = f"{limits.most_air_humidity_percent:g}"
        yield "most_air_humidity_percent", f"a relative humidity is at most 100 %, and this is {told}"
    if not 0.0 < limits.acclimated_points <= _MOST_POINTS:
        yield "acclimated_points", _no_points(limits.acclimated_points)
    if not limits.subfloor_points or limits.subfloor_points[0].from_width_m > 0.0:
        yield "subfloor_points", "the first row is for boards from a width of 0, so that each has one"
    for row, one in enumerate(limits.subfloor_points):
        if not 0.0 < one.points <= _MOST_POINTS:
            yield f"subfloor_points/{row}/points", _no_points(one.points)
    for row, (one, other) in enumerate(pairwise(limits.subfloor_points), start=1):
        if other.from_width_m <= one.from_width_m:
            yield f"subfloor_points/{row}/from_width_m", "each row is for wider boards than the one before"


def _no_points(points: float) -> str:
    return f"percentage points of moisture are above 0 and at most {_MOST_POINTS:g}, and this is {points:g}"
