"""Where a step may be: lines across which neighbouring strips of residuals differ, and their best place.

For each direction the residuals are gathered in strips, which costs little; only what stands out is
then moved and turned a little, by the exact score of a step beside the spline at its own smoothing.
"""

from dataclasses import dataclass

import numpy as np
import shapely

from slab_core.numerics.grid import Floats
from slab_core.rooms.geometry import floor_polygon
from slab_core.rooms.model import Floor
from slab_core.surface.design import border
from slab_core.surface.joints import STEP_SDS_M, columns, running_on
from slab_core.surface.model import SplineJoint
from slab_core.surface.posterior import solved
from slab_core.surface.robust import Robust, Task
from slab_core.surface.smoothing import Smoothed

DIRECTIONS = 24
LEAST_SCREEN = 3.0
MOST_FITTED = 3
SPACINGS_PER_STRIP = 0.5
STRIPS = 3
INNER_M = 0.5
LEAST_INNER = 6
"""So many readings at least on each side farther than INNER_M: a band along a wall is no joint."""

TURNS = tuple(np.pi / DIRECTIONS * turn for turn in (-0.5, -0.25, 0.0, 0.25, 0.5))
SHIFTS = tuple(0.25 * shift for shift in range(-6, 7))
"""In strips: finer than the readings lie beside each other."""

