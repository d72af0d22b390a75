"""Where a step may run: lines across which the residuals differ, moved and turned to where they differ most.

For each direction the residuals are summed in strips, which costs little; only what stands out is then looked
at exactly, as a step beside the smooth surface.
"""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from slab_core.numerics.grid import Floats
from slab_core.numerics.kernel import kernel
from slab_core.rooms.model import Floor, Point, Ring
from slab_core.surface.lines import Line, first_direction, length_m, line_of, stretches
from slab_core.surface.model import SplineJoint
from slab_core.surface.step_gain import Smooth, gains

SPACINGS_PER_STRIP = 0.5
LEAST_STRIP_M = 0.08
STRIPS = 2
LEAST_DIRECTIONS, MOST_DIRECTIONS = 12, 96

LEAST_LENGTH_M = 2.5
LEAST_OFF_WALL_M, LEAST_SHARE_BESIDE = 0.5, 0.6
"""Nearer to a wall than this a step is a band that was finished by hand: so far off a line, on either side,
there must be floor along this share of it."""

MOST_SCREENED, MOST_LINES, MOST_REFINED = 60, 12, 2
SCORE_DIGITS = 6
"""Edges that part the readings alike are alike to so many digits, and the first of them comes first; by their
last bits it would be chance which line is looked at."""

PROMISING = 0.5
"""Moving and turning a line hardly ever more than doubles what a step along it explains."""

STEP_HEIGHT_SCALES = (0.5, 1.5)
"""Times STEP_SDS_M of joints.py: a step worth telling is one of some 5 or 15 mm."""

