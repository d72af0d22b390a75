"""Which nodes each pour of a plan fills."""

import re

import numpy as np
import shapely

from slab_core.correction.model import Plan
from slab_core.numerics.grid import Ints, Mask

_LIFT = re.compile(r"^(.*-bay(\d+))-lift(\d+)$")
_NEAR_M = 1e-6


def bay_of(pour_id: str) -> tuple[str, int, int]:
    """A pour's id without its lift, the number of its bay and its lift."""
    found = _LIFT.match(pour_id)
    assert found is not None, f"{pour_id} is no pour"
    return found[1], int(found[2]), int(found[3])


def poured_nodes(plan: Plan) -> Mask:
    """Where fill is poured and not trowelled, shape (ny, nx)."""
    filled = plan.fill > 0
    return filled if plan.trowelled is None else filled & ~plan.trowelled


def bay_numbers(plan: Plan) -> Ints:
    """The number of the bay that fills each node, 0 where nothing is poured, shape (ny, nx).

    Plans stored before they told it have outlines alone: there a node belongs to the nearest, so that none is
    lost where an outline left some out.
    """
    if plan.bays is not None:
        return plan.bays
    found = np.zeros(plan.fill.shape, dtype=np.int32)
    rows, columns = np.nonzero(poured_nodes(plan))
    points = shapely.points(plan.grid.xs()[columns], plan.grid.ys()[rows])
    best, nearest = np.zeros(len(rows), dtype=np.int32), np.full(len(rows), np.inf)
    # On the line between two bays a node is the later one's; of lifts the highest covers most.
    for pour in sorted(plan.pours, key=lambda pour: (-pour.lift, -bay_of(pour.id)[1])):
        shape = shapely.Polygon(pour.outline)
        shapely.prepare(shape)
        away = shapely.distance(shape, points)
        closer = away < nearest - _NEAR_M
        best[closer], nearest[closer] = bay_of(pour.id)[1], away[closer]
    found[rows, columns] = best
    return found
