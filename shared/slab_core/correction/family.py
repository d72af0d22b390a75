"""Which planes an alternate allows, of all that a crew could grind and fill a floor to."""

from dataclasses import dataclass
from typing import Final

import numpy as np

from slab_core.numerics.grid import Floats
from slab_core.rooms.model import Point
from slab_core.stages import FILL_ONLY, GRIND_ONLY, LEVEL, PLANE

Row = tuple[Floats, float, float]
"""Coefficients of a plane's (a, b, c); the least and the greatest that they may add up to, in mm."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LevelPoint:
    """A place that the level plane runs through: at `height_m` above the datum, else at the slab's own
    height there. Of several on one floor the highest counts."""

    at: Point
    height_m: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Family:
    """The planes of one alternate. `plane` is what one of them is called; where the family does not fill,
    low places no deeper than the skin are left, and everything else is ground."""

    alternate: str
    plane: str = "plane"
    level: bool = False
    fills: bool = True
    grinds: bool = True

    def snapped(self, abc_mm: Floats) -> Floats:
        """The plane without what a solver's rounding has added to slopes that are none."""
        return np.array([abc_mm[0], 0.0, 0.0]) if self.level else abc_mm

    def rows(self, *, level_mm: float | None) -> tuple[Row, ...]:
        """What every plane of the family meets; `level_mm` is the height that a level one has to have."""
        up, tilt_x, tilt_y = np.eye(3)
        slopes = ((tilt_x, 0.0, 0.0), (tilt_y, 0.0, 0.0)) if self.level else ()
        return (*slopes, *(() if level_mm is None else ((up, level_mm, level_mm),)))


ANY_PLANE: Final = Family(alternate=PLANE)

FAMILIES: Final[dict[str, Family]] = {
    family.alternate: family
    for family in (
        ANY_PLANE,
        Family(alternate=LEVEL, plane="level plane", level=True),
        Family(alternate=GRIND_ONLY, fills=False),
        Family(alternate=FILL_ONLY, grinds=False),
    )
}
"""By the alternate's name."""
