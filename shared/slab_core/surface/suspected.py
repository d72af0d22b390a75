"""Steps in the slab that nobody declared, as far as the readings speak for them.

A step is suggested where it explains the readings clearly better than the smooth surface does, better than a
ridge, a patch or a curled edge along the same line would, and in every third of the line. What explains them
better than a step is put into the model and the search goes on, so that a patch does not hide a step.
"""

import numpy as np

from slab_core.numerics.grid import Floats
from slab_core.rooms.model import Floor, Point
from slab_core.surface.joint_scales import KINK_SCALES, OVERDISPERSION
from slab_core.surface.joints import COLUMNS, STEP_COLUMNS, STEP_SDS_M
from slab_core.surface.lines import length_m, line_of, stretches
from slab_core.surface.model import SplineJoint, SuspectedStep
from slab_core.surface.robust import Robust, Task
from slab_core.surface.step_gain import Smooth, gains, smooth_of
from slab_core.surface.step_search import STEP_HEIGHT_SCALES, Search, likeliest_lines, search_on

LEAST_READINGS = 30
ROUNDS = 4

LEAST_HEIGHT_M, LEAST_SURE_HEIGHT_M, SURE_SDS = 0.003, 0.0015, 5.5
"""Less than about 1/8 in is not worth a look; half of that is where it is known to so many of its standard
deviations, as it is among thousands of readings."""

LEAST_THIRD_SDS = 0.25
"""Each third of the line must show the step, by so many of its standard deviations."""

RIVAL_MOVES, RIVAL_SPACINGS, LEAST_RIVAL_MOVE_M, LEAST_RIVAL_M = 6, 0.5, 0.11, 0.5
"""Lines on either side of the step's along which edges of rivals may run, how far apart, and how long."""

WIDEST_BAND_M = 1.3
"""Ridges and patches that are rivals are not wider."""

BAND_LEAD, KINK_LEAD = 4.0, 2.0
"""By so much, in 2 times the log likelihood, must a rival be ahead of the step, as it may choose its place,
and one with two edges both. These, the least heights and the least of a third were set on the development
slabs of tests/hidden_steps.py, not on those that judge."""

BAND_SCALES = (0.3, 0.5, 1.0)
WIDE_SCALE = 1.5
"""Times STEP_SDS_M of joints.py, as STEP_HEIGHT_SCALES."""


def suspected_steps(*, floor: Floor, task: Task, robust: Robust) -> tuple[SuspectedStep, ...]:
    """Steps that nobody declared, the clearest first; the surface itself is left as it is."""
    if int((robust.fitted.used > 0.0).sum()) < LEAST_READINGS:
        return ()
    smooth = smooth_of(task, robust)
    search = search_on(floor, readings=len(smooth.at_m))
    least = 2.0 * OVERDISPERSION * float(np.log(len(smooth.at_m)))
    found: list[SuspectedStep] = []
    for _ in range(ROUNDS):
        lines = likeliest_lines(search, smooth, least=least)
        if not lines:
            break
        joint = lines[0][1]
        rival, lead = _best_rival(search, smooth, joint)
        if lead > 0.0:
            smooth = _knowing_thirds(smooth, joint, rival)
            continue
        step = smooth.observed(joint)[:, :STEP_COLUMNS]
        suspected = _suspected(smooth, joint, step)
        if _worth_a_look(suspected) and _all_along(smooth, joint, step[:, 0]):
            found.append(suspected)
        smooth = _knowing_thirds(smooth, joint, step[:, 0])
    return tuple(found)


