"""When no plane is allowed: the plane that misses least, and what stands in its way."""

from collections.abc import Iterable
from dataclasses import replace

from slab_core.correction.feasible import caps, door_rows
from slab_core.correction.keep_outs import Zone
from slab_core.correction.planes.least_miss import MET_MM, Miss, least_miss
from slab_core.correction.planes.relief import FREE, at_least, more_needed, what_would_do
from slab_core.correction.task import Task
from slab_core.correction.thresholds import DoorRange, said_all, unmeetable
from slab_core.errors import Problem
from slab_core.stages import PLANE
from slab_core.units.display import in_both

KEPT_OUT = "keep-out-unmeetable"
"""No plane is allowed as one zone is kept off; without it one would be."""


def why_infeasible(*, task: Task) -> tuple[Problem, ...]:
    """One refusal for every keep-out zone without which there would be a plane, else for every doorway that
    is missed, or one for what alone excludes every plane of the family; of an alternate other than the usual
    one each says which."""
    problems = _zones_alone(task) or _reasons(task) or (_lift_alone(task),)
    if task.family.alternate == PLANE:
        return problems
    head = f"the alternate {task.family.alternate} cannot be done on floor {task.floor.id}: "
    return tuple(replace(problem, detail=head + problem.detail) for problem in problems)


def _reasons(task: Task) -> tuple[Problem, ...]:
    case = task.case
    miss = _nearest(task, grind_mm=case.grind_cap_mm, fill_mm=case.fill_cap_mm)
    if miss is None:
        return (_limits_alone(task),)
    missed = _missed(task, miss)
    if not missed:
        return ()
    stopped_by, relief = _what_stops(task), what_would_do(task=task, worst_mm=miss.worst_mm)
    return tuple(
        unmeetable(door=door, nearest_m=near, stopped_by=stopped_by, relief=relief) for door, near in missed
    )


def _missed(task: Task, miss: Miss) -> list[tuple[DoorRange, tuple[float, float]]]:
    """What has a threshold and is missed, with the heights in m at both ends there; of the sides of one
    obstacle that which is missed most."""
    found: dict[str, tuple[float, DoorRange, tuple[float, float]]] = {}
    for door in task.doors:
        start, end = (float(row @ miss.abc_mm) * 1e-3 for row, _, _ in door_rows(case=task.case, door=door))
        off_m = max(door.low_m - min(start, end), max(start, end) - door.high_m)
        if off_m > max(MET_MM * 1e-3, found[door.pointer][0] if door.pointer in found else 0.0):
            found[door.pointer] = off_m, door, (start, end)
    return [(door, ends) for _, door, ends in found.values()]


def _nearest(task: Task, *, grind_mm: float, fill_mm: float) -> Miss | None:
    """The plane that misses the doorways least within these depths and the keep-out zones."""
    within = caps(task.case, grind_mm=grind_mm, fill_mm=fill_mm)
    return least_miss(task=task, doors=task.doors, caps=within)


def _what_stops(task: Task) -> str:
    case, family = task.case, task.family
    deeper = _nearest(task, grind_mm=FREE, fill_mm=case.fill_cap_mm)
    if deeper is not None and deeper.worst_mm <= MET_MM:
        if not family.grinds:
            return "this alternate grinds nothing"
        return (
            "no grinding is allowed on this slab"
            if task.limits.no_grinding
            else f"the greatest grinding depth of {_both(case.grind_cap_mm)}"
        )
    higher = _nearest(task, grind_mm=case.grind_cap_mm, fill_mm=FREE)
    if higher is not None and higher.worst_mm <= MET_MM:
        if not family.fills:
            return "this alternate fills nothing"
        return f"the greatest fill of {_both(case.fill_cap_mm)}{_one_lift(task)}"
    free = _nearest(task, grind_mm=FREE, fill_mm=FREE)
    if free is not None and free.worst_mm > MET_MM:
        return f"no single {_said_plane(task)} runs through all {said_all(task.doors)}"
    grind, fill = _both(case.grind_cap_mm), _both(case.fill_cap_mm)
    return f"grinding of at most {grind} together with fill of at most {fill}{_one_lift(task)}"


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
    """The limits of fill and grinding, and the keep-out zones."""
    return f"{_depths(task)}{_kept_out(task)}"


