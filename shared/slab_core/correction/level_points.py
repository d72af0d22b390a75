"""Where a level plane has to run through, as heights on each floor."""

from collections.abc import Sequence

import numpy as np
import shapely

from slab_core.correction.family import LevelPoint
from slab_core.correction.thresholds import heights_at
from slab_core.errors import Problem
from slab_core.rooms.model import Floor
from slab_core.surface.model import Surface

BESIDE_M = 0.02
"""A place on an outline may be off it by what rounding of lengths makes."""


def off_every_floor(*, points: Sequence[LevelPoint], floors: Sequence[Floor]) -> tuple[Problem, ...]:
    """A refusal for each place that is on no floor."""
    return tuple(
        Problem(
            code="level-place-off-floor",
            detail=f"({point.at[0]:.3f} m, {point.at[1]:.3f} m) is on no floor of the job; "
            "give a place inside a room or in one of its openings",
            pointer=f"/options/level_through/{i}",
            severity="refusal",
        )
        for i, point in enumerate(points)
        if not any(_is_on(point=point, floor=floor) for floor in floors)
    )


def on_floor(*, points: Sequence[LevelPoint], floor: Floor) -> tuple[LevelPoint, ...]:
    """Those of the places that are on this floor."""
    return tuple(point for point in points if _is_on(point=point, floor=floor))


def level_height_mm(*, points: Sequence[LevelPoint], surface: Surface) -> float | None:
    """The highest of the heights at these places of one floor; None without any, which leaves it free."""
    if not points:
        return None
    x, y = np.array([point.at for point in points]).T
    slab_m = heights_at(surface=surface, x=x, y=y)
    return 1e3 * max(
        float(own) if point.height_m is None else point.height_m
        for point, own in zip(points, slab_m, strict=True)
    )


def _is_on(*, point: LevelPoint, floor: Floor) -> bool:
    shape = shapely.Polygon(floor.shell, floor.gaps)
    return bool(shapely.distance(shape, shapely.Point(point.at)) <= BESIDE_M)
