"""When no plane is allowed: the plane that misses least, and what stands in its way."""

from dataclasses import dataclass

import numpy as np

from slab_core.correction.box import FROM_HEIGHTS, whole_box
from slab_core.correction.feasible import Caps, add_broken_caps, door_rows
from slab_core.correction.linear import LinearProgramme
from slab_core.correction.thresholds import DoorRange, unmeetable
from slab_core.correction.work import Case
from slab_core.errors import Problem
from slab_core.numerics.grid import Floats
from slab_core.units.display import inches, millimetres

MET_MM = 0.01
FREE = 1e6


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Miss:
    """`abc_mm` misses the doorways by at most `worst_mm`, and each by as little as that leaves."""

    abc_mm: Floats
    worst_mm: float


def why_infeasible(*, case: Case, doors: tuple[DoorRange, ...], no_grinding: bool) -> tuple[Problem, ...]:
    """One refusal for every doorway that is missed, or one for the limits when they alone exclude a plane."""
    caps = Caps(grind_mm=case.grind_cap_mm, fill_mm=case.fill_cap_mm)
    miss = least_miss(case=case, doors=doors, caps=caps)
    if miss is None:
        return (_limits_alone(case=case, no_grinding=no_grinding),)
    stopped_by = _what_stops(case=case, doors=doors, no_grinding=no_grinding)
    problems: list[Problem] = []
    for door in doors:
        heights = [float(row @ miss.abc_mm) for row, _, _ in door_rows(case=case, door=door)]
        if any(h < door.low_m * 1e3 - MET_MM or h > door.high_m * 1e3 + MET_MM for h in heights):
            nearest = (heights[0] * 1e-3, heights[1] * 1e-3)
            problems.append(unmeetable(door=door, nearest_m=nearest, stopped_by=stopped_by))
    return tuple(problems)


def least_miss(*, case: Case, doors: tuple[DoorRange, ...], caps: Caps) -> Miss | None:
    """Smallest greatest miss over the doorways, then smallest sum; None if the caps contradict each other.

    Variables: heights at the three points, the greatest miss, every doorway's own.
    """
    box, count = whole_box(case=case), len(doors)
    programme = LinearProgramme(
        cost=np.concatenate([np.zeros(3), [1.0], np.full(count, 1e-3)]),
        low=np.concatenate([box.low_mm, np.zeros(1 + count)]),
        high=np.concatenate([box.high_mm, np.full(1 + count, np.inf)]),
    )
    for k, door in enumerate(doors):
        own = np.eye(count)[k]
        programme.add_row(coefficients=np.concatenate([np.zeros(3), [1.0], -own]), low=0.0)
        for abc_row, least, greatest in door_rows(case=case, door=door):
            row = abc_row @ FROM_HEIGHTS
            programme.add_row(coefficients=np.concatenate([row, [0.0], own]), low=least)
            programme.add_row(coefficients=np.concatenate([row, [0.0], -own]), high=greatest)
    while (answer := programme.solve()) is not None:
        abc = FROM_HEIGHTS @ answer.x[:3]
        broken = add_broken_caps(
            programme=programme, case=case, caps=caps, abc_mm=abc, basis=FROM_HEIGHTS, more=1 + count
        )
        if broken == 0.0:
            return Miss(abc_mm=abc, worst_mm=float(answer.x[3]))
    return None


def _what_stops(*, case: Case, doors: tuple[DoorRange, ...], no_grinding: bool) -> str:
    deeper = least_miss(case=case, doors=doors, caps=Caps(grind_mm=FREE, fill_mm=case.fill_cap_mm))
    if deeper is not None and deeper.worst_mm <= MET_MM:
        return (
            "no grinding is allowed on this slab"
            if no_grinding
            else f"the greatest grinding depth of {_both(case.grind_cap_mm)}"
        )
    higher = least_miss(case=case, doors=doors, caps=Caps(grind_mm=case.grind_cap_mm, fill_mm=FREE))
    if higher is not None and higher.worst_mm <= MET_MM:
        return f"the greatest fill of {_both(case.fill_cap_mm)}"
    free = least_miss(case=case, doors=doors, caps=Caps(grind_mm=FREE, fill_mm=FREE))
    if free is not None and free.worst_mm > MET_MM:
        return "no single plane runs through all doorways"
    grind, fill = _both(case.grind_cap_mm), _both(case.fill_cap_mm)
    return f"grinding of at most {grind} together with fill of at most {fill}"


def _limits_alone(*, case: Case, no_grinding: bool) -> Problem:
    """The slab is so far from any plane that grinding and filling within their limits cannot reach one."""
    spare = least_over_caps_mm(case=case)
    within = f"{_both(case.grind_cap_mm)} of grinding and {_both(case.fill_cap_mm)} of fill"
    what = "either"
    if no_grinding:
        within, what = f"{_both(case.fill_cap_mm)} of fill, and this slab may not be ground", "fill"
    detail = f"no plane lies within {within}, everywhere; one would with {_both(spare)} more of {what}."
    return Problem(code="limits-unmeetable", detail=detail, pointer="/limits", severity="refusal")


def least_over_caps_mm(*, case: Case) -> float:
    """How much the greatest grind or the greatest fill, whichever is less, would have to grow."""
    needs = [
        _extra(case=case, grind_grows=True),
        _extra(case=case, grind_grows=False),
    ]
    return min(needs)


def _extra(*, case: Case, grind_grows: bool) -> float:
    """Bisection on one cap: a plane exists from some value on."""
    low, high = 0.0, float(np.ptp(case.nodes.z_mm)) + 1.0
    while high - low > 0.01:
        middle = (low + high) / 2
        caps = Caps(
            grind_mm=case.grind_cap_mm + middle * grind_grows,
            fill_mm=case.fill_cap_mm + middle * (not grind_grows),
        )
        if least_miss(case=case, doors=(), caps=caps) is None:
            low = middle
        else:
            high = middle
    return high


def _both(mm: float) -> str:
    return f"{inches(mm * 1e-3)} ({millimetres(mm * 1e-3)})"