RIDGE_M = 0.25
CLEARER = 1.0
"""A step must explain the residuals so much better than a strike-off ridge along any of the lines."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """The line x cos a + y sin a = offset, and how much it stands out."""

    angle: float
    offset_m: float
    score: float


def screened(*, floor: Floor, task: Task, robust: Robust, rows: np.ndarray, residual_m: Floats) -> list[Line]:
    """Lines that stand out, at most MOST_FITTED, the clearest first and no two alike."""
    at, sd = task.at_m()[rows], robust.fitted.deleted.sd_m[rows]
    t = residual_m[rows] / sd
    t = np.clip(t / max(1.0, 1.4826 * float(np.median(np.abs(t)))), -4.0, 4.0)
    strip = SPACINGS_PER_STRIP * float(np.sqrt(floor.area_m2 / len(t)))
    lines: list[Line] = []
    for k in range(DIRECTIONS):
        lines += _across(at, t, angle=_first_direction(floor) + np.pi * k / DIRECTIONS, strip=strip)
    chosen: list[Line] = []
    for line in sorted(lines, key=lambda one: -one.score):
        if len(chosen) == MOST_FITTED:
            break
        if all(_differ(line, other, apart=3.0 * strip) for other in chosen):
            chosen.append(line)
    return chosen


def _first_direction(floor: Floor) -> float:
    """Direction of the longest side of the shell: joints mostly run along walls or across them."""
    ends = np.array([*floor.shell, floor.shell[0]])
    sides = np.diff(ends, axis=0)
    x, y = sides[np.hypot(*sides.T).argmax()]
    return float(np.arctan2(y, x))


def _across(at: Floats, t: Floats, *, angle: float, strip: float) -> list[Line]:
    position = at @ (np.cos(angle), np.sin(angle))
    low = float(position.min())
    index = ((position - low) / strip).astype(np.int64)
    total = np.concatenate([[0.0], np.cumsum(np.bincount(index, weights=t))])
    count = np.concatenate([[0.0], np.cumsum(np.bincount(index))])
    inner = np.ceil(INNER_M / strip)
    edges = np.arange(1, len(total) - 1)
    before = np.maximum(edges - STRIPS, 0)
    after = np.minimum(edges + STRIPS, len(total) - 1)
    jump = (total[after] - total[edges]) - (total[edges] - total[before])
    score = np.abs(jump) / np.sqrt(np.maximum(count[after] - count[before], 1.0))
    left = count[np.maximum(edges - inner, 0).astype(np.int64)]
    right = count[-1] - count[np.minimum(edges + inner, len(total) - 1).astype(np.int64)]
    good = (score > LEAST_SCREEN) & (left >= LEAST_INNER) & (right >= LEAST_INNER)
    return [
        Line(angle=angle, offset_m=low + strip * float(edge), score=float(value))
        for edge, value in zip(edges[good], score[good], strict=True)
    ]


def _differ(one: Line, other: Line, *, apart: float) -> bool:
    turned = abs(np.sin(one.angle - other.angle)) > np.sin(np.pi / DIRECTIONS * 1.5)
    sign = 1.0 if np.cos(one.angle - other.angle) > 0 else -1.0
    return bool(turned or abs(one.offset_m - sign * other.offset_m) > apart)


def _stretch(line: Line, floor: Floor) -> SplineJoint | None:
    """The longest stretch of the line that lies on the floor."""
    normal = np.array([np.cos(line.angle), np.sin(line.angle)])
    along, foot = np.array([-normal[1], normal[0]]), line.offset_m * normal
    reach = 2000.0
    whole = shapely.LineString([tuple(foot - reach * along), tuple(foot + reach * along)])
    on_floor = whole.intersection(floor_polygon(floor))
    parts = [part for part in getattr(on_floor, "geoms", [on_floor]) if part.length > 2 * INNER_M]
    if not parts:
        return None
    (x0, y0), *_, (x1, y1) = max(parts, key=lambda part: float(part.length)).coords
    return running_on(floor=floor, start=(float(x0), float(y0)), end=(float(x1), float(y1)))


def placed(
    *, line: Line, floor: Floor, task: Task, robust: Robust, fit: Smoothed, residual_m: Floats
) -> SplineJoint | None:
    """The line, moved and turned to where a step explains the residuals best, as a joint."""
    middle = _stretch(line, floor)
    if middle is None:
        return None
    pivot = np.add(middle.start, middle.end) / 2.0
    strip = SPACINGS_PER_STRIP * float(np.sqrt(floor.area_m2 / task.design.count))
    joints = [
        joint
        for turn in TURNS
        for shift in SHIFTS
        if (joint := _stretch(_moved(line, pivot=pivot, turn=turn, by_m=shift * strip), floor)) is not None
    ]
    at = task.at_m()
    steps = [columns(joints=(joint,), x_m=at[:, 0], y_m=at[:, 1])[:, 0] for joint in joints]
    ridges = [STEP_SDS_M[0] * np.exp(-np.square(_across_m(joint, at) / RIDGE_M)) for joint in joints]
    as_step = _scores(steps, task=task, robust=robust, fit=fit, residual_m=residual_m)
    as_ridge = _scores(ridges, task=task, robust=robust, fit=fit, residual_m=residual_m)
    return joints[int(as_step.argmax())] if as_step.max() > CLEARER * as_ridge.max() else None


def _across_m(joint: SplineJoint, at: Floats) -> Floats:
    (x0, y0), (x1, y1) = joint.start, joint.end
    size = float(np.hypot(x1 - x0, y1 - y0))
    return np.asarray(((x1 - x0) * (at[:, 1] - y0) - (y1 - y0) * (at[:, 0] - x0)) / size)


def _moved(line: Line, *, pivot: Floats, turn: float, by_m: float) -> Line:
    angle = line.angle + turn
    offset = float(pivot @ (np.cos(angle), np.sin(angle))) + by_m
    return Line(angle=angle, offset_m=offset, score=line.score)


def _scores(shapes: list[Floats], *, task: Task, robust: Robust, fit: Smoothed, residual_m: Floats) -> Floats:
    """How much each shape would lower the sum of squares, the spline adapting."""
    one_place = (task.observations.weight[:, 1:] == 0.0).all(axis=1)
    edge = border(
        design=task.design,
        beside=np.column_stack(shapes) * one_place[:, None],
        precision=robust.fitted.used,
        value_m=residual_m,
    )
    taken_up = (edge.cross * solved(fit.found, edge.cross)).sum(axis=0)
    return np.asarray(np.square(edge.right) / (np.diag(edge.own) - taken_up))
