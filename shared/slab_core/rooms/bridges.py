"""The piece of floor inside a doorway, between the faces of the wall."""

from math import hypot

import shapely

from slab_core.rooms.edges import length_m
from slab_core.rooms.enclosed import enclosed, nearest_on
from slab_core.rooms.model import Opening, Point, Room
from slab_core.rooms.openings import ON_OUTLINE_M, THICKEST_WALL_M

_INTO_ROOM_M = ON_OUTLINE_M + 0.005
"""How far a bridge reaches into both rooms, so that it meets them in spite of how they were measured."""


def bridge(*, opening: Opening, room: Room, other: Room) -> shapely.Polygon:
    """The opening's quadrilateral between two rooms, reaching a little into both.

    It runs from the opening to the other room's matching opening, or where there is none to the
    opening's own ends carried straight to the other outline.
    """
    near = _on_outline(room, (opening.start, opening.end))
    match = matching(opening=opening, room=room, other=other)
    far = _on_outline(other, (match.start, match.end) if match else _carried(near, other=other))
    middle_near, middle_far = _middle(near), _middle(far)
    # Ends are pushed along the passage, never sideways: the doorway keeps its width.
    ahead = _direction(middle_near, middle_far, opening=near, room=room)
    corners = [_moved(at, ahead, -_INTO_ROOM_M) for at in near] + [
        _moved(at, ahead, _INTO_ROOM_M) for at in far
    ]
    return shapely.MultiPoint(corners).convex_hull


def matching(*, opening: Opening, room: Room, other: Room) -> Opening | None:
    """The other room's opening that is the same doorway seen from its side."""
    middle = _middle((opening.start, opening.end))
    back = [o for o in other.openings if o.to_room == room.id]
    near = [(_apart(middle, _middle((o.start, o.end))), o.id, o) for o in back]
    reach = THICKEST_WALL_M + ON_OUTLINE_M + length_m((opening.start, opening.end)) / 2
    return min(near)[2] if near and min(near)[0] <= reach else None


def _on_outline(room: Room, ends: tuple[Point, Point]) -> tuple[Point, Point]:
    walls = enclosed(room).boundary
    return nearest_on(walls, ends[0]), nearest_on(walls, ends[1])


def _carried(near: tuple[Point, Point], *, other: Room) -> tuple[Point, Point]:
    """The opening's ends moved square to it onto the other room's nearest face."""
    middle = _middle(near)
    foot = nearest_on(enclosed(other).boundary, middle)
    (x0, y0), (x1, y1) = near
    size = length_m(near)
    nx, ny = -(y1 - y0) / size, (x1 - x0) / size
    step = (foot[0] - middle[0]) * nx + (foot[1] - middle[1]) * ny
    return (x0 + step * nx, y0 + step * ny), (x1 + step * nx, y1 + step * ny)


def _direction(near: Point, far: Point, *, opening: tuple[Point, Point], room: Room) -> Point:
    """Unit vector square to the opening, out of the room."""
    (x0, y0), (x1, y1) = opening
    size = length_m(opening)
    nx, ny = -(y1 - y0) / size, (x1 - x0) / size
    # The room itself tells which side is out: the other room may begin on this wall or overlap it a little.
    ahead, back = (shapely.Point(_moved(near, (nx, ny), by)) for by in (_INTO_ROOM_M, -_INTO_ROOM_M))
    inside = enclosed(room)
    outward = float(inside.distance(ahead) - inside.distance(back))
    outward = outward or (far[0] - near[0]) * nx + (far[1] - near[1]) * ny
    return (nx, ny) if outward > 0 else (-nx, -ny)


def _middle(ends: tuple[Point, Point]) -> Point:
    return (ends[0][0] + ends[1][0]) / 2, (ends[0][1] + ends[1][1]) / 2


def _apart(one: Point, other: Point) -> float:
    return hypot(one[0] - other[0], one[1] - other[1])


def _moved(at: Point, direction: Point, by: float) -> Point:
    return at[0] + by * direction[0], at[1] + by * direction[1]
