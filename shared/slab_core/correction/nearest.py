"""When no plane is allowed: the plane that misses least, and what stands in its way."""

from dataclasses import dataclass, replace

import numpy as np

from slab_core.correction.box import FROM_HEIGHTS, whole_box
from slab_core.correction.family import Row
from slab_core.correction.feasible import Caps, add_broken_caps, door_rows
from slab_core.correction.linear import LinearProgramme
from slab_core.correction.task import Task
from slab_core.correction.thresholds import DoorRange, unmeetable
from slab_core.correction.work import Case
from slab_core.errors import Problem
from slab_core.numerics.grid import Floats
from slab_core.stages import PLANE
from slab_core.units.display import inches, millimetres

MET_MM = 0.01
FREE = 1e6


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Miss:
    """`abc_mm` misses the doorways by at most `worst_mm`, and each by as little as that leaves."""

    abc_mm: Floats
    worst_mm: float


def why_infeasible(*, task: Task) -> tuple[Problem, ...]:
    """One refusal for every doorway that is missed, or one for what alone excludes every plane of the family;
    of an alternate other than the usual one each says which."""
    problems = _reasons(task) or (_lift_alone(task),)
    if task.family.alternate == PLANE:
        return problems
    head = f"the alternate {task.family.alternate} cannot be done on floor {task.floor.id}: "
    return tuple(replace(problem, detail=head + problem.detail) for problem in problems)


def _reasons(task: Task) -> tuple[Problem, ...]:
    case = task.case
    miss = _least_miss(
        task, doors=task.doors, caps=Caps(grind_mm=case.grind_cap_mm, fill_mm=case.fill_cap_mm)
    )
    if miss is None:
        return (_limits_alone(task),)
    missed = [
        (door, (heights[0] * 1e-3, heights[1] * 1e-3))
        for door in task.doors
        for heights in [[float(row @ miss.abc_mm) for row, _, _ in door_rows(case=case, door=door)]]
        if any(h < door.low_m * 1e3 - MET_MM or h > door.high_m * 1e3 + MET_MM for h in heights)
    ]
    stopped_by = _what_stops(task) if missed else ""
    return tuple(unmeetable(door=door, nearest_m=near, stopped_by=stopped_by) for door, near in missed)


def _least_miss(task: Task, *, doors: tuple[DoorRange, ...], caps: Caps) -> Miss | None:
    return least_miss(case=task.case, doors=doors, caps=caps, held=task.family_rows)


def least_miss(
    *, case: Case, doors: tuple[DoorRange, ...], caps: Caps, held: tuple[Row, ...] = ()
) -> Miss | None:
    """Smallest greatest miss over the doorways, then smallest sum, of the planes that meet the `held` rows;
    None if caps and rows contradict each other.

    Variables: heights at the three points, the greatest miss, every doorway's own.
    """
    box, count = whole_box(case=case), len(doors)
    programme = LinearProgramme(
        cost=np.concatenate([np.zeros(3), [1.0], np.full(count, 1e-3)]),
        low=np.concatenate([box.low_mm, np.zeros(1 + count)]),
        high=np.concatenate([box.high_mm, np.full(1 + count, np.inf)]),
    )
    for held_row, least, greatest in held:
        wide = np.concatenate([held_row @ FROM_HEIGHTS, np.zeros(1 + count)])
        programme.add_row(coefficients=wide, low=least, high=greatest)
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


def _what_stops(task: Task) -> str:
    case, family = task.case, task.family
    deeper = _least_miss(task, doors=task.doors, caps=Caps(grind_mm=FREE, fill_mm=case.fill_cap_mm))
    if deeper is not None and deeper.worst_mm <= MET_MM:
        if not family.grinds:
            return "this alternate grinds nothing"
        return (
            "no grinding is allowed on this slab"
            if task.limits.no_grinding
            else f"the greatest grinding depth of {_both(case.grind_cap_mm)}"
        )
    higher = _least_miss(task, doors=task.doors, caps=Caps(grind_mm=case.grind_cap_mm, fill_mm=FREE))
    if higher is not None and higher.worst_mm <= MET_MM:
        if not family.fills:
            return "this alternate fills nothing"
        return f"the greatest fill of {_both(case.fill_cap_mm)}"
    free = _least_miss(task, doors=task.doors, caps=Caps(grind_mm=FREE, fill_mm=FREE))
    if free is not None and free.worst_mm > MET_MM:
        return f"no single {_said_plane(task)} runs through all doorways"
    grind, fill = _both(case.grind_cap_mm), _both(case.fill_cap_mm)
    return f"grinding of at most {grind} together with fill of at most {fill}"


def _limits_alone(task: Task) -> Problem:
    """The slab is so far from any such plane that grinding and filling within their limits reach none."""
    needs = {
        what: _extra(task, grind_grows=what == "grinding")
        for what, may_grow in (("grinding", not task.limits.no_grinding), ("fill", task.family.fills))
        if may_grow
    }
    least = min(needs.values(), default=FREE)
    enough = [what for what, more in needs.items() if more <= least + 0.02]
    if least < FREE:
        spare = f"one would with {_both(least)} more of {enough[0] if len(enough) == 1 else 'either'}"
    else:
        spare = f"more of {' or '.join(needs) or 'anything'} alone would not do"
    detail = f"no {_said_plane(task)} lies within {_within(task)}, everywhere; {spare}."
    return Problem(code="limits-unmeetable", detail=detail, pointer="/limits", severity="refusal")


def _within(task: Task) -> str:
    fill = f"{_both(task.case.fill_cap_mm)} of fill"
    if not task.family.grinds:
        return f"{fill} and no grinding"
    if task.limits.no_grinding:
        return f"{fill if task.family.fills else 'no fill'}, and this slab may not be ground"
    return f"{_both(task.case.grind_cap_mm)} of grinding and {fill if task.family.fills else 'no fill'}"


def _lift_alone(task: Task) -> Problem:
    lift = _both(task.case.least_mm)
    detail = (
        f"floor {task.floor.id}: no {_said_plane(task)} keeps the compound's least lift of {lift} everywhere "
        "and meets every threshold, and keys as deep as that may not be ground in. Another compound, one "
        "that may be feathered, would do."
    )
    return Problem(code="least-lift-unmeetable", detail=detail, severity="refusal")


def _said_plane(task: Task) -> str:
    at = "" if task.level_mm is None else f" at {_both(task.level_mm)} above the datum"
    return f"{task.family.plane}{at}"


def _extra(task: Task, *, grind_grows: bool) -> float:
    """How much one cap would have to grow, in mm; FREE where that alone never does. Bisection: a plane exists
    from some value on."""
    z, level = task.case.nodes.z_mm, task.level_mm
    away = 0.0 if level is None else max(0.0, float(z.min()) - level, level - float(z.max()))
    low, high = 0.0, float(np.ptp(z)) + away + 1.0
    if not _is_enough(task, more_mm=high, grind_grows=grind_grows):
        return FREE
    while high - low > 0.01:
        middle = (low + high) / 2
        if _is_enough(task, more_mm=middle, grind_grows=grind_grows):
            high = middle
        else:
            low = middle
    return high


def _is_enough(task: Task, *, more_mm: float, grind_grows: bool) -> bool:
    case = task.case
    caps = Caps(
        grind_mm=case.grind_cap_mm + more_mm * grind_grows,
        fill_mm=case.fill_cap_mm + more_mm * (not grind_grows),
    )
    return _least_miss(task, doors=(), caps=caps) is not None


def _both(mm: float) -> str:
    return f"{inches(mm * 1e-3)} ({millimetres(mm * 1e-3)})"
