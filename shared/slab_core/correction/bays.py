"""Strips between screed lines, as wide as a straightedge can ride, one set for every phase."""

from dataclasses import dataclass
from math import atan2, ceil, cos, sin

import numpy as np
import shapely

from slab_core.correction.strips import Turn, grounds, strip_parts
from slab_core.correction.unit_costs import SCREED_BAY_M
from slab_core.numerics.grid import Floats, Ints
from slab_core.rooms.model import Floor, Room

LEAST_WIDTH_M = 1e-3


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Bay:
    """What is poured at once: a strip, or the part of one that walls keep apart. `low_m`..`high_m` is its
    strip's reach across, on the floor's turned axes; `shape` its outer ring. `stations_m` are where its
    surface bends along it; None where it is straight."""

    number: int
    phase: int
    low_m: float
    high_m: float
    shape: shapely.Polygon
    stations_m: Floats | None = None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Bays:
    """All bays of a floor, on axes turned to them; `of_node` indexes `bays`. `grounds` is what each phase has
    of the floor."""

    turn: Turn
    grounds: dict[int, shapely.Geometry]
    bays: tuple[Bay, ...]
    of_node: Ints

    def turned(self, *, x: Floats, y: Floats) -> tuple[Floats, Floats]:
        """(across, along) of points, in metres."""
        return self.turn.turned(x=x, y=y)


def screed_bays(*, floor: Floor, x: Floats, y: Floats, step_m: float, widest_m: float = SCREED_BAY_M) -> Bays:
    """Bays over nodes at (x, y), `step_m` apart: as few as the edge and the walls allow, run along the longer
    side of the floor."""
    angle = _direction(floor=floor, widest_m=widest_m)
    turn = Turn(cos=cos(angle), sin=sin(angle))
    across, _ = turn.turned(x=x, y=y)
    phases = phase_of_points(rooms=floor.rooms, x=x, y=y)
    ground = grounds(floor)
    of_node = np.zeros(len(x), dtype=np.int32)
    bays: list[Bay] = []
    for phase in np.unique(phases).tolist():
        mine = phases == phase
        made, of_mine = bays_in_strips(
            turn=turn, ground=ground[phase], bounds_m=strip_bounds(across[mine], widest_m=widest_m),
            step_m=step_m, phase=phase, first=len(bays), x=x[mine], y=y[mine],
        )  # fmt: skip
        of_node[mine] = len(bays) + of_mine
        bays += made
    return Bays(turn=turn, grounds=ground, bays=tuple(bays), of_node=of_node)


def bays_in_strips(
    *,
    turn: Turn,
    ground: shapely.Geometry,
    bounds_m: Floats,
    stations_m: Floats | None = None,
    step_m: float,
    phase: int,
    first: int,
    x: Floats,
    y: Floats,
) -> tuple[list[Bay], Ints]:
    """The bays of one phase's nodes in strips between these bounds, numbered on after `first`, and for each
    node the place of its bay among them."""
    parts, of_node = strip_parts(ground=ground, turn=turn, bounds_m=bounds_m, beyond_m=step_m, x=x, y=y)
    bays = [
        Bay(
            number=first + k + 1,
            phase=phase,
            low_m=part.low_m,
            high_m=part.high_m,
            shape=part.shape,
            stations_m=stations_m,
        )
        for k, part in enumerate(parts)
    ]
    return bays, of_node


def strip_bounds(across: Floats, *, widest_m: float) -> Floats:
    """Bounds of as few equal strips over these places as the edge allows."""
    low, high = float(across.min()), float(across.max())
    high = max(high, low + LEAST_WIDTH_M)
    return np.linspace(low, high, max(1, ceil(round((high - low) / widest_m, 6))) + 1)


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
