"""How what is done for a doorway runs out into the room: no steeper than a foot is led over.

A range at the door alone would be met by a ledge: two rows of nodes filled, and nothing beyond. So at each
node near a door the corrected slab lies no lower than the door's range less what the run-out has fallen by
then, and no higher than it has risen. What lies lower or higher by itself may stay so, as a doorway may be
met by a slab with a dip beyond: there what is filled, or ground, is no less than at the door, run out alike.
Falls are those against the slab's own.
"""

import numpy as np
import shapely

from slab_core.correction.nodes import Nodes
from slab_core.correction.placing.door_limits import beside_door, door_limits_mm
from slab_core.correction.ramps_model import GREATEST_RAMP_M, RAMP_SLOPE
from slab_core.correction.task import Task
from slab_core.correction.thresholds import DoorRange
from slab_core.correction.work import SKIN_MM
from slab_core.numerics.grid import HEIGHT_STEP_M, Floats, Mask
from slab_core.rooms.model import Floor

RUN_OUT = RAMP_SLOPE
"""A patch at a door is feathered over a foot for each 1/8 in: common practice, no single source."""

LIP_MM = 2 * SKIN_MM
"""1/32 in: so high a lip is left by films that are dropped and grinding in whole passes."""

NEAR_M = 1e-6


def run_out_mm(*, task: Task, doors: tuple[DoorRange, ...]) -> tuple[Floats, Floats]:
    """Lowest and highest corrected heights of the nodes (n,), infinite where no doorway asks for any."""
    nodes = task.case.nodes
    lowest, highest = door_limits_mm(task=task, doors=doors)
    if not doors:
        return lowest, highest
    slab_mm, fall_mm = task.as_measured().case.nodes.z_mm, _fall_mm(task.as_measured().case.nodes)
    lift_mm = np.zeros(len(slab_mm)) if task.ramped is None else task.ramped.lift * HEIGHT_STEP_M * 1e3
    for door in doors:
        at, near = beside_door(door=door, nodes=nodes), _near(door=door, floor=task.floor, nodes=nodes)
        if not at.any():
            continue
        fallen = RUN_OUT * 1e3 * _away_m(nodes=nodes, near=near, at=at)
        own, there = slab_mm - fall_mm, lift_mm[at] - fall_mm[at]
        low, high = door.low_m * 1e3 + there, door.high_m * 1e3 + there
        filled, ground = np.maximum(low - own[at], 0.0), np.maximum(own[at] - high, 0.0)
        below = (np.minimum(low, own[near, None] + filled) - fallen).max(axis=1) + fall_mm[near]
        above = (np.maximum(high, own[near, None] - ground) + fallen).min(axis=1) + fall_mm[near]
        below, above = below - lift_mm[near], above - lift_mm[near]
        if lift_mm[at].any():  # a ramp is no steeper than its own limit, so it may always be made
            below, above = np.minimum(below, door.low_m * 1e3), np.maximum(above, door.high_m * 1e3)
        lowest[near] = np.maximum(lowest[near], below)
        highest[near] = np.minimum(highest[near], above)
    return lowest, highest


def asked_fill_mm(*, task: Task) -> Floats:
    """The least fill (n,) by which every doorway is met and run out from."""
    return np.asarray(np.maximum(run_out_mm(task=task, doors=task.doors)[0] - task.case.nodes.z_mm, 0.0))


def runs_out(*, task: Task, top_mm: Floats) -> bool:
    """Whether corrected heights (n,) run out from every doorway, but for a lip."""
    lowest, highest = run_out_mm(task=task, doors=task.doors)
    return bool(np.all((top_mm >= lowest - LIP_MM) & (top_mm <= highest + LIP_MM)))


def _fall_mm(nodes: Nodes) -> Floats:
    """The plane through the slab at the nodes, which a floor may follow."""
    rows = np.column_stack([np.ones_like(nodes.u), nodes.u, nodes.v])
    return np.asarray(rows @ np.linalg.lstsq(rows, nodes.z_mm, rcond=None)[0], dtype=np.float64)


def _near(*, door: DoorRange, floor: Floor, nodes: Nodes) -> Mask:
    """Nodes from which the doorway is reached straight over the floor, no farther than a ramp would go."""
    line = shapely.LineString(door.ends())
    points = shapely.points(nodes.x, nodes.y)
    near = np.asarray(shapely.distance(points, line) <= GREATEST_RAMP_M)
    shape = shapely.buffer(shapely.Polygon(floor.shell, floor.gaps), NEAR_M)
    shapely.prepare(shape)
    near[near] = shapely.covers(shape, shapely.shortest_line(points[near], line))
    return near


def _away_m(*, nodes: Nodes, near: Mask, at: Mask) -> Floats:
    """From each of the nodes to each of those at the door (near, at)."""
    return np.hypot(nodes.x[near, None] - nodes.x[at], nodes.y[near, None] - nodes.y[at])
