"""What follows from a floor's edges: transitions, base, undercuts and door casings."""

import shapely

from slab_core.layout.model import TransitionRun
from slab_core.rooms.geometry import floor_polygon
from slab_core.rooms.model import Floor, Opening

_LEGS = 2
_THICKEST_WALL_M = 0.6


def transitions(*, floor: Floor) -> tuple[TransitionRun, ...]:
    """A strip along every opening that leads out of the floor over a threshold; flush needs none."""
    return tuple(
        TransitionRun(
            opening=f"{room.id}/{opening.id}",
            kind=opening.threshold.transition,
            length_m=_line(opening).length,
        )
        for room in floor.rooms
        for opening in room.openings
        if opening.to_room is None
        and opening.threshold is not None
        and opening.threshold.transition not in ("none", "flush")
    )


def undercut_m_of(*, floor: Floor) -> dict[str, float]:
    """Length of hearth that the boards run up to, by room."""
    edge = floor_polygon(floor).boundary
    return {
        room.id: sum(
            float(edge.intersection(shapely.Polygon(obstacle.outline).boundary.buffer(1e-6)).length)
            for obstacle in room.obstacles
            if obstacle.kind == "hearth"
        )
        for room in floor.rooms
    }


def casing_legs_of(*, floor: Floor) -> dict[str, int]:
    """Two legs at every side of every doorway, by room: four between two rooms, though it be named once."""
    return {
        room.id: sum(
            2 * _LEGS if opening.to_room and not _named_back(opening, room_id=room.id, floor=floor) else _LEGS
            for opening in room.openings
        )
        for room in floor.rooms
    }


def _named_back(opening: Opening, *, room_id: str, floor: Floor) -> bool:
    """Whether the other room names the same doorway too."""
    return any(
        other.to_room == room_id and _line(opening).distance(_line(other)) < _THICKEST_WALL_M
        for room in floor.rooms
        if room.id == opening.to_room
        for other in room.openings
    )


def _line(opening: Opening) -> shapely.LineString:
    return shapely.LineString((opening.start, opening.end))
