"""The turned frame in which rows run along the first axis, and the part of a floor that boards may cover."""

from dataclasses import dataclass
from math import atan2, cos, degrees, hypot, radians, sin

import numpy as np
import shapely

from slab_core.numerics.grid import Floats
from slab_core.rooms.geometry import floor_polygon
from slab_core.rooms.model import Floor, Point

_MITRE_LIMIT = 5.0
_SQUARE = 1e-12
"""Sines and cosines below this are those of a right angle."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Frame:
    """Turns by `direction_deg` (counter-clockwise from x) and shifts by `origin`, in floor coordinates."""

    direction_deg: float
    origin: Point

    def into(self, shape: shapely.Geometry) -> shapely.Geometry:
        """A shape of the floor in this frame: (along the rows, across them), metres."""
        return shapely.transform(
            shape, lambda xy: np.asarray((xy - self.origin) @ rotation(self.direction_deg))
        )

    def out_of(self, points: Floats) -> Floats:
        """Points (n, 2) of this frame in floor coordinates."""
        return np.asarray(points @ rotation(self.direction_deg).T + self.origin, dtype=np.float64)


def rotation(direction_deg: float) -> Floats:
    """Matrix whose columns are the unit vectors along and across rows of this direction."""
    c, s = cos(radians(direction_deg)), sin(radians(direction_deg))
    c, s = (0.0 if abs(c) < _SQUARE else c), (0.0 if abs(s) < _SQUARE else s)
    return np.array([[c, -s], [s, c]], dtype=np.float64)


def cover_shape(
    *, floor: Floor, gap_m: float, under_m: float = 0.0
) -> shapely.Polygon | shapely.MultiPolygon:
    """The floor less the expansion gap at walls and obstacles; it may fall apart or be empty. Where masonry
    is undercut boards reach `under_m` under a hearth's edge instead, and the gap is behind them."""
    shape = floor_polygon(floor)
    hearths = [
        shapely.Polygon(obstacle.outline)
        for room in floor.rooms
        for obstacle in room.obstacles
        if obstacle.kind == "hearth" and under_m > 0.0
    ]
    whole = shapely.union_all([shape, *hearths]) if hearths else shape
    inside = _grown(whole, -gap_m)
    return (
        inside.difference(shapely.union_all(hearths).difference(_grown(shape, under_m)))
        if hearths
        else inside
    )


def _grown(shape: shapely.Geometry, by_m: float) -> shapely.Geometry:
    return shape.buffer(by_m, join_style="mitre", mitre_limit=_MITRE_LIMIT) if by_m else shape


def placed_frame(
    *, shape: shapely.Geometry, direction_deg: float
) -> tuple[Frame, shapely.Polygon | shapely.MultiPolygon]:
    """The frame whose origin is the low corner of the shape's box, and the shape in it."""
    turned = Frame(direction_deg=direction_deg, origin=(0.0, 0.0)).into(shape)
    corner = np.array([turned.bounds[:2]]) @ rotation(direction_deg).T
    frame = Frame(direction_deg=direction_deg, origin=(float(corner[0, 0]), float(corner[0, 1])))
    return frame, shapely.transform(turned, lambda xy: xy - np.array(turned.bounds[:2]))


def longest_wall_deg(*, floor: Floor) -> float:
    """Direction of the longest straight stretch of the shell, in [0, 180)."""
    ends = zip(floor.shell, (*floor.shell[1:], floor.shell[0]), strict=True)
    dx, dy = max(
        ((b[0] - a[0], b[1] - a[1]) for a, b in ends), key=lambda d: round(hypot(*d), 6)
    )  # equal walls: the first
    angle = round(degrees(atan2(dy, dx)) % 180.0, 9)
    return angle % 180.0
