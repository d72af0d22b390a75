"""Joining rooms into the continuous floors that are flattened and covered as one."""

import shapely
from shapely.geometry.polygon import orient

from slab_core.errors import InputRefused, Problem
from slab_core.rooms.bridges import bridge
from slab_core.rooms.check import check_rooms
from slab_core.rooms.enclosed import enclosed
from slab_core.rooms.geometry import room_wall_m
from slab_core.rooms.model import Floor, Ring, Room, Rooms
from slab_core.rooms.wording import refusal

_NARROWEST_M = 0.02
"""A strip of floor narrower than this, left beside an obstacle, is joint and not floor."""

_SMALLEST_GAP_M2 = 1e-4


def build_rooms(*, rooms: tuple[Room, ...]) -> Rooms:
    """Join rooms through the openings that lead from one into another.

    A floor's id is the first of its rooms' ids, its rooms are in order of their ids, floors too, so
    that the order of posting changes nothing.

    Raises
    ------
    InputRefused
        with every problem of `check_rooms`, or if obstacles cut a floor into parts.
    """
    problems = check_rooms(rooms=rooms)
    if problems:
        raise InputRefused(problems)
    places = {room.id: i for i, room in enumerate(rooms)}
    floors = [_floor(group, places=places) for group in _groups(rooms)]
    parted = tuple(floor for floor in floors if isinstance(floor, Problem))
    if parted:
        raise InputRefused(parted)
    return Rooms(floors=tuple(floor for floor in floors if isinstance(floor, Floor)))


def _groups(rooms: tuple[Room, ...]) -> list[tuple[Room, ...]]:
    """Rooms reachable from each other, each group and the groups in order of id."""
    group = {room.id: {room.id} for room in rooms}
    for room in rooms:
        for opening in room.openings:
            if opening.to_room is not None:
                merged = group[room.id] | group[opening.to_room]
                group.update(dict.fromkeys(merged, merged))
    by_id = {room.id: room for room in rooms}
    distinct = sorted({tuple(sorted(ids)) for ids in group.values()})
    return [tuple(by_id[id_] for id_ in ids) for ids in distinct]


def _floor(rooms: tuple[Room, ...], *, places: dict[str, int]) -> Floor | Problem:
    shape = _joined(rooms)
    if not isinstance(shape, shapely.Polygon) or shape.is_empty:
        return _in_parts(rooms, shape=shape, places=places)
    shape = orient(shape)
    gaps = tuple(_ring(ring) for ring in shape.interiors if shapely.Polygon(ring).area > _SMALLEST_GAP_M2)
    shell = _ring(shape.exterior)
    return Floor(
        id=rooms[0].id,
        rooms=rooms,
        shell=shell,
        gaps=tuple(sorted(gaps)),
        area_m2=float(shapely.Polygon(shell, gaps).area),
        wall_m=sum(room_wall_m(room) for room in rooms),
    )


def _joined(rooms: tuple[Room, ...]) -> shapely.Geometry:
    by_id = {room.id: room for room in rooms}
    doorways = [
        bridge(opening=opening, room=room, other=by_id[opening.to_room])
        for room in rooms
        for opening in room.openings
        if opening.to_room is not None
    ]
    whole = shapely.union_all([enclosed(room) for room in rooms] + doorways)
    standing = [shapely.Polygon(obstacle.outline) for room in rooms for obstacle in room.obstacles]
    if standing:
        whole = whole.difference(shapely.union_all(standing))
    if isinstance(whole, shapely.Polygon):
        return whole
    parts = [part for part in whole.geoms if not part.buffer(-_NARROWEST_M / 2).is_empty]
    return parts[0] if len(parts) == 1 else shapely.MultiPolygon(parts)


def _ring(ring: shapely.LinearRing) -> Ring:
    """The open ring from its lowest-left vertex on, so that equal shapes are equal data."""
    points = [(float(x), float(y)) for x, y in ring.coords[:-1]]
    first = points.index(min(points))
    return tuple(points[first:] + points[:first])


def _in_parts(rooms: tuple[Room, ...], *, shape: shapely.Geometry, places: dict[str, int]) -> Problem:
    names = ", ".join(f"“{room.id}”" for room in rooms)
    areas = ", ".join(f"{part.area:.2f} m²" for part in getattr(shape, "geoms", ())) or "nothing"
    detail = (
        f"holes and obstacles leave of the floor of {names} separate parts: {areas}; "
        "draw each part as a room of its own"
    )
    return refusal(code="floor-in-parts", detail=detail, pointer=f"/rooms/{places[rooms[0].id]}")