def _best_rival(search: Search, smooth: Smooth, joint: SplineJoint) -> tuple[Floats, float]:
    """Observations of the likeliest ridge, patch or curled edge along the line, shape (n,), and how far ahead
    of the likeliest step there it is."""
    moves_m, beside = _lines_beside(search, joint)
    nearest = slice(max(0, len(beside) // 2 - 2), len(beside) // 2 + 3)
    kinks = smooth.observed(*beside[nearest])[:, STEP_COLUMNS::COLUMNS]
    steps = smooth.even_steps(beside)
    first, second = np.triu_indices(len(beside), k=1)
    near = moves_m[second] - moves_m[first] <= max(WIDEST_BAND_M, 1.01 * search.spacing_m)
    first, second = first[near], second[near]
    gram, right = smooth.evidence(np.hstack([steps, kinks]))
    count = len(beside)
    own = np.diag(gram)
    step = gains(own[:count], right[:count], scales=STEP_HEIGHT_SCALES).max()
    band = gains(
        own[first] + own[second] - 2.0 * gram[first, second], right[first] - right[second], scales=BAND_SCALES
    )
    kink = gains(own[count:], right[count:], scales=KINK_SCALES)
    band, kink = band - BAND_LEAD - step, kink - KINK_LEAD - step
    if len(band) and band.max() >= kink.max():
        best = int(band.argmax())
        return steps[:, first[best]] - steps[:, second[best]], float(band[best])
    best = int(kink.argmax())
    return kinks[:, best], float(kink[best])


def _lines_beside(search: Search, joint: SplineJoint) -> tuple[Floats, list[SplineJoint]]:
    """The line and others parallel to it, in order, with how far to its left each is."""
    line, move_m = line_of(joint), max(RIVAL_SPACINGS * search.spacing_m, LEAST_RIVAL_MOVE_M)
    middle = ((joint.start[0] + joint.end[0]) / 2.0, (joint.start[1] + joint.end[1]) / 2.0)
    moves, found = [], []
    for by_m in move_m * np.arange(-RIVAL_MOVES, RIVAL_MOVES + 1):
        parts = stretches(line.beside(float(by_m)), rings=search.rings, least_m=LEAST_RIVAL_M)
        if parts:
            moves.append(float(by_m))
            found.append(min(parts, key=lambda part: _apart_m(part, middle)))
    return np.array(moves), found


def _apart_m(joint: SplineJoint, place: Point) -> float:
    return float(np.hypot(*(np.add(joint.start, joint.end) / 2.0 - place)))


def _suspected(smooth: Smooth, joint: SplineJoint, columns: Floats) -> SuspectedStep:
    """How high the step is, on the mean along its line, the surface's overdispersion in its error."""
    mean, covariance = _estimate(smooth, columns)
    return SuspectedStep(
        start=_rounded(joint.start),
        end=_rounded(joint.end),
        height_m=round(STEP_SDS_M[0] * float(mean[0]), 6),
        sd_m=round(STEP_SDS_M[0] * float(np.sqrt(OVERDISPERSION * covariance[0, 0])), 6),
    )


def _worth_a_look(suspected: SuspectedStep) -> bool:
    height_m = abs(suspected.height_m)
    sure = height_m >= max(LEAST_SURE_HEIGHT_M, SURE_SDS * suspected.sd_m)
    return height_m >= LEAST_HEIGHT_M or sure


def _rounded(place: Point) -> Point:
    """To tenths of a millimetre, and no negative nothing."""
    return round(place[0], 4) + 0.0, round(place[1], 4) + 0.0


def _all_along(smooth: Smooth, joint: SplineJoint, column: Floats) -> bool:
    """Whether every third of the line shows the same step by itself."""
    mean, covariance = _estimate(smooth, _thirds(smooth, joint, column))
    in_sds = mean / np.sqrt(np.diag(covariance))
    return bool((in_sds * np.sign(in_sds.sum())).min() > LEAST_THIRD_SDS)


def _estimate(smooth: Smooth, columns: Floats) -> tuple[Floats, Floats]:
    gram, right = smooth.evidence(columns)
    covariance = np.linalg.inv(gram + np.eye(len(right)) / WIDE_SCALE**2)
    return covariance @ right, np.asarray(covariance)


def _thirds(smooth: Smooth, joint: SplineJoint, column: Floats) -> Floats:
    """A column as three that fade into each other along the line, shape (n, 3)."""
    along = (smooth.at_m - joint.start) @ line_of(joint).along
    t = 2.0 * np.clip(along / length_m(joint), 0.0, 1.0)
    share = [np.maximum(1.0 - t, 0.0), 1.0 - np.abs(t - 1.0), np.maximum(t - 1.0, 0.0)]
    return np.column_stack(share) * column[:, None]


def _knowing_thirds(smooth: Smooth, joint: SplineJoint, column: Floats) -> Smooth:
    return smooth.knowing(_thirds(smooth, joint, column), sds=np.full(3, WIDE_SCALE))
