"""A floor asked to be level: whether it is, by what its readings leave unsure, and what to say if not."""

from dataclasses import dataclass
from math import sqrt

import numpy as np

from slab_core.errors import Problem
from slab_core.numerics.grid import ERROR_STEP_M, to_metres
from slab_core.rooms.distances import said_place
from slab_core.rooms.model import Floor, Point
from slab_core.surface.findings import FAR_M
from slab_core.surface.model import Surface
from slab_core.tolerance.level import Level
from slab_core.tolerance.model import ToleranceSpec, Verdict
from slab_core.tolerance.proof import SURE_SD, Unread, least_read, reading_sds_m
from slab_core.tolerance.said import nearest
from slab_core.units.display import in_both

_EACH_SD = SURE_SD / sqrt(2.0)
"""A fall is the difference of two heights, as if their errors had nothing in common: of each so many standard
deviations make twice that of the fall."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Fall:
    """Between what the fall over the floor lies, and the places that it may be largest between."""

    least_m: float
    most_m: float
    highest: Point
    lowest: Point


def is_level(level: Level, *, spec: ToleranceSpec) -> bool:
    """Whether the fitted surface falls no more than was asked for."""
    return spec.level_m is None or level.fall_m <= spec.level_m


def level_answer(
    *, level: Level, spec: ToleranceSpec, floor: Floor, surface: Surface
) -> tuple[Verdict | None, tuple[Problem, ...]]:
    """The answer to the level asked for, None where none was, and what must be said beside it."""
    if spec.level_m is None or not surface.inside.any():
        return None, ()
    fall, place = _fall(surface), _unread(floor=floor, surface=surface)
    problems = () if is_level(level, spec=spec) else (_not_met(level, level_m=spec.level_m),)
    if fall.least_m > spec.level_m:
        return "fail", problems
    if fall.most_m <= spec.level_m and place is None:
        return "pass", problems
    doubt = _doubt(fall, floor=floor) if fall.most_m > spec.level_m else ""
    where = _said_unread(place, floor=floor) if place is not None else ""
    detail = (
        f"the floor's heights differ by {in_both(level.fall_m)} as fitted, where {in_both(spec.level_m)} is "
        f"asked for: {'; '.join(why for why in (doubt, where) if why)} before it is said to be level or not"
    )
    return "measure-more", (*problems, Problem(code="level-not-proven", detail=detail, pointer="/surveys"))


def _fall(surface: Surface) -> _Fall:
    grid, inside = surface.grid, surface.inside.ravel()
    places, height = grid.places()[inside], to_metres(surface.height).ravel()[inside]
    error = to_metres(surface.error, step_m=ERROR_STEP_M).ravel()[inside]
    if error.any():
        error = np.maximum(error, float(np.median(reading_sds_m(surface))))
    above, below = height + _EACH_SD * error, height - _EACH_SD * error
    high, low = (places[at] for at in (int(above.argmax()), int(below.argmin())))
    return _Fall(
        least_m=max(0.0, float(below.max() - above.min())),
        most_m=float(above.max() - below.min()),
        highest=(float(high[0]), float(high[1])),
        lowest=(float(low[0]), float(low[1])),
    )


def _unread(*, floor: Floor, surface: Surface) -> Unread | None:
    """A place so far from every reading that its height counts as not measured."""
    if not surface.error.any():
        return None
    counts = np.ones(len(surface.spline.obs_value_m), dtype=np.bool_)
    places = least_read(floor=floor, surface=surface, counts=counts)
    return next((place for place in places if place.away_m > FAR_M), None)


def _doubt(fall: _Fall, *, floor: Floor) -> str:
    return (
        f"by what the readings leave unsure it is {in_both(fall.least_m)} to {in_both(fall.most_m)}; measure "
        f"more closely or with a finer instrument {said_place(floor=floor, at=fall.highest)}, where it may "
        f"be highest, and {said_place(floor=floor, at=fall.lowest)}, where it may be lowest,"
    )


def _said_unread(place: Unread, *, floor: Floor) -> str:
    return f"{said_place(floor=floor, at=place.at)} {nearest('reading', away_m=place.away_m)}: measure there"


def _not_met(level: Level, *, level_m: float) -> Problem:
    """The plan makes it flat."""
    detail = (
        f"the floor's heights differ by {in_both(level.fall_m)}, where {in_both(level_m)} is asked for; the "
        "plan makes the floor flat and leaves its slope: level is a choice with a price of its own"
    )
    return Problem(code="level-not-met", detail=detail, pointer="/tolerance")
