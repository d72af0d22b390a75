"""Joints as columns beside the spline: what jumps and kinks across a line and is smooth elsewhere.

Across a segment the angle under which it is seen, divided by 2π, jumps by one and is harmonic everywhere
else; the joint that runs from wall to wall is seen as endless and gives a plain half on either side. The
height of the step varies along the joint as a low polynomial, and the change of slope fades away from it,
as where the edges of two slabs have curled up. Coefficients have normal priors whose standard deviations
are chosen by joint_scales.py.
"""

from collections.abc import Sequence

import numpy as np
import shapely

from slab_core.numerics.grid import Floats
from slab_core.rooms.geometry import floor_polygon
from slab_core.rooms.model import Floor, Joint, Point
from slab_core.surface.model import SplineJoint

STEP_SDS_M = (0.01, 0.002, 0.001)
"""Units of the coefficients: of the step itself, its change from the middle to an end, and its bow."""

KINK_SDS = (0.003, 0.0015)
"""Of the change of slope across the joint, and of its change along it, in m per m."""

KINK_REACH_M = 0.5
"""A curled edge comes down again within some 1-2 ft (common practice, no single source)."""

TAPER_M = 0.3
NEAR_WALL_M = 0.15
"""A joint that ends nearer than this to a wall, or to another joint, runs on to it."""

ENDLESS_M = 1e5
ON_LINE_M = 1e-9
STEP_COLUMNS = len(STEP_SDS_M)
COLUMNS = STEP_COLUMNS + len(KINK_SDS)


def spline_joints(floor: Floor) -> tuple[SplineJoint, ...]:
    """The joints of a floor's rooms with how far each runs on unseen, coefficients still zero."""
    shape = floor_polygon(floor)
    joints = [(room.id, joint) for room in floor.rooms for joint in room.joints]
    return tuple(
        SplineJoint(
            room=room,
            id=joint.id,
            start=joint.start,
            end=joint.end,
            beyond_start_m=_beyond(joint.start, joint.end, shape=shape, others=_others(joint, joints)),
            beyond_end_m=_beyond(joint.end, joint.start, shape=shape, others=_others(joint, joints)),
            kink_reach_m=KINK_REACH_M,
            coefficient=(0.0,) * COLUMNS,
        )
        for room, joint in joints
    )


def _others(joint: Joint, joints: list[tuple[str, Joint]]) -> list[shapely.LineString]:
    return [shapely.LineString((other.start, other.end)) for _, other in joints if other is not joint]


def _beyond(
    tip: Point, other_end: Point, *, shape: shapely.Polygon, others: list[shapely.LineString]
) -> float:
    """How far the step runs on behind a tip: until there is floor again; 0 where it ends on open floor."""
    size = float(np.hypot(tip[0] - other_end[0], tip[1] - other_end[1]))
    away = ((tip[0] - other_end[0]) / size, (tip[1] - other_end[1]) / size)
    ray = shapely.LineString([(tip[0] + t * away[0], tip[1] + t * away[1]) for t in (NEAR_WALL_M, 2000.0)])
    again = ray.intersection(shape)
    if again.is_empty:
        return ENDLESS_M
    distance = float(again.distance(shapely.Point(tip)))
    if distance > NEAR_WALL_M + 1e-6:
        return distance
    meets = any(float(other.distance(shapely.Point(tip))) <= NEAR_WALL_M for other in others)
    return NEAR_WALL_M if meets else 0.0


def columns(*, joints: tuple[SplineJoint, ...], x_m: Floats, y_m: Floats) -> Floats:
    """Values of every joint's columns at n places in metres, shape (n, COLUMNS · joints)."""
    if not joints:
        return np.empty((len(x_m), 0))
    return np.hstack([_columns(joint, x_m, y_m) for joint in joints])


def _columns(joint: SplineJoint, x_m: Floats, y_m: Floats) -> Floats:
    along, across, size = _along_across(joint, x_m, y_m)
    back, ahead = along + joint.beyond_start_m, size + joint.beyond_end_m - along
    jump = _jump(across, back, ahead) * _taper(joint, along, size)
    turn = jump * joint.kink_reach_m * np.tanh(across / joint.kink_reach_m)
    u = np.clip(2.0 * along / size - 1.0, -1.0, 1.0)
    steps = [sd * jump * shape for sd, shape in zip(STEP_SDS_M, _shapes(u), strict=True)]
    kinks = [sd * turn * shape for sd, shape in zip(KINK_SDS, _shapes(u)[:2], strict=True)]
    return np.column_stack([*steps, *kinks])


def _jump(across: Floats, back: Floats, ahead: Floats) -> Floats:
    """What jumps by one across a segment: the share of a circle under which it is seen."""
    left = np.where(across >= -ON_LINE_M, 0.5, -0.5)
    # Both ends' angles to the line in one, as those of a product; together they are at most half a circle.
    hidden = np.arctan2(np.abs(across) * (back + ahead), back * ahead - np.square(across))
    return np.asarray(left * (1.0 - hidden / np.pi))


def even_steps(*, joints: Sequence[SplineJoint], x_m: Floats, y_m: Floats) -> Floats:
    """The first column of each joint that ends at walls, at n places, shape (n, joints)."""
    ends = np.array(
        [(*joint.start, *joint.end, joint.beyond_start_m, joint.beyond_end_m) for joint in joints]
    )
    x0, y0, x1, y1, before, behind = ends.T
    size = np.hypot(x1 - x0, y1 - y0)
    ux, uy = (x1 - x0) / size, (y1 - y0) / size
    at = np.column_stack([x_m, y_m])
    along = at @ np.vstack([ux, uy]) - (x0 * ux + y0 * uy)
    across = at @ np.vstack([-uy, ux]) - (y0 * ux - x0 * uy)
    return STEP_SDS_M[0] * _jump(across, along + before, size + behind - along)


def _along_across(joint: SplineJoint, x_m: Floats, y_m: Floats) -> tuple[Floats, Floats, float]:
    (x0, y0), (x1, y1) = joint.start, joint.end
    size = float(np.hypot(x1 - x0, y1 - y0))
    ux, uy = (x1 - x0) / size, (y1 - y0) / size
    dx, dy = np.asarray(x_m) - x0, np.asarray(y_m) - y0
    return dx * ux + dy * uy, ux * dy - uy * dx, size


def _shapes(u: Floats) -> tuple[Floats, Floats, Floats]:
    return np.ones_like(u), u, 1.5 * u * u - 0.5


def _taper(joint: SplineJoint, along: Floats, size: float) -> Floats:
    """Lets the step die out towards an end on open floor, where both sides are one slab again."""
    reach = min(TAPER_M, size / 2.0)
    out = np.ones_like(along)
    for beyond, inward in ((joint.beyond_start_m, along), (joint.beyond_end_m, size - along)):
        if beyond == 0.0:
            t = np.clip(inward / reach, 0.0, 1.0)
            out = out * t * t * (3.0 - 2.0 * t)
    return out


def step_columns(*, joint: SplineJoint, share: Floats) -> Floats:
    """The step (left less right of the joint, seen from its start) per coefficient, shape (n, COLUMNS).

    `share` is the way along the joint, from 0 to 1.
    """
    size = float(np.hypot(joint.end[0] - joint.start[0], joint.end[1] - joint.start[1]))
    taper = _taper(joint, share * size, size)
    steps = [sd * taper * s for sd, s in zip(STEP_SDS_M, _shapes(2.0 * share - 1.0), strict=True)]
    return np.column_stack([*steps, *(np.zeros_like(share) for _ in KINK_SDS)])
