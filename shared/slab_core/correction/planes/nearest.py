"""When no plane is allowed: the plane that misses least, and what stands in its way."""

from dataclasses import replace

from slab_core.correction.feasible import Caps, door_rows
from slab_core.correction.planes.least_miss import MET_MM, least_miss
from slab_core.correction.planes.relief import FREE, at_least, more_needed, what_would_do
from slab_core.correction.task import Task
from slab_core.correction.thresholds import unmeetable
from slab_core.errors import Problem
from slab_core.stages import PLANE
from slab_core.units.display import inches, millimetres


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
    miss = least_miss(
        task=task, doors=task.doors, caps=Caps(grind_mm=case.grind_cap_mm, fill_mm=case.fill_cap_mm)
    )
    if miss is None:
        return (_limits_alone(task),)
    missed = [
        (door, (heights[0] * 1e-3, heights[1] * 1e-3))
        for door in task.doors
        for heights in [[float(row @ miss.abc_mm) for row, _, _ in door_rows(case=case, door=door)]]
        if any(h < door.low_m * 1e3 - MET_MM or h > door.high_m * 1e3 + MET_MM for h in heights)
    ]
    if not missed:
        return ()
    stopped_by, relief = _what_stops(task), what_would_do(task=task, worst_mm=miss.worst_mm)
    return tuple(
        unmeetable(door=door, nearest_m=near, stopped_by=stopped_by, relief=relief) for door, near in missed
    )


def _what_stops(task: Task) -> str:
    case, family = task.case, task.family
    deeper = least_miss(task=task, doors=task.doors, caps=Caps(grind_mm=FREE, fill_mm=case.fill_cap_mm))
    if deeper is not None and deeper.worst_mm <= MET_MM:
        if not family.grinds:
            return "this alternate grinds nothing"
        return (
            "no grinding is allowed on this slab"
            if task.limits.no_grinding
            else f"the greatest grinding depth of {_both(case.grind_cap_mm)}"
        )
    higher = least_miss(task=task, doors=task.doors, caps=Caps(grind_mm=case.grind_cap_mm, fill_mm=FREE))
    if higher is not None and higher.worst_mm <= MET_MM:
        if not family.fills:
            return "this alternate fills nothing"
        return f"the greatest fill of {_both(case.fill_cap_mm)}"
    free = least_miss(task=task, doors=task.doors, caps=Caps(grind_mm=FREE, fill_mm=FREE))
    if free is not None and free.worst_mm > MET_MM:
        return f"no single {_said_plane(task)} runs through all doorways"
    grind, fill = _both(case.grind_cap_mm), _both(case.fill_cap_mm)
    return f"grinding of at most {grind} together with fill of at most {fill}"


def _limits_alone(task: Task) -> Problem:
    """The slab is so far from any such plane that grinding and filling within their limits reach none."""
    needs = more_needed(task=task, doors=())
    least = min(needs.values(), default=FREE)
    enough = [what for what, more in needs.items() if more <= least + 0.02]
    if least < FREE:
        spare = f"one would with {at_least(least)} more of {enough[0] if len(enough) == 1 else 'either'}"
    else:
        spare = f"more of {' or '.join(needs) or 'anything'} alone would not do"
    detail = f"no {_said_plane(task)} lies within {within(task)}, everywhere; {spare}."
    return Problem(code="limits-unmeetable", detail=detail, pointer="/limits", severity="refusal")


def within(task: Task) -> str:
    """The limits in words, as a family has them."""
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


def _both(mm: float) -> str:
    return f"{inches(mm * 1e-3)} ({millimetres(mm * 1e-3)})"
