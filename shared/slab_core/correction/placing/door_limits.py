"""Doorways and the nodes beside them: limits of their heights, and the height that they make at the door."""

import numpy as np
import shapely

from slab_core.correction.nodes import Nodes
from slab_core.correction.task import Task
from slab_core.correction.thresholds import DoorRange, between, places_along
from slab_core.numerics.grid import Floats, Mask

BESIDE_DOOR = 1.5
"""A doorway's range holds on nodes up to so many steps from its line, so on all that heights along the line
are taken between, and on a coarser lattice on some."""


def door_limits_mm(*, task: Task, doors: tuple[DoorRange, ...]) -> tuple[Floats, Floats]:
    """Lowest and highest corrected heights of the nodes (n,) at doorways, infinite elsewhere."""
    nodes = task.case.nodes
    lowest, highest = np.full(len(nodes.z_mm), -np.inf), np.full(len(nodes.z_mm), np.inf)
    for door in doors:
        beside = beside_door(door=door, nodes=nodes)
        lowest[beside] = np.maximum(lowest[beside], door.low_m * 1e3)
        highest[beside] = np.minimum(highest[beside], door.high_m * 1e3)
    return lowest, highest


def beside_door(*, door: DoorRange, nodes: Nodes) -> Mask:
    """The nodes on which the doorway's range holds."""
    away = shapely.distance(shapely.points(nodes.x, nodes.y), shapely.LineString(door.ends()))
    return np.asarray(away <= BESIDE_DOOR * nodes.grid.step_m)


def corrected_along(*, door: DoorRange, nodes: Nodes, top_mm: Floats) -> Floats:
    """Heights in metres at places along the doorway of what the nodes are brought to, bilinear between those
    on the floor: a wall seldom lies on nodes, and those beyond it are not corrected."""
    x, y = places_along(door)
    weight, top = np.zeros((2, *nodes.inside.shape))
    weight[nodes.inside], top[nodes.inside] = 1.0, top_mm
    here = between(values=weight, grid=nodes.grid, x=x, y=y)
    sums = between(values=top, grid=nodes.grid, x=x, y=y)
    away = np.hypot(nodes.x[:, None] - x, nodes.y[:, None] - y)
    nearest = top_mm[away.argmin(axis=0)]
    none = here <= 1e-9
    return np.asarray(np.where(none, nearest, sums / np.where(none, 1.0, here)) * 1e-3)
