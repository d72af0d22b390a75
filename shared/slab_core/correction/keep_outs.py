"""Keep-out zones on the nodes of a floor: where nothing is ground, and where nothing is filled either."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import shapely

from slab_core.numerics.grid import Grid, Mask
from slab_core.rooms.model import Floor, KeepOut


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Zone:
    """A keep-out zone and the n nodes on which it holds; `pointer` leads to it in the posted job."""

    pointer: str
    keep_out: KeepOut
    on: Mask


def zones_of(*, floor: Floor, grid: Grid, inside: Mask, room_pointers: Mapping[str, str]) -> tuple[Zone, ...]:
    """Every zone of the floor with the nodes inside the floor in it and up to one step around it.

    Between nodes the corrected floor is straight, so what no node of a square is ground for is not ground
    anywhere in it: with the step around, nothing of the zone is.
    """
    rows, columns = np.nonzero(inside)
    x, y, step_m = grid.xs()[columns], grid.ys()[rows], grid.step_m
    cells = shapely.box(x - step_m, y - step_m, x + step_m, y + step_m)
    return tuple(
        Zone(
            pointer=f"{room_pointers.get(room.id, f'/rooms/{i}')}/keep_outs/{k}",
            keep_out=keep_out,
            on=np.asarray(shapely.intersects(cells, shapely.Polygon(keep_out.outline))),
        )
        for i, room in enumerate(floor.rooms)
        for k, keep_out in enumerate(room.keep_outs)
    )


def kept_off(zones: tuple[Zone, ...], *, count: int) -> tuple[Mask, Mask]:
    """The nodes on which nothing is ground, and those of them on which nothing is filled either."""
    unground, unfilled = np.zeros((2, count), dtype=np.bool_)
    for zone in zones:
        unground |= zone.on
        if not zone.keep_out.fills:
            unfilled |= zone.on
    return unground, unfilled
