"""Whether whoever lays can always walk out over bare slab: no spread may close off floor still to be laid.

Boards in fresh adhesive are not walked on. Floor of an earlier phase is, since it is laid on other days.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from slab_core.layout.frame import Frame
from slab_core.layout.model import Spread
from slab_core.layout.rows import Stretch
from slab_core.rooms.model import Floor

_PASS_M = 0.3
"""Nobody walks through a strip of bare floor that is narrower (from memory)."""

_REACH_M = 0.3
"""So far from bare floor an opening still leads out of it: the gap at the wall, the reveal of a door."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ShutIn:
    """Floor that has no way out once the spread `after` is laid: rows and reach along them, metres."""

    after: int
    first_row: int
    last_row: int
    start_m: float
    end_m: float
    area_m2: float


def shut_in(
    *,
    floor: Floor,
    frame: Frame,
    stretches: tuple[Stretch, ...],
    phases: Sequence[int],
    spreads: tuple[Spread, ...],
) -> tuple[ShutIn, ...]:
    """Every such part when it first is one; `phases` are those of the stretches.

    Parts of the floor that no opening leads out of in the first place are left out: nobody said where their
    door is.
    """
    doors = _ways_out(floor=floor, frame=frame)
    if doors.is_empty:
        return ()
    boxes, phase_of = _boxes(stretches), np.asarray(phases)
    order = _orders(stretches, phases, spreads)
    shut = _without_way_out(boxes, doors)
    found: list[ShutIn] = []
    for spread in spreads:
        walked = (order > spread.order) | (phase_of < spread.phase)
        fresh = _without_way_out(boxes[walked], doors).difference(shut.buffer(_PASS_M))
        for part in _wide(fresh):
            own = (order > spread.order) & shapely.intersects(boxes, part)
            found.extend(_told(spread.order, part, [stretches[i] for i in np.flatnonzero(own)]))
        shut = shapely.union(shut, fresh)
    return tuple(found)


def _boxes(stretches: tuple[Stretch, ...]) -> np.ndarray:
    corners = np.array([(s.start_m, s.near_m, s.end_m, s.far_m) for s in stretches]).reshape(-1, 4)
    return np.asarray(shapely.box(*corners.T))


def _orders(stretches: tuple[Stretch, ...], phases: Sequence[int], spreads: tuple[Spread, ...]) -> np.ndarray:
    """Which spread each stretch belongs to, by its row and phase."""
    by_row = {
        (spread.phase, row): spread.order
        for spread in spreads
        for row in range(spread.first_row, spread.last_row + 1)
    }
    return np.array([by_row.get((phase, s.row), 0) for s, phase in zip(stretches, phases, strict=True)])


def _ways_out(*, floor: Floor, frame: Frame) -> shapely.Geometry:
    own = {room.id for room in floor.rooms}
    lines = [
        shapely.LineString((opening.start, opening.end))
        for room in floor.rooms
        for opening in room.openings
        if opening.to_room not in own
    ]
    return frame.into(shapely.union_all(lines)) if lines else shapely.Point()


def _without_way_out(boxes: np.ndarray, doors: shapely.Geometry) -> shapely.Geometry:
    """The parts of bare floor, with their narrow edges, from which nobody walks to a way out."""
    wide = shapely.union_all(boxes).buffer(-_PASS_M / 2, join_style="mitre")
    lost = [part for part in shapely.get_parts(wide) if part.distance(doors) > _PASS_M / 2 + _REACH_M]
    return shapely.union_all(lost).buffer(_PASS_M / 2, join_style="mitre")


def _wide(shape: shapely.Geometry) -> list[shapely.Geometry]:
    """The parts somebody could stand on."""
    return [part for part in shapely.get_parts(shape) if part.area > _PASS_M**2]


def _told(after: int, part: shapely.Geometry, own: list[Stretch]) -> Iterator[ShutIn]:
    if own:
        low, _, high, _ = (float(value) for value in part.bounds)
        yield ShutIn(
            after=after,
            first_row=own[0].row,
            last_row=own[-1].row,
            start_m=low,
            end_m=high,
            area_m2=float(part.area),
        )
