"""The least of the relaxed cost over the planes of a box, by cutting planes in three variables."""

from dataclasses import dataclass

import numpy as np

from slab_core.correction.feasible import Caps, add_broken_caps
from slab_core.correction.linear import LinearProgramme
from slab_core.correction.planes.box import FROM_HEIGHTS, SUPPORTS, Box
from slab_core.correction.planes.relaxation import Relaxation, value_and_gradient
from slab_core.correction.task import Task
from slab_core.correction.work import Case
from slab_core.numerics.budget import Budget
from slab_core.numerics.grid import Floats

MOST_ROUNDS = 200
CLOSE = 1e-2
WIDER_MM = 1e-3
_COST = np.array([0.0, 0.0, 0.0, 1.0])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Lowest:
    """`bound` holds for every allowed plane of the box; `abc_mm` is the best one met, None if none is
    allowed; `programme` keeps the cuts."""

    bound: float
    abc_mm: Floats | None
    programme: LinearProgramme


def lowest_relaxed(
    *,
    task: Task,
    relaxation: Relaxation,
    box: Box,
    caps: Caps,
    beat: float,
    budget: Budget,
    starts: tuple[Floats, ...] = (),
) -> Lowest:
    """Kelley's cutting planes (J. E. Kelley, 1960; from memory), with the caps' rows added as they break.

    Stops when proven within 1 %, when the bound passes `beat` (nothing better can come), or when the
    budget ends; the bound, fixed charges included, is valid whenever it stops. `starts` are planes to
    cut at first.
    """
    case = task.case
    programme = LinearProgramme(
        cost=_COST, low=np.append(box.low_mm, 0.0), high=np.append(box.high_mm, np.inf)
    )
    for row, least, greatest in task.rows:
        programme.add_row(coefficients=np.append(row @ FROM_HEIGHTS, 0.0), low=least, high=greatest)
    for start in starts:
        _cut(programme=programme, case=case, relaxation=relaxation, abc_mm=start)
        add_broken_caps(programme=programme, case=case, caps=caps, abc_mm=start, basis=FROM_HEIGHTS, more=1)
    best, best_abc, bound = np.inf, None, relaxation.fixed
    for _ in range(MOST_ROUNDS):
        answer = programme.solve()
        if answer is None:
            return Lowest(bound=np.inf, abc_mm=None, programme=programme)
        bound, abc = max(bound, answer.objective + relaxation.fixed), FROM_HEIGHTS @ answer.x[:3]
        broken = add_broken_caps(
            programme=programme, case=case, caps=caps, abc_mm=abc, basis=FROM_HEIGHTS, more=1
        )
        value = _cut(programme=programme, case=case, relaxation=relaxation, abc_mm=abc)
        if broken == 0.0 and value + relaxation.fixed < best:
            best, best_abc = value + relaxation.fixed, abc
        proven = best < np.inf and best - bound <= CLOSE * best
        if proven or bound >= beat or budget.left_s() <= 0.0:
            break
    return Lowest(bound=bound, abc_mm=best_abc, programme=programme)


def tightened(*, lowest: Lowest, relaxation: Relaxation, box: Box, beat: float) -> Box | None:
    """The part of the box that can still hold a plane cheaper than `beat`; None if there is none.

    Uses the cuts of `lowest`, which lie below the cost everywhere in the box, so nothing better is lost.
    """
    programme = lowest.programme
    programme.set_bounds(column=3, low=0.0, high=max(0.0, beat - relaxation.fixed))
    low, high = box.low_mm.copy(), box.high_mm.copy()
    for k in range(3):
        for sign, side in ((1.0, low), (-1.0, high)):
            programme.set_cost(sign * np.eye(4)[k])
            answer = programme.solve()
            if answer is None:
                return None
            side[k] = answer.x[k] - sign * WIDER_MM
    return Box(low_mm=np.maximum(low, box.low_mm), high_mm=np.minimum(high, box.high_mm))


def heights_of(abc_mm: Floats) -> Floats:
    """Heights at the three points."""
    return np.asarray(SUPPORTS @ abc_mm, dtype=np.float64)


def _cut(*, programme: LinearProgramme, case: Case, relaxation: Relaxation, abc_mm: Floats) -> float:
    """Tell the programme that the cost lies above its tangent here; the cost itself."""
    value, *gradient = value_and_gradient(case=case, relaxation=relaxation, abc_mm=abc_mm)
    slope = np.array(gradient)
    programme.add_row(coefficients=np.append(-(slope @ FROM_HEIGHTS), 1.0), low=float(value - slope @ abc_mm))
    return float(value)
