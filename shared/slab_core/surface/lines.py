"""Straight lines across a floor, and the stretches of them that lie on it."""

from dataclasses import dataclass
from math import atan2, cos, hypot, sin

import numpy as np

from slab_core.rooms.model import Floor, Point, Ring
from slab_core.surface.joints import COLUMNS, ENDLESS_M
from slab_core.surface.model import SplineJoint


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """Places p with p · normal = `offset_m`; the normal is a quarter turn left of the direction `angle`."""

    angle: float
    offset_m: float

    @property
    def along(self) -> Point:
        """Unit vector along the line."""
        return cos(self.angle), sin(self.angle)

    @property
    def normal(self) -> Point:
        """Unit vector to its left."""
        return -sin(self.angle), cos(self.angle)

    def beside(self, by_m: float) -> "Line":
        """The parallel so far to its left."""
        return Line(angle=self.angle, offset_m=self.offset_m + by_m)

    def turned(self, by: float, *, about: Point) -> "Line":
        """Turned about its own place nearest to `about`."""
        (x, y), (nx, ny) = about, self.normal
        off = self.offset_m - (x * nx + y * ny)
        mx, my = Line(angle=self.angle + by, offset_m=0.0).normal
        return Line(angle=self.angle + by, offset_m=(x + off * nx) * mx + (y + off * ny) * my)


def line_of(joint: SplineJoint) -> Line:
    """The line that a joint lies on."""
    (x0, y0), (x1, y1) = joint.start, joint.end
    angle = atan2(y1 - y0, x1 - x0)
    return Line(angle=angle, offset_m=y0 * cos(angle) - x0 * sin(angle))


def length_m(joint: SplineJoint) -> float:
    """From its start to its end."""
    return hypot(joint.end[0] - joint.start[0], joint.end[1] - joint.start[1])


def first_direction(floor: Floor) -> float:
    """Direction of the longest side of the shell: joints mostly run along walls or across them."""
    sides = np.diff(np.array([*floor.shell, floor.shell[0]]), axis=0)
    x, y = sides[np.hypot(*sides.T).argmax()]
    return float(np.arctan2(y, x))


def stretches(line: Line, *, rings: tuple[Ring, ...], least_m: float) -> list[SplineJoint]:
    """The parts of a line that lie on the floor within `rings`, as joints of no name that run on unseen."""
    cuts = sorted(cut for ring in rings for cut in _cuts(line, ring))
    found = []
    for i in range(0, len(cuts) - 1, 2):
        low, high = cuts[i : i + 2]
        if high - low >= least_m:
            found.append(
                SplineJoint(
                    room="",
                    id="",
                    start=_place(line, low),
                    end=_place(line, high),
                    beyond_start_m=low - cuts[i - 1] if i else ENDLESS_M,
                    beyond_end_m=cuts[i + 2] - high if i + 2 < len(cuts) else ENDLESS_M,
                    coefficient=(0.0,) * COLUMNS,
                )
            )
    return found


def _cuts(line: Line, ring: Ring) -> list[float]:
    """How far along the line it crosses a ring's sides."""
    (ax, ay), (nx, ny) = line.along, line.normal
    off = [x * nx + y * ny - line.offset_m for x, y in ring]
    along = [x * ax + y * ay for x, y in ring]
    return [
        along[i - 1] + off[i - 1] / (off[i - 1] - off[i]) * (along[i] - along[i - 1])
        for i in range(len(ring))
        if (off[i - 1] > 0.0) != (off[i] > 0.0)
    ]


def _place(line: Line, along_m: float) -> Point:
    (ax, ay), (nx, ny) = line.along, line.normal
    return line.offset_m * nx + along_m * ax, line.offset_m * ny + along_m * ay
