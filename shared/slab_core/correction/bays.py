"""Strips between screed lines, as wide as a straightedge can ride, one set for every phase."""

from dataclasses import dataclass
from math import atan2, ceil, cos, sin

import numpy as np
import shapely

from slab_core.correction.unit_costs import SCREED_BAY_M
from slab_core.numerics.grid import Floats, Ints
from slab_core.rooms.model import Floor, Room


@dataclass(frozen=True, slots=True, kw_only=True)
class Bay:
    """One strip. `along` is its axis; `low_m`..`high_m` its reach across, on the floor's turned axes."""

    number: int
    phase: int
    low_m: float
    high_m: float
    last_of_phase: bool


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Bays:
    """All bays of a floor: across = x·cos + y·sin, along = -x·sin + y·cos; `of_node` indexes `bays`."""

    cos: float
    sin: float
    bays: tuple[Bay, ...]
    of_node: Ints

    def turned(self, *, x: Floats, y: Floats) -> tuple[Floats, Floats]:
        """(across, along) of points, in metres."""
        return x * self.cos + y * self.sin, y * self.cos - x * self.sin

    def back(self, *, across: float, along: float) -> tuple[float, float]:
        """The point at (across, along)."""
        return across * self.cos - along * self.sin, across * self.sin + along * self.cos


def screed_bays(*, floor: Floor, x: Floats, y: Floats, widest_m: float = SCREED_BAY_M) -> Bays:
    """Bays over nodes at (x, y): as few as the edge allows, run along the longer side of the floor."""
    turn = _direction(floor=floor, widest_m=widest_m)
    c, s = cos(turn), sin(turn)
    across = x * c + y * s
    phases = phase_of_points(rooms=floor.rooms, x=x, y=y)
    of_node = np.zeros(len(x), dtype=np.int32)
    bays: list[Bay] = []
    for phase in np.unique(phases):
        mine = phases == phase
        first = len(bays)
        of_node[mine] = first + _strips(across[mine], phase=int(phase), widest_m=widest_m, bays=bays)
    return Bays(cos=c, sin=s, bays=tuple(bays), of_node=of_node)


def phase_of_points(*, rooms: tuple[Room, ...], x: Floats, y: Floats) -> Ints:
    """The phase of the room that holds each point; points between rooms belong to the nearest."""
    phases = np.full(len(x), rooms[0].phase, dtype=np.int32)
    if len({room.phase for room in rooms}) == 1:
        return phases
    points = shapely.points(x, y)
    distance = np.stack([shapely.distance(shapely.Polygon(room.outline), points) for room in rooms])
    of_room = np.array([room.phase for room in rooms], dtype=np.int32)
    return np.asarray(of_room[np.argmin(distance, axis=0)], dtype=np.int32)


def _direction(*, floor: Floor, widest_m: float) -> float:
    box = shapely.Polygon(floor.shell).minimum_rotated_rectangle
    corners = np.asarray(box.exterior.coords)
    first, second = corners[1] - corners[0], corners[2] - corners[1]
    # Fewer bays first, then the longer run; the rounding keeps a mirrored room on the same choice.
    sides = sorted(
        (ceil(round(float(np.hypot(*side)) / widest_m, 6)), round(float(np.hypot(*side)), 6), i)
        for i, side in enumerate((first, second))
    )
    side = (first, second)[sides[0][2]]
    return atan2(side[1], side[0])


def _strips(across: Floats, *, phase: int, widest_m: float, bays: list[Bay]) -> Ints:
    low, high = float(across.min()), float(across.max())
    count = max(1, ceil(round((high - low) / widest_m, 6)))
    width = (high - low) / count
    first = len(bays)
    bays.extend(
        Bay(
            number=first + k + 1,
            phase=phase,
            low_m=low + k * width,
            high_m=low + (k + 1) * width,
            last_of_phase=k == count - 1,
        )
        for k in range(count)
    )
    place = (across - low) / width if width > 0 else np.zeros_like(across)
    return np.minimum(np.floor(place + 1e-9).astype(np.int32), count - 1)
