"""Openings: on their room's outline, into a room that exists and is near enough."""

from math import isfinite

import shapely

from slab_core.errors import Problem
from slab_core.rooms.edges import distance_to_edge, edge_name, length_m
from slab_core.rooms.enclosed import border, nearest_on
from slab_core.rooms.model import Opening, Point, Room, Threshold
from slab_core.rooms.rings import point_problems, ring_problems
from slab_core.rooms.wording import length, place, refusal

ON_OUTLINE_M = 0.05
"""An opening's end may be this far off the outline: it is measured to the frame, not to the wall."""

SHORTEST_M = 0.05
"""Below this an opening has no length that could be told from a slip."""

THICKEST_WALL_M = 0.5
"""Two rooms joined by an opening may have a wall of up to this between them."""

_HIGHEST_M = 10_000.0


def opening_problems(*, room: Room, pointer: str) -> tuple[Problem, ...]:
    """Refusals for the openings of a room whose outline is sound."""
    problems: list[Problem] = []
    seen: set[str] = set()
    for i, opening in enumerate(room.openings):
        at = f"{pointer}/openings/{i}"
        if opening.id in seen:
            detail = f"a second opening of room “{room.id}” is called “{opening.id}”; give each its own id"
            problems.append(refusal(code="opening-id-duplicate", detail=detail, pointer=f"{at}/id"))
        seen.add(opening.id)
        problems.extend(_place_problems(opening, room=room, pointer=at))
        name = f"opening “{opening.id}”"
        problems.extend(threshold_problems(opening.threshold, name=name, pointer=f"{at}/threshold"))
    return tuple(problems)


def target_problems(*, rooms: tuple[Room, ...], sound: dict[str, shapely.Geometry]) -> tuple[Problem, ...]:
    """Refusals for openings that lead to no room, to their own, or to one too far away.

    `sound` has the outlines of the rooms whose shape may be used, by id.
    """
    return tuple(
        problem
        for i, room in enumerate(rooms)
        for k, opening in enumerate(room.openings)
        if opening.to_room is not None
        for problem in _target(
            opening,
            room=room,
            ids={r.id for r in rooms},
            sound=sound,
            pointer=f"/rooms/{i}/openings/{k}/to_room",
        )
    )


def _place_problems(opening: Opening, *, room: Room, pointer: str) -> tuple[Problem, ...]:
    name = f"opening “{opening.id}”"
    ends = (("start", opening.start), ("end", opening.end))
    lost = tuple(
        p
        for end, at in ends
        for p in point_problems(point=at, pointer=f"{pointer}/{end}", what=f"{end} of {name}")
    )
    if lost:
        return lost
    size = length_m((opening.start, opening.end))
    if size < SHORTEST_M:
        detail = f"{name} is {length(size)} long; give both ends of its clear width"
        return (refusal(code="opening-without-length", detail=detail, pointer=pointer),)
    off = tuple(
        p
        for end, at in ends
        for p in _off_outline(at, room=room, name=f"{end} of {name}", pointer=f"{pointer}/{end}")
    )
    (x0, y0), (x1, y1) = opening.start, opening.end
    middle = ((x0 + x1) / 2, (y0 + y1) / 2)
    return off or _off_outline(middle, room=room, name=f"the middle of {name}", pointer=pointer)


def _off_outline(at: Point, *, room: Room, name: str, pointer: str) -> tuple[Problem, ...]:
    borders = [(ring, i, edge) for ring, sides in border(room) for i, edge in enumerate(sides)]
    off, k = min((distance_to_edge(at, edge=edge), k) for k, (_, _, edge) in enumerate(borders))
    if off <= ON_OUTLINE_M:
        return ()
    ring, nearest, _ = borders[k]
    count = sum(1 for other, _, _ in borders if other == ring)
    detail = (
        f"{name} at {place(at)} is {length(off)} off the outline of room “{room.id}” (nearest: edge "
        f"{edge_name(nearest, count=count)} of the {ring}); it must lie on it within {length(ON_OUTLINE_M)}"
        f"{_obstacle_there(at, room=room)}"
    )
    return (refusal(code="opening-off-outline", detail=detail, pointer=pointer),)


def _obstacle_there(at: Point, *, room: Room) -> str:
    """What to do where somebody gives an obstacle's side as an opening."""
    for obstacle in room.obstacles:
        if ring_problems(ring=obstacle.outline, pointer="", what=""):
            continue  # it is refused at its own place
        if shapely.LinearRing(obstacle.outline).distance(shapely.Point(at)) <= ON_OUTLINE_M:
            return f"; the sides of obstacle “{obstacle.id}” take a height by a threshold of its own"
    return ""


def threshold_problems(threshold: Threshold | None, *, name: str, pointer: str) -> tuple[Problem, ...]:
    """Refusals for a range that is none; `name` says what it belongs to."""
    if threshold is None:
        return ()
    for field, value in (("low", threshold.low_m), ("high", threshold.high_m)):
        if not isfinite(value) or abs(value) > _HIGHEST_M:
            detail = f"the threshold of {name} has {field} = {value}; give a height in the job's datum"
            return (refusal(code="threshold-not-a-height", detail=detail, pointer=f"{pointer}/{field}"),)
    if threshold.low_m <= threshold.high_m:
        return ()
    detail = (
        f"the threshold of {name} starts at {length(threshold.low_m)} and ends lower, at "
        f"{length(threshold.high_m)}; swap the two"
    )
    return (refusal(code="threshold-reversed", detail=detail, pointer=pointer),)


def _target(
    opening: Opening, *, room: Room, ids: set[str], sound: dict[str, shapely.Geometry], pointer: str
) -> tuple[Problem, ...]:
    to_room = opening.to_room or ""
    if to_room not in ids:
        detail = (
            f"opening “{opening.id}” leads to room “{to_room}”, which the job does not have; name one of its "
            "rooms, or none for a way out of the job"
        )
        return (refusal(code="opening-to-unknown-room", detail=detail, pointer=pointer),)
    if to_room == room.id:
        detail = f"opening “{opening.id}” leads from room “{room.id}” to itself; name the room beyond"
        return (refusal(code="opening-to-itself", detail=detail, pointer=pointer),)
    if room.id not in sound or to_room not in sound:
        return ()
    # An end that is nowhere has been refused at its own place, and has no distance.
    if any(point_problems(point=at, pointer=pointer, what="end") for at in (opening.start, opening.end)):
        return ()
    line = shapely.LineString((opening.start, opening.end))
    away = float(shapely.hausdorff_distance(line, shapely.LineString(_feet(line, sound[to_room]))))
    if away <= THICKEST_WALL_M + ON_OUTLINE_M:
        return ()
    detail = (
        f"opening “{opening.id}” is {length(away)} away from room “{to_room}”; a wall between joined rooms "
        f"may be {length(THICKEST_WALL_M)} thick: check where the two rooms lie"
    )
    return (refusal(code="joined-rooms-apart", detail=detail, pointer=pointer),)


def _feet(line: shapely.LineString, other: shapely.Geometry) -> list[Point]:
    return [nearest_on(other.boundary, at) for at in line.coords]
