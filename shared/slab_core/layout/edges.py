"""What follows from a floor's edges: transitions, base, undercuts and door casings."""

import shapely

from slab_core.layout.model import TransitionRun
from slab_core.rooms.geometry import floor_polygon
from slab_core.rooms.model import Floor, Opening

_LEGS = 2


def transitions(*, floor: Floor) -> tuple[TransitionRun, ...]:
    """A strip along every opening that leads out of the floor over a threshold; flush needs none."""
    return tuple(
        TransitionRun(
            opening=f"{room.id}/{opening.id}",
            kind=opening.threshold.transition,
            length_m=_length_m(opening),
        )
        for room in floor.rooms
        for opening in room.openings
        if opening.to_room is None
        and opening.threshold is not None
        and opening.threshold.transition not in ("none", "flush")
    )


def undercut_m(*, floor: Floor) -> float:
    """Length of hearth that the boards run up to."""
    edge = floor_polygon(floor).boundary
    hearths = [
        shapely.Polygon(obstacle.outline).boundary
        for room in floor.rooms
        for obstacle in room.obstacles
        if obstacle.kind == "hearth"
    ]
    return sum(float(edge.intersection(ring.buffer(1e-6)).length) for ring in hearths)


def casing_legs(*, floor: Floor) -> int:
    """Two legs at every side of every doorway: four between two rooms, though it be named once."""
    return sum(
        2 * _LEGS if opening.to_room and not _named_back(opening, room_id=room.id, floor=floor) else _LEGS
        for room in floor.rooms
        for opening in room.openings
    )


def _named_back(opening: Opening, *, room_id: str, floor: Floor) -> bool:
    """Whether the other room names the same doorway too."""
    line = shapely.LineString((opening.start, opening.end))
    return any(
        other.to_room == room_id and line.distance(shapely.LineString((other.start, other.end))) < 0.6
        for room in floor.rooms
        if room.id == opening.to_room
        for other in room.openings
    )


def _length_m(opening: Opening) -> float:
    return float(shapely.LineString((opening.start, opening.end)).length)
