"""Distances from walls that find a place again on site with a tape."""

from math import cos, radians

import shapely

from slab_core.rooms.edges import Edge, cosine, length_m, project, taken
from slab_core.rooms.enclosed import enclosed
from slab_core.rooms.geometry import Wall, room_polygon, walls
from slab_core.rooms.model import Floor, Point, Room
from slab_core.rooms.openings import ON_OUTLINE_M
from slab_core.units.display import feet_inches

_SHORTEST_WALL_M = 0.3
_LEAST_ANGLE_COSINE = cos(radians(30.0))
_REACH_M = 1e-6

_AT_WALL_M = 0.005
"""Nearer than a tape is worth reading."""


def wall_distances(*, floor: Floor, at: Point) -> tuple[tuple[str, str, float], ...]:
    """The two nearest walls, not parallel, that a tape can reach squarely: (room, wall, metres) each.

    Walls of the room that `at` lies in. A tape reaches a wall when it meets it between its ends, not
    in a doorway, with nothing standing in between; only if too few walls are like that, others are
    used (their line, snapped along the wall, still serves). A floor with a single direction of wall
    gives one distance.
    """
    room = _room_at(floor, at=at)
    clear = room_polygon(room).buffer(_REACH_M)
    own = [wall for wall in walls(floor) if wall[0] == room.id]
    ranked = sorted(_ranked(wall, room=room, clear=clear, at=at) for wall in own)
    first = ranked[0]
    across = [other for other in ranked[1:] if cosine(first[3], other[3]) < _LEAST_ANGLE_COSINE]
    return tuple((room.id, name, distance) for _, distance, name, _ in [first, *across[:1]])


def said_place(*, floor: Floor, at: Point) -> str:
    """A place in words a crew can tape: the two distances of `wall_distances` in feet and metres.

    The room is named where the floor has more than one; walls by their vertices, of which 1 is the first.
    """
    found = wall_distances(floor=floor, at=at)
    tapes = " and ".join(_from_wall(wall, metres) for _, wall, metres in found)
    name = next(room.name or room.id for room in floor.rooms if room.id == found[0][0])
    return f"{tapes} of “{name}”" if len(floor.rooms) > 1 else tapes


def _from_wall(wall: str, metres: float) -> str:
    if metres < _AT_WALL_M:
        return f"at wall {wall}"
    return f"{feet_inches(metres)} ({metres:.2f} m) from wall {wall}"


def _room_at(floor: Floor, *, at: Point) -> Room:
    place = shapely.Point(at)
    return min(floor.rooms, key=lambda room: (float(enclosed(room).distance(place)), room.id))


def _ranked(wall: Wall, *, room: Room, clear: shapely.Geometry, at: Point) -> tuple[int, float, str, Edge]:
    """Sorts walls: fewest hindrances first, then the nearest."""
    _, name, start, end = wall
    edge = (start, end)
    along, across = project(at, edge=edge)
    size = length_m(edge)
    hindrances = 2 * (size < _SHORTEST_WALL_M) + 4 * (not 0 <= along <= size)
    hindrances += _in_doorway(edge, along=along, room=room)
    hindrances += 3 * _blocked(edge, along=along, at=at, clear=clear)
    return hindrances, abs(across), name, edge


def _in_doorway(edge: Edge, *, along: float, room: Room) -> bool:
    doorways = [(opening.start, opening.end) for opening in room.openings]
    return any(low < along < high for low, high in taken(edge, by=doorways, within_m=ON_OUTLINE_M))


def _blocked(edge: Edge, *, along: float, at: Point, clear: shapely.Geometry) -> bool:
    (x0, y0), (x1, y1) = edge
    share = along / length_m(edge)
    foot = (x0 + share * (x1 - x0), y0 + share * (y1 - y0))
    tape = shapely.LineString((at, foot))
    return float(tape.difference(clear).length) > 10 * _REACH_M
