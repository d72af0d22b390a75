"""Lines along which the finished floor has a range of heights: doorways and sides of obstacles."""

from dataclasses import dataclass

from slab_core.rooms.edges import Edge, edges, length_m, taken
from slab_core.rooms.enclosed import border
from slab_core.rooms.model import Obstacle, Room, Threshold
from slab_core.rooms.openings import ON_OUTLINE_M, SHORTEST_M


@dataclass(frozen=True, slots=True, kw_only=True)
class ThresholdLine:
    """A line with its range; `pointer` leads from the room to its threshold, `id` is that of the doorway or
    the obstacle."""

    id: str
    pointer: str
    line: Edge
    threshold: Threshold
    is_door: bool = True


def threshold_lines(room: Room) -> tuple[ThresholdLine, ...]:
    """Doorways first, then the sides of obstacles, each in order."""
    doors = tuple(
        ThresholdLine(
            id=opening.id,
            pointer=f"openings/{k}/threshold",
            line=(opening.start, opening.end),
            threshold=opening.threshold,
        )
        for k, opening in enumerate(room.openings)
        if opening.threshold is not None
    )
    sides = tuple(
        ThresholdLine(
            id=obstacle.id,
            pointer=f"obstacles/{k}/threshold",
            line=side,
            threshold=obstacle.threshold,
            is_door=False,
        )
        for k, obstacle in enumerate(room.obstacles)
        if obstacle.threshold is not None
        for side in _sides(obstacle, room=room)
    )
    return doors + sides


def _sides(obstacle: Obstacle, *, room: Room) -> tuple[Edge, ...]:
    """The sides of an obstacle that have floor beside them: not those along walls and other obstacles."""
    walls = [edge for _, ring in border(room) for edge in ring]
    others = [edge for other in room.obstacles if other is not obstacle for edge in edges(other.outline)]
    free: list[Edge] = []
    for side in edges(obstacle.outline):
        at = 0.0
        for low, high in (*taken(side, by=walls + others, within_m=ON_OUTLINE_M), (length_m(side),) * 2):
            if low - at >= SHORTEST_M:
                free.append(_part(side, low=at, high=low))
            at = max(at, high)
    return tuple(free)


def _part(side: Edge, *, low: float, high: float) -> Edge:
    (x0, y0), (x1, y1) = side
    size = length_m(side)
    if high - low >= size:
        return side
    ux, uy = (x1 - x0) / size, (y1 - y0) / size
    return (x0 + low * ux, y0 + low * uy), (x0 + high * ux, y0 + high * uy)
