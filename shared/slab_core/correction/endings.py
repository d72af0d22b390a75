"""Where pours stop on open floor and have to be held."""

import numpy as np

from slab_core.correction.task import Task
from slab_core.correction.work import SKIN_MM
from slab_core.numerics.grid import STEP_MM, Ints, Mask


def rim_m(*, task: Task, poured: Mask, fill: Ints, grind: Ints) -> float:
    """How long the rim of the pours is that must be held: where compound stands more than a skin above the
    slab beside it, and no wall, no rising slab and no ground key holds it. It is cut into steps of the grid
    and shortened to what a straight line would be on average, pi / 4."""
    nodes = task.case.nodes
    floor_mm, top_mm = (np.full(nodes.inside.shape, edge) for edge in (np.inf, -np.inf))
    floor_mm[nodes.inside] = np.where(poured, np.inf, nodes.z_mm - STEP_MM * grind)
    top_mm[nodes.inside] = np.where(poured & (grind == 0), nodes.z_mm + STEP_MM * fill, -np.inf)
    count = 0
    for axis in (0, 1):
        top, floor = np.moveaxis(top_mm, axis, 0), np.moveaxis(floor_mm, axis, 0)
        count += int((top[1:] > floor[:-1] + SKIN_MM).sum() + (top[:-1] > floor[1:] + SKIN_MM).sum())
    return count * nodes.grid.step_m * np.pi / 4
