"""The least of the relaxed cost over all allowed planes, by cutting planes in three variables."""

from dataclasses import dataclass

import numpy as np

from slab_core.correction.feasible import Caps, add_broken_caps, door_rows, plane_bounds
from slab_core.correction.linear import LinearProgramme
from slab_core.correction.relaxation import Relaxation, value_and_gradient
from slab_core.correction.thresholds import DoorRange
from slab_core.correction.work import Case
from slab_core.numerics.budget import Budget
from slab_core.numerics.grid import Floats

MOST_ROUNDS = 200
CLOSE = 2e-3


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Lowest:
    """`bound` holds for every allowed plane; `abc_mm` is the best one met, None if none is allowed."""

    bound: float
    value: float
    abc_mm: Floats | None


def lowest_relaxed(
    *,
    case: Case,
    relaxation: Relaxation,
    doors: tuple[DoorRange, ...],
    caps: Caps,
    beat: float,
    budget: Budget,
    starts: tuple[Floats, ...] = (),
) -> Lowest:
    """Kelley's cutting planes (J. E. Kelley, 1960; from memory), with the caps' rows added as they break.

    Stops when proven within 0.2 %, when the bound passes `beat` (nothing better can come), or when the
    budget ends; the bound is valid whenever it stops. `starts` are planes to cut at first.
    """
    low, high = plane_bounds(case=case)
    programme = LinearProgramme(
        cost=np.array([0.0, 0.0, 0.0, 1.0]), low=np.append(low, 0.0), high=np.append(high, np.inf)
    )
    for door in doors:
        for row, least, greatest in door_rows(case=case, door=door):
            programme.add_row(coefficients=np.append(row, 0.0), low=least, high=greatest)
    for start in starts:
        _cut(programme=programme, case=case, relaxation=relaxation, abc_mm=start)
        add_broken_caps(programme=programme, case=case, caps=caps, abc_mm=start, more=1)
    best, best_abc, bound = np.inf, None, 0.0
    for _ in range(MOST_ROUNDS):
        answer = programme.solve()
        if answer is None:
            return Lowest(bound=np.inf, value=np.inf, abc_mm=None)
        bound, abc = max(bound, answer.objective), answer.x[:3]
        broken = add_broken_caps(programme=programme, case=case, caps=caps, abc_mm=abc, more=1)
        value = _cut(programme=programme, case=case, relaxation=relaxation, abc_mm=abc)
        if broken == 0.0 and value < best:
            best, best_abc = value, abc
        proven = best < np.inf and best - bound <= CLOSE * best
        if proven or bound >= beat or budget.left_s() <= 0.0:
            break
    return Lowest(bound=bound, value=best, abc_mm=best_abc)


def _cut(*, programme: LinearProgramme, case: Case, relaxation: Relaxation, abc_mm: Floats) -> float:
    """Tell the programme that the cost lies above its tangent here; the cost itself."""
    value, *gradient = value_and_gradient(case=case, relaxation=relaxation, abc_mm=abc_mm)
    slope = np.array(gradient)
    programme.add_row(coefficients=np.append(-slope, 1.0), low=float(value - slope @ abc_mm))
    return float(value)
