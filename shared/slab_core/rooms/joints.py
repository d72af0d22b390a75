"""Joints of the slab: inside their room, each a line of its own."""

import shapely

from slab_core.errors import Problem
from slab_core.rooms.edges import length_m
from slab_core.rooms.model import Joint, Point, Room
from slab_core.rooms.rings import point_problems
from slab_core.rooms.wording import length, place, refusal

BEYOND_OUTLINE_M = 0.05
"""A joint's end may be this far outside the outline: it is measured under the base, not to the wall."""

SHORTEST_M = 0.1
"""Below this a joint has no direction that could be told from a slip."""

SAME_M = 0.01


def joint_problems(*, room: Room, pointer: str) -> tuple[Problem, ...]:
    """Refusals for the joints of a room whose outline is sound."""
    problems: list[Problem] = []
    sound: list[Joint] = []
    ids: set[str] = set()
    for i, joint in enumerate(room.joints):
        at = f"{pointer}/joints/{i}"
        if joint.id in ids:
            detail = f"a second joint of room “{room.id}” is called “{joint.id}”; give each its own id"
            problems.append(refusal(code="joint-id-duplicate", detail=detail, pointer=f"{at}/id"))
        ids.add(joint.id)
        found = _place_problems(joint, room=room, pointer=at) or _repeated(joint, others=sound, pointer=at)
        if not found:
            sound.append(joint)
        problems.extend(found)
    return tuple(problems)


def _place_problems(joint: Joint, *, room: Room, pointer: str) -> tuple[Problem, ...]:
    name = f"joint “{joint.id}”"
    ends = (("start", joint.start), ("end", joint.end))
    lost = tuple(
        p
        for end, at in ends
        for p in point_problems(point=at, pointer=f"{pointer}/{end}", what=f"{end} of {name}")
    )
    if lost:
        return lost
    size = length_m((joint.start, joint.end))
    if size < SHORTEST_M:
        detail = (
            f"{name} is {length(size)} long, from {place(joint.start)} to {place(joint.end)}; give both of "
            f"its ends, at least {length(SHORTEST_M)} apart"
        )
        return (refusal(code="joint-without-length", detail=detail, pointer=pointer),)
    outline = shapely.Polygon(room.outline)
    outside = tuple(
        p
        for end, at in ends
        for p in _outside(at, outline=outline, room=room, name=f"{end} of {name}", pointer=f"{pointer}/{end}")
    )
    return outside or _leaving(joint, outline=outline, room=room, pointer=pointer)


def _outside(
    at: Point, *, outline: shapely.Polygon, room: Room, name: str, pointer: str
) -> tuple[Problem, ...]:
    off = float(outline.distance(shapely.Point(at)))
    if off <= BEYOND_OUTLINE_M:
        return ()
    detail = (
        f"the {name} at {place(at)} is {length(off)} outside room “{room.id}”; it must lie in the room or on "
        f"its outline within {length(BEYOND_OUTLINE_M)}"
    )
    return (refusal(code="joint-outside", detail=detail, pointer=pointer),)


def _leaving(joint: Joint, *, outline: shapely.Polygon, room: Room, pointer: str) -> tuple[Problem, ...]:
    line = shapely.LineString((joint.start, joint.end))
    out = line.difference(outline.buffer(BEYOND_OUTLINE_M))
    if out.is_empty:
        return ()
    x, y = out.representative_point().coords[0]
    detail = (
        f"joint “{joint.id}” leaves room “{room.id}” for {length(float(out.length))}, near {place((x, y))}; "
        "give one joint for each part inside the room"
    )
    return (refusal(code="joint-leaves-room", detail=detail, pointer=pointer),)


def _repeated(joint: Joint, *, others: list[Joint], pointer: str) -> tuple[Problem, ...]:
    for other in others:
        ways = ((other.start, other.end), (other.end, other.start))
        if any(max(length_m((joint.start, a)), length_m((joint.end, b))) < SAME_M for a, b in ways):
            detail = (
                f"joint “{joint.id}” lies where joint “{other.id}” does; give each joint of the slab once"
            )
            return (refusal(code="joint-repeated", detail=detail, pointer=pointer),)
    return ()
