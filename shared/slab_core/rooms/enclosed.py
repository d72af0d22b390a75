"""What the walls of one room enclose, with or without obstacles on it."""

import shapely

from slab_core.rooms.edges import Edge, edges
from slab_core.rooms.model import Point, Room


def enclosed(room: Room) -> shapely.Geometry:
    """A room's outline less its holes; obstacles stand within it. Another room may lie in a hole."""
    outline = shapely.Polygon(room.outline)
    if not room.holes:
        return outline
    return outline.difference(shapely.union_all([shapely.Polygon(hole) for hole in room.holes]))


def border(room: Room) -> tuple[tuple[str, tuple[Edge, ...]], ...]:
    """The rings that walls run along, "outline", "hole 1" and so on, each with its edges."""
    holes = ((f"hole {i + 1}", hole) for i, hole in enumerate(room.holes))
    return tuple((name, edges(ring)) for name, ring in (("outline", room.outline), *holes))


def nearest_on(line: shapely.Geometry, at: Point) -> Point:
    """The point of a line, or of several, that is nearest to a place."""
    x, y = shapely.shortest_line(line, shapely.Point(at)).coords[0]
    return float(x), float(y)