def _kept_out(task: Task) -> str:
    """What the keep-out zones forbid of what else would be allowed."""
    left = _named(zone for zone in task.zones if not zone.keep_out.fills)
    unground = _named(zone for zone in task.zones if zone.keep_out.fills)
    said = f", nothing ground in {unground}" if unground and task.case.grind_cap_mm > 0.0 else ""
    if left:
        said += f", {left} left as it is no farther off than {_both(task.case.left_mm)}"
    return said


def _named(zones: Iterable[Zone]) -> str:
    return " and ".join(zone.keep_out.said() for zone in zones)


def _one_lift(task: Task) -> str:
    """What holds the fill where the limits do not."""
    if not task.case.one_lift or not task.family.fills:
        return ""
    return f" (one lift of “{task.compound.name}”: two would each be thinner than its least)"


def _depths(task: Task) -> str:
    fill = f"{_both(task.case.fill_cap_mm)} of fill{_one_lift(task)}"
    if not task.family.grinds:
        return f"{fill} and no grinding"
    if task.limits.no_grinding:
        return f"{fill if task.family.fills else 'no fill'}, and this slab may not be ground"
    return f"{_both(task.case.grind_cap_mm)} of grinding and {fill if task.family.fills else 'no fill'}"


def _zones_alone(task: Task) -> tuple[Problem, ...]:
    """One refusal for each keep-out zone without which a plane would be allowed; for all of them together
    where none does alone. None where zones are not what stops it."""
    if not task.zones or _is_allowed(task) or not _is_allowed(task.without(task.zones)):
        return ()
    alone = tuple(zone for zone in task.zones if _is_allowed(task.without((zone,))))
    together = "without all keep-out zones"
    return tuple(
        _zone_stops(task, zone=zone, spared=f"without {zone.keep_out.said()}" if alone else together)
        for zone in alone or task.zones
    )


def _is_allowed(task: Task) -> bool:
    """Whether some plane lies within the limits and meets every doorway."""
    miss = _nearest(task, grind_mm=task.case.grind_cap_mm, fill_mm=task.case.fill_cap_mm)
    return miss is not None and miss.worst_mm <= MET_MM


def _zone_stops(task: Task, *, zone: Zone, spared: str) -> Problem:
    meets = " and meets every threshold" if task.doors else ""
    more = ", or more fill" if task.family.fills else ""
    detail = (
        f"no {_said_plane(task)} lies within {within(task)}, everywhere{meets}; {spared} one would. "
        f"What would do: a smaller zone{more}. Only floors that need not lie on one plane (the alternate "
        " cheapest) may leave a zone farther off, if the rules allow that."
    )
    return Problem(code=KEPT_OUT, detail=detail, pointer=zone.pointer, severity="refusal")


def _lift_alone(task: Task) -> Problem:
    lift = _both(task.case.least_mm)
    detail = (
        f"floor {task.floor.id}: no {_said_plane(task)} keeps the compound's least lift of {lift} everywhere "
        f"and meets every threshold, and keys as deep as that may not be ground in{_in_zones(task)}. Another "
        "compound, one that may be feathered, would do."
    )
    return Problem(code="least-lift-unmeetable", detail=detail, severity="refusal")


def _in_zones(task: Task) -> str:
    """The keep-out zones, where no key is ground in though elsewhere one may be."""
    if task.case.grind_cap_mm < task.case.least_mm:
        return ""
    zones = _named(zone for zone in task.zones if zone.keep_out.fills)
    return f", in {zones} none at all" if zones else ""


def _said_plane(task: Task) -> str:
    at = "" if task.level_mm is None else f" at {_both(task.level_mm)} above the datum"
    return f"{task.family.plane}{at}"


def _both(mm: float) -> str:
    return in_both(mm * 1e-3)
