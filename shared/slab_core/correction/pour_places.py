"""Which nodes each pour of a plan fills."""

import re

import numpy as np
import shapely

from slab_core.correction.lifts import lift_depths
from slab_core.correction.model import Plan, Pour
from slab_core.numerics.grid import HEIGHT_STEP_M, STEP_MM, Ints, Mask

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


def depth_in_lift(plan: Plan, pour: Pour, *, least_m: float, lift_m: float) -> tuple[Ints, Ints]:
    """(how deep a pour is, and how much fill of its bay lies under it) at its nodes, in storage steps.

    Plans stored before lifts were shared evenly have all but the lowest as thick as the greatest, `lift_m`.
    """
    number = bay_of(pour.id)[1]
    of_bay = [one for one in plan.pours if bay_of(one.id)[1] == number]
    lifts = max(one.lift for one in of_bay)
    fill = np.where(bay_numbers(plan) == number, plan.fill, 0)
    evenly = next((one.below_m / (lifts - one.lift) for one in of_bay if one.below_m > 0.0), None)
    upper_m, thinnest_m = (lift_m, 0.0) if evenly is None else (evenly, least_m)
    depths = lift_depths(
        fill * STEP_MM,
        upper_mm=round(upper_m / HEIGHT_STEP_M) * STEP_MM,
        least_mm=thinnest_m * 1e3,
        lifts=lifts,
    )
    steps = [np.rint(depth / STEP_MM).astype(np.int32) for depth in depths]
    layer = lifts - pour.lift
    under = sum(steps[layer + 1 :], np.zeros_like(steps[0]))
    return steps[layer], under
