"""Doorways as limits of the heights at the nodes beside them."""

import numpy as np
import shapely

from slab_core.correction.task import Task
from slab_core.correction.thresholds import DoorRange
from slab_core.numerics.grid import Floats

BESIDE_DOOR = 1.5
"""A doorway's range holds on nodes up to so many steps from its line, so on all that heights along the line
are taken between, and on a coarser lattice on some."""


def door_limits_mm(*, task: Task, doors: tuple[DoorRange, ...]) -> tuple[Floats, Floats]:
    """Lowest and highest corrected heights (ny, nx), infinite where no doorway asks for any."""
    nodes = task.case.nodes
    lowest, highest = np.full(nodes.inside.shape, -np.inf), np.full(nodes.inside.shape, np.inf)
    if not doors:
        return lowest, highest
    points = shapely.points(nodes.x, nodes.y)
    for door in doors:
        beside = np.zeros_like(nodes.inside)
        away = shapely.distance(points, shapely.LineString(door.ends()))
        beside[nodes.inside] = away <= BESIDE_DOOR * nodes.grid.step_m
        lowest[beside] = np.maximum(lowest[beside], door.low_m * 1e3)
        highest[beside] = np.minimum(highest[beside], door.high_m * 1e3)
    return lowest, highest
