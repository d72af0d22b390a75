"""The worst places of a floor, one for each hump or dip, where a crew can find them again."""

import numpy as np
from scipy.ndimage import maximum_filter

from slab_core.numerics.grid import Floats, Grid, Mask
from slab_core.rooms.distances import wall_distances
from slab_core.rooms.model import Floor, Point
from slab_core.tolerance.model import Place, Rule, WallDistance
from slab_core.tolerance.supports import worst_lie

MOST_PLACES = 10
PASSING_PLACES = 3
"""So many are named on a floor that passes, so that a person can see its worst all the same."""

APART_M = 1.0
"""Peaks closer together than this are one place."""


def worst_nodes(*, grid: Grid, departure_m: Floats, inside: Mask, gap_m: float) -> list[tuple[int, int]]:
    """Peaks of the departure as (row, column), the largest first."""
    peak = inside & (departure_m > 1e-6) & (departure_m >= maximum_filter(departure_m, size=3))
    rows, columns = np.nonzero(peak)
    order = np.lexsort((columns, rows, -departure_m[rows, columns]))
    chosen: list[tuple[int, int]] = []
    for j, i in zip(rows[order], columns[order], strict=True):
        if len(chosen) >= (MOST_PLACES if departure_m[j, i] > gap_m else PASSING_PLACES):
            break
        if all(np.hypot(j - a, i - b) * grid.step_m >= APART_M for a, b in chosen):
            chosen.append((int(j), int(i)))
    return chosen


def place_at(
    *, floor: Floor, grid: Grid, heights_m: Floats, free: Mask, rule: Rule, node: tuple[int, int]
) -> Place:
    """The node as a place with its supports and its distances from two walls."""
    lie = worst_lie(grid=grid, heights_m=heights_m, free=free, rule=rule, node=node)
    at = (grid.x0_m + node[1] * grid.step_m, grid.y0_m + node[0] * grid.step_m)
    return Place(
        at=at,
        departure_m=lie.departure_m,
        side=lie.side,
        support_a=lie.support_a,
        support_b=lie.support_b,
        direction_deg=lie.direction_deg,
        walls=walls_from(floor=floor, at=at),
    )


def walls_from(*, floor: Floor, at: Point) -> tuple[WallDistance, ...]:
    """The distances from two walls that find a place again."""
    return tuple(
        WallDistance(room=room, wall=wall, distance_m=distance)
        for room, wall, distance in wall_distances(floor=floor, at=at)
    )
