"""Floors whose strips walls cut in two, with their slabs."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import shapely

from slab_core.numerics.grid import Floats
from slab_core.rooms.model import Floor, Ring, Room
from tests.invented_floors import Work, slab

U_ROOM: Ring = (
    (0.0, 0.0),
    (6.0, 0.0),
    (6.0, 6.0),
    (4.4, 6.0),
    (4.4, 1.6),
    (1.6, 1.6),
    (1.6, 6.0),
    (0.0, 6.0),
)
L_ROOM: Ring = ((0.0, 0.0), (8.0, 0.0), (8.0, 2.5), (3.0, 2.5), (3.0, 5.2), (0.0, 5.2))


def room_of(*, outline: Ring, gaps: tuple[Ring, ...] = ()) -> Floor:
    """A floor of one room."""
    shape = shapely.Polygon(outline, gaps)
    room = Room(id="room-1", name="Room", outline=outline, holes=gaps)
    return Floor(
        id="floor-1", rooms=(room,), shell=outline, gaps=gaps, area_m2=shape.area, wall_m=shape.length
    )


def walled(
    *, floor: Floor, height_m: Callable[[Floats, Floats], Floats], columns: int = 80, **changes: Any
) -> Work:
    """A correction of a slab in a room of any shape."""
    whole = slab(floor=floor, height_m=height_m, columns=columns)
    x, y = whole.grid.places().T
    inside = shapely.intersects_xy(shapely.Polygon(floor.shell, floor.gaps).buffer(1e-9), x, y)
    inside = inside.reshape(whole.height.shape)
    none = np.zeros((0, 3))
    surface = replace(
        whole,
        height=np.where(inside, whole.height, 0).astype(np.int32),
        inside=inside,
        spline=replace(whole.spline, obs_x_m=none, obs_y_m=none, obs_weight=none),
    )
    return Work(floor=floor, surface=surface, changes=changes)


def low_legs(x: Floats, y: Floats) -> Floats:
    """Metres: both legs of the U 12 mm low, but for where they begin."""
    leg = ((x < 1.61) | (x > 4.39)) & (y > 2.0)
    return np.asarray(-0.012 * leg * np.clip((y - 2.0) / 1.5, 0.0, 1.0), dtype=np.float64)
