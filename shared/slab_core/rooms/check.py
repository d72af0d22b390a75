"""Everything about rooms that cannot be computed with, each with its place and what would be right."""

import numpy as np
import shapely

from slab_core.errors import Problem
from slab_core.rooms.contents import content_problems, keep_out_problems
from slab_core.rooms.enclosed import enclosed
from slab_core.rooms.joints import joint_problems
from slab_core.rooms.model import Room
from slab_core.rooms.openings import opening_problems, target_problems
from slab_core.rooms.rings import ring_problems
from slab_core.rooms.wording import length, refusal

LARGEST_M = 500.0
SMALLEST_M = 0.3

OVERLAP_M = 0.02
"""Rooms measured one by one may overlap by this much along a wall."""

_RESERVED = ("job",)


def check_rooms(*, rooms: tuple[Room, ...]) -> tuple[Problem, ...]:
    """All refusals of a job's rooms; empty if `build_rooms` can take them.

    Pointers lead into the posted job (RFC 6901), where vertices count from 0; texts count them from 1.
    """
    if not rooms:
        detail = "the job has no rooms; give at least one with its outline"
        return (refusal(code="no-rooms", detail=detail, pointer="/rooms"),)
    problems = list(_id_problems(rooms))
    sound: dict[str, shapely.Geometry] = {}
    for i, room in enumerate(rooms):
        found = _outline_problems(room, pointer=f"/rooms/{i}")
        if not found:
            found = content_problems(room=room, pointer=f"/rooms/{i}")
            # Unsound holes must not hide where else the room overlaps.
            sound.setdefault(room.id, shapely.Polygon(room.outline) if found else enclosed(room))
            found += _other_problems(room, pointer=f"/rooms/{i}")
        problems.extend(found)
    problems.extend(_overlaps(rooms, sound=sound))
    problems.extend(target_problems(rooms=rooms, sound=sound))
    return tuple(problems)


def _id_problems(rooms: tuple[Room, ...]) -> list[Problem]:
    problems = []
    first: dict[str, int] = {}
    for i, room in enumerate(rooms):
        pointer = f"/rooms/{i}/id"
        if not room.id or room.id in _RESERVED:
            detail = f"“{room.id}” cannot be a room's id; give it a name of its own"
            problems.append(refusal(code="room-id-reserved", detail=detail, pointer=pointer))
        elif room.id in first:
            detail = (
                f"rooms {first[room.id] + 1} and {i + 1} are both called “{room.id}”; give each its own id"
            )
            problems.append(refusal(code="room-id-duplicate", detail=detail, pointer=pointer))
        first.setdefault(room.id, i)
    return problems


def _outline_problems(room: Room, *, pointer: str) -> tuple[Problem, ...]:
    at = f"{pointer}/outline"
    found = ring_problems(ring=room.outline, pointer=at, what=f"the outline of room “{room.id}”")
    return found or _size_problems(room, pointer=at)


def _other_problems(room: Room, *, pointer: str) -> tuple[Problem, ...]:
    found = (
        *opening_problems(room=room, pointer=pointer),
        *joint_problems(room=room, pointer=pointer),
        *keep_out_problems(room=room, pointer=pointer),
    )
    if room.phase >= 1:
        return found
    detail = f"room “{room.id}” is in phase {room.phase}; phases count from 1"
    return (*found, refusal(code="phase-below-one", detail=detail, pointer=f"{pointer}/phase"))


def _size_problems(room: Room, *, pointer: str) -> tuple[Problem, ...]:
    xs, ys = zip(*room.outline, strict=True)
    wide, deep = max(xs) - min(xs), max(ys) - min(ys)
    if max(wide, deep) <= LARGEST_M and min(wide, deep) >= SMALLEST_M:
        return ()
    detail = (
        f"room “{room.id}” measures {wide:.3f} m by {deep:.3f} m; a room is between {length(SMALLEST_M)} and "
        f"{LARGEST_M:g} m each way: check the unit"
    )
    return (refusal(code="room-size-absurd", detail=detail, pointer=pointer),)


def _overlaps(rooms: tuple[Room, ...], *, sound: dict[str, shapely.Geometry]) -> list[Problem]:
    places = {room.id: i for i, room in reversed(list(enumerate(rooms)))}
    ids = [room for room in places if room in sound]
    ids.sort(key=lambda room: places[room])
    shapes = np.array([sound[room] for room in ids], dtype=object)
    pairs = shapely.STRtree(shapes).query(shapes, predicate="intersects").T.tolist()
    found = []
    for a, b in sorted((a, b) for a, b in pairs if a < b):
        shared = sound[ids[a]].intersection(sound[ids[b]])
        if not shared.buffer(-OVERLAP_M / 2).is_empty:
            found.append(
                _overlap(
                    ids[a], ids[b], shared_m2=float(shared.area), pointer=f"/rooms/{places[ids[b]]}/outline"
                )
            )
    return found


def _overlap(one: str, other: str, *, shared_m2: float, pointer: str) -> Problem:
    detail = (
        f"room “{other}” overlaps room “{one}” by {shared_m2:.3f} m²; rooms lie side by side in one plan "
        "(move a room of another storey to a free place)"
    )
    return refusal(code="rooms-overlapping", detail=detail, pointer=pointer)
