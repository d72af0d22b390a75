"""Invented floors whose laying is measured: a room with a hearth and two doorways, and six rooms in one."""

import numpy as np
import shapely

from slab_core.rooms.build import build_rooms
from slab_core.rooms.model import Floor, Obstacle, Opening, Ring, Room
from tests.laid_floors import rectangle

_DOOR_M, _REVEAL_M, _WALL_M = 0.9, 0.06, 0.12


def room_with_hearth(rng: np.random.Generator, *, area_m2: float = 30.0) -> Floor:
    """A room of so much floor; the boards run into the reveals of two doorways, a hearth stands at a wall."""
    width = round(float(rng.uniform(4.6, 6.6)), 3)
    hearth_w, hearth_d = round(float(rng.uniform(1.2, 1.8)), 3), round(float(rng.uniform(0.4, 0.7)), 3)
    height = round((area_m2 + hearth_w * hearth_d) / width, 3)
    x = round(float(rng.uniform(0.6, width - hearth_w - 0.6)), 3)
    door = round(float(rng.uniform(0.3, width - _DOOR_M - 0.3)), 3)
    side = round(float(rng.uniform(0.3, height - _DOOR_M - 0.3)), 3)
    reveals = (
        rectangle(door, height, door + _DOOR_M, height + _REVEAL_M),
        rectangle(width, side, width + _REVEAL_M, side + _DOOR_M),
    )
    shape = shapely.union_all([shapely.Polygon(ring) for ring in (rectangle(0, 0, width, height), *reveals)])
    hearth = Obstacle(id="hearth", kind="hearth", outline=rectangle(x, 0.0, x + hearth_w, hearth_d))
    openings = (
        Opening(id="hall", start=reveals[0][2], end=reveals[0][3]),
        Opening(id="yard", start=reveals[1][1], end=reveals[1][2]),
    )
    room = Room(id="room", name="Room", outline=_ring(shape), obstacles=(hearth,), openings=openings)
    return build_rooms(rooms=(room,)).floors[0]


def six_rooms(rng: np.random.Generator) -> Floor:
    """About 300 m² through six rooms, two rows of three, with a doorway in every wall between two."""
    widths = [round(float(v), 3) for v in rng.uniform(6.2, 8.0, 3)]
    heights = [round(float(v), 3) for v in rng.uniform(6.4, 7.6, 2)]
    rooms = []
    for i, width in enumerate(widths):
        for j, height in enumerate(heights):
            x, y = sum(widths[:i]) + _WALL_M * i, sum(heights[:j]) + _WALL_M * j
            openings = []
            if i < 2:
                at = y + round(float(rng.uniform(0.5, height - 1.5)), 3)
                openings.append(
                    Opening(
                        id="east", start=(x + width, at), end=(x + width, at + 1.0), to_room=f"{i + 1}-{j}"
                    )
                )
            if j < 1:
                at = x + round(float(rng.uniform(0.5, width - 1.5)), 3)
                openings.append(
                    Opening(
                        id="north", start=(at, y + height), end=(at + 1.0, y + height), to_room=f"{i}-{j + 1}"
                    )
                )
            outline = rectangle(x, y, x + width, y + height)
            rooms.append(Room(id=f"{i}-{j}", name="Room", outline=outline, openings=tuple(openings)))
    (floor,) = build_rooms(rooms=tuple(rooms)).floors
    return floor


def _ring(shape: shapely.Geometry) -> Ring:
    return tuple((float(x), float(y)) for x, y in shapely.get_coordinates(shape)[:-1])
