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
"""Runs of neighbouring rows that share so much are walked through from one to the other."""

_REACH_M = 0.3
"""So far from a run an opening still leads out of it: the gap at the wall, the reveal of a door."""


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
    order = _orders(stretches, phases, spreads)
    out = _lead_out(floor=floor, frame=frame, stretches=stretches)
    beside = _beside(stretches)
    known = _reached(out, beside, set(range(len(stretches))))
    found: list[ShutIn] = []
    told: set[int] = set()
    for spread in spreads:
        left = {i for i in known if order[i] > spread.order}
        walked = left | {i for i in known if phases[i] < spread.phase}
        lost = left - _reached(out, beside, walked) - told
        told |= lost
        found.extend(_parts(spread.order, lost, beside, stretches))
    return tuple(found)


def _orders(stretches: tuple[Stretch, ...], phases: Sequence[int], spreads: tuple[Spread, ...]) -> list[int]:
    """Which spread each stretch belongs to, by its row and phase."""
    by_row = {
        (spread.phase, row): spread.order
        for spread in spreads
        for row in range(spread.first_row, spread.last_row + 1)
    }
    return [by_row.get((phase, s.row), 0) for s, phase in zip(stretches, phases, strict=True)]


def _lead_out(*, floor: Floor, frame: Frame, stretches: tuple[Stretch, ...]) -> set[int]:
    own = {room.id for room in floor.rooms}
    doors = [
        frame.into(shapely.LineString((opening.start, opening.end)))
        for room in floor.rooms
        for opening in room.openings
        if opening.to_room not in own
    ]
    if not doors:
        return set()
    boxes = shapely.box(
        np.array([s.start_m for s in stretches]),
        np.array([s.near_m for s in stretches]),
        np.array([s.end_m for s in stretches]),
        np.array([s.far_m for s in stretches]),
    )
    away = np.min([shapely.distance(boxes, door) for door in doors], axis=0)
    return {int(i) for i in np.flatnonzero(away <= _REACH_M)}


def _beside(stretches: tuple[Stretch, ...]) -> list[list[int]]:
    """For each stretch those of the next row and the row before that one can walk on to."""
    rows: dict[int, list[int]] = {}
    for i, stretch in enumerate(stretches):
        rows.setdefault(stretch.row, []).append(i)
    return [
        [
            j
            for row in (s.row - 1, s.row + 1)
            for j in rows.get(row, ())
            if min(s.end_m, stretches[j].end_m) - max(s.start_m, stretches[j].start_m) >= _PASS_M
        ]
        for s in stretches
    ]


def _reached(starts: set[int], beside: list[list[int]], allowed: set[int]) -> set[int]:
    found = starts & allowed
    ahead = list(found)
    while ahead:
        fresh = [j for j in beside[ahead.pop()] if j in allowed and j not in found]
        found.update(fresh)
        ahead.extend(fresh)
    return found


def _parts(
    after: int, lost: set[int], beside: list[list[int]], stretches: tuple[Stretch, ...]
) -> Iterator[ShutIn]:
    while lost:
        part = _reached({min(lost)}, beside, lost)
        lost = lost - part
        own = [stretches[i] for i in sorted(part)]
        yield ShutIn(
            after=after,
            first_row=own[0].row,
            last_row=own[-1].row,
            start_m=min(s.start_m for s in own),
            end_m=max(s.end_m for s in own),
            area_m2=sum(s.area_m2 for s in own),
        )
