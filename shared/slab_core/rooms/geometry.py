"""Shapes of rooms and floors, and where their walls run."""

import shapely

from slab_core.rooms.contents import SLACK_M
from slab_core.rooms.edges import Edge, edge_name, edges, length_m, taken
from slab_core.rooms.enclosed import border, enclosed
from slab_core.rooms.model import Floor, Point, Room
from slab_core.rooms.openings import ON_OUTLINE_M

Wall = tuple[str, str, Point, Point]
"""Room id, the numbers of the vertices it runs between (1 is the first, as "2-3"), start and end."""


def room_polygon(room: Room) -> shapely.Polygon | shapely.MultiPolygon:
    """What is floor of one room: its outline less its holes and obstacles."""
    standing = [shapely.Polygon(obstacle.outline) for obstacle in room.obstacles]
    return enclosed(room).difference(shapely.union_all(standing)) if standing else enclosed(room)


def kept_off(room: Room) -> tuple[float, float]:
    """How much of a room's floor lies in its keep-out zones, in m², and of its wall, in m."""
    if not room.keep_outs:
        return 0.0, 0.0
    zones = shapely.union_all([shapely.Polygon(zone.outline) for zone in room.keep_outs])
    shape = room_polygon(room)
    wall_m = float(shape.boundary.intersection(zones.buffer(SLACK_M)).length)
    return float(shape.intersection(zones).area), min(wall_m, room_wall_m(room))


def floor_polygon(floor: Floor) -> shapely.Polygon:
    """What is floor of a whole floor, doorways between its rooms included."""
    return shapely.Polygon(floor.shell, floor.gaps)


def walls(floor: Floor) -> tuple[Wall, ...]:
    """Every edge of the outlines of the floor's rooms, doorways included, in order."""
    return tuple(
        (room.id, edge_name(i, count=len(room.outline)), start, end)
        for room in floor.rooms
        for i, (start, end) in enumerate(edges(room.outline))
    )


def room_wall_m(room: Room) -> float:
    """Length of the wall that the room's floor runs up to.

    Outline and holes, less the openings and less what stands against the wall (a hearth).
    """
    openings = [(opening.start, opening.end) for opening in room.openings]
    standing = [edge for obstacle in room.obstacles for edge in edges(obstacle.outline)]
    along = [edge for _, sides in border(room) for edge in sides]
    return sum(_free_m(edge, openings=openings, standing=standing) for edge in along)


def _free_m(edge: Edge, *, openings: list[Edge], standing: list[Edge]) -> float:
    at_openings = taken(edge, by=openings, within_m=ON_OUTLINE_M)
    behind = taken(edge, by=standing, within_m=SLACK_M)
    spans = shapely.union_all(
        [shapely.LineString(((low, 0), (high, 0))) for low, high in at_openings + behind]
    )
    return length_m(edge) - float(spans.length)