NEAR_SPACINGS, LEAST_SHARE_NEAR = 2.5, 1.2
"""In each third of a line, on each side, so near must lie so many times the readings of one row."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Search:
    """The floor to search and how densely it was read."""

    rings: tuple[Ring, ...]
    direction: float
    middle: Point
    reach_m: float
    spacing_m: float

    @property
    def strip_m(self) -> float:
        """Width of a strip."""
        return max(SPACINGS_PER_STRIP * self.spacing_m, LEAST_STRIP_M)

    @property
    def turn(self) -> float:
        """From one direction to the next, so that the ends of lines come about one spacing apart."""
        count = np.ceil(np.pi * self.reach_m / self.spacing_m)
        return float(np.pi / np.clip(count, LEAST_DIRECTIONS, MOST_DIRECTIONS))


def search_on(floor: Floor, *, readings: int) -> Search:
    """A search of a floor with so many readings."""
    shell = np.array(floor.shell)
    return Search(
        rings=(floor.shell, *floor.gaps),
        direction=first_direction(floor),
        middle=(float(shell[:, 0].mean()), float(shell[:, 1].mean())),
        reach_m=0.75 * float(np.hypot(*np.ptp(shell, axis=0))),
        spacing_m=float(np.sqrt(floor.area_m2 / readings)),
    )


def likeliest_lines(search: Search, smooth: Smooth, *, least: float) -> list[tuple[float, SplineJoint]]:
    """Where steps would explain most, the best first, with the gain of each; none below a gain of `least`."""
    joints: list[SplineJoint] = []
    for line in _screened(search, smooth):
        joints += [joint for joint in _on(search, line) if _well_read(search, smooth, joint)]
        if len(joints) >= MOST_LINES:
            break
    if not joints:
        return []
    gain = _step_gains(smooth, joints)
    promising = [i for i in np.argsort(-gain)[:MOST_REFINED] if gain[i] >= PROMISING * least]
    found = [_refined(search, smooth, joints[i]) for i in promising]
    good = [one for one in found if one[0] >= least and _well_read(search, smooth, one[1])]
    return sorted(good, key=lambda one: -one[0])


def _screened(search: Search, smooth: Smooth) -> Iterator[Line]:
    """Lines in the order of how clearly the strips on both sides differ."""
    angles = search.direction + search.turn * np.arange(round(np.pi / search.turn))
    off = np.column_stack([-np.sin(angles), np.cos(angles)]) @ smooth.at_m.T
    low = off.min(axis=1)
    strip = ((off - low[:, None]) / search.strip_m).astype(np.int64)
    count = int(strip.max()) + 1
    pull, weight = np.zeros((len(angles), count)), np.zeros((len(angles), count))
    _sum_strips(strip, smooth.precision, smooth.precision * smooth.left_m, weight, pull)
    score = np.round(_strip_scores(pull, weight), SCORE_DIGITS)
    for place in _largest(score.ravel(), MOST_SCREENED):
        k, edge = divmod(place, count - 1)
        yield Line(angle=float(angles[k]), offset_m=float(low[k] + (edge + 1) * search.strip_m))


def _largest(score: Floats, count: int) -> list[int]:
    """Places of the largest, the largest first and of equals the first."""
    found = np.arange(len(score))
    if len(score) > count:
        found = np.sort(np.argpartition(score, -count)[-count:])
    order = found[np.argsort(-score[found], kind="stable")]
    return [int(place) for place in order]


@kernel
def _sum_strips(
    strip: NDArray[np.int64], precision: Floats, pulled: Floats, weight: Floats, pull: Floats
) -> None:
    for k in range(strip.shape[0]):
        for i in range(strip.shape[1]):
            weight[k, strip[k, i]] += precision[i]
            pull[k, strip[k, i]] += pulled[i]


def _strip_scores(pull: Floats, weight: Floats) -> Floats:
    """By how much the STRIPS before and behind every edge between strips differ, in standard deviations,
    shape (directions, strips − 1)."""
    pulls, weights = (np.pad(np.cumsum(values, axis=1), ((0, 0), (1, 0))) for values in (pull, weight))
    edges = np.arange(1, pull.shape[1])
    low, high = np.maximum(edges - STRIPS, 0), np.minimum(edges + STRIPS, pull.shape[1])
    jump = pulls[:, high] - 2.0 * pulls[:, edges] + pulls[:, low]
    lighter = np.minimum(weights[:, high] - weights[:, edges], weights[:, edges] - weights[:, low])
    return np.asarray(np.abs(jump) / np.sqrt(np.where(lighter > 0.0, lighter, np.inf)))


def _on(search: Search, line: Line) -> list[SplineJoint]:
    return stretches(line, rings=search.rings, least_m=LEAST_LENGTH_M)


def _well_read(search: Search, smooth: Smooth, joint: SplineJoint) -> bool:
    """Whether there is floor on both sides, and more than one row of readings on it all along."""
    line, length = line_of(joint), length_m(joint)
    for side in (-LEAST_OFF_WALL_M, LEAST_OFF_WALL_M):
        parts = stretches(line.beside(side), rings=search.rings, least_m=0.0)
        if sum(length_m(part) for part in parts) < LEAST_SHARE_BESIDE * length:
            return False
    reach_m = NEAR_SPACINGS * search.spacing_m
    counts = _counts_beside(smooth.at_m, joint.start, line.along, line.normal, length, reach_m)
    return bool(counts.min() >= LEAST_SHARE_NEAR * length / 3.0 / search.spacing_m)


@kernel
def _counts_beside(
    at_m: Floats, start: Point, along: Point, normal: Point, length_m: float, reach_m: float
) -> NDArray[np.int64]:
    """How many places lie within reach of a line, by its side and third, shape (2, 3)."""
    counts = np.zeros((2, 3), dtype=np.int64)
    for i in range(len(at_m)):
        x, y = at_m[i, 0] - start[0], at_m[i, 1] - start[1]
        share, off = (x * along[0] + y * along[1]) / length_m, x * normal[0] + y * normal[1]
        if 0.0 < share < 1.0 and abs(off) < reach_m:
            counts[int(off > 0.0), int(3.0 * share)] += 1
    return counts


def _step_gains(smooth: Smooth, joints: list[SplineJoint]) -> Floats:
    gram, right = smooth.evidence(smooth.even_steps(joints))
    return gains(np.diag(gram), right, scales=STEP_HEIGHT_SCALES)


def _refined(search: Search, smooth: Smooth, joint: SplineJoint) -> tuple[float, SplineJoint]:
    """Moved and turned by halves, quarters and eighths to where it explains most."""
    best = -np.inf
    for share in (0.5, 0.25, 0.125):
        turns = [line_of(joint).turned(k * share * search.turn, about=search.middle) for k in (-1, 0, 1)]
        moves = [k * share * search.strip_m for k in (-2, -1, 0, 1, 2)]
        around = [near for turned in turns for by_m in moves for near in _on(search, turned.beside(by_m))]
        if around:
            gain = _step_gains(smooth, around)
            best, joint = float(gain.max()), around[int(gain.argmax())]
    return best, joint
