"""A task whose doorways are met in other ways: by a local ramp, another transition, or a cut door.

A ramp is a change of variables: bringing the slab to plane and ramp together is bringing the slab less the
ramp to the plane. So whatever finds, prices and bounds planes does so with ramps too.
"""

from dataclasses import dataclass, replace

import numpy as np
import shapely

from slab_core.correction.feasible import door_rows
from slab_core.correction.ramps_model import DoorWay, DoorWays, DoorWork, Ramped, RampZone
from slab_core.correction.task import Task
from slab_core.correction.thresholds import DoorRange
from slab_core.numerics.grid import HEIGHT_STEP_M, Floats, Ints, Mask
from slab_core.rooms.enclosed import enclosed
from slab_core.tolerance.model import Rule

NEAR_M = 1e-6

LARGEST_SHARE = 0.5
"""A ramp is local: it takes no more of its room than this (our choice)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Chosen:
    """What is done at one of the task's doors."""

    door: int
    way: DoorWay
    length_m: float = 0.0
    rise_m: float = 0.0


def with_doorways(*, task: Task, ways: DoorWays, chosen: tuple[Chosen, ...]) -> Task | None:
    """The task with other ranges at its doorways and with ramps; None if ramps run into each other, into
    another threshold, or over most of a room. Every door is chosen for at most once."""
    doors = list(task.doors)
    for one in chosen:
        doors[one.door] = _changed(doors[one.door], one=one, ways=ways)
    ramped = _ramped(task=task, ways=ways, ramps=[one for one in chosen if one.way == "ramp"])
    if ramped is None:
        return None
    case = task.case
    if ramped.zones:
        shifted = ramped.slab_mm - ramped.lift * (HEIGHT_STEP_M * 1e3)
        case = replace(case, nodes=replace(case.nodes, z_mm=shifted))
    rows = tuple(row for door in doors for row in door_rows(case=case, door=door))
    return replace(
        task,
        doors=tuple(doors),
        case=case,
        rows=(*task.family_rows, *rows),
        ramped=ramped if ramped.zones else None,
    )


def as_planned(*, task: Task, works: tuple[DoorWork, ...]) -> Task:
    """The task with the doorways as an earlier plan left them: ranges as they are then, and ramps as places
    with rules of their own. It is for checking heights: no surface is brought to these ramps."""
    by_door = {(work.room, work.opening): work for work in works}
    doors, zones = [], []
    for door in task.doors:
        work = by_door.get((door.room, door.id))
        if work is None or not door.is_door:
            doors.append(door)
            continue
        low_m, high_m = work.low_m - door.build_up_m, work.high_m - door.build_up_m
        doors.append(replace(door, low_m=low_m, high_m=high_m))
        if work.way == "ramp" and work.rule is not None:
            away = _away_m(task=task, door=door)
            zones.append(_zone(task=task, away_m=away, length_m=work.length_m, rule=work.rule))
    nodes = task.case.nodes
    flat = Ramped(lift=np.zeros(len(nodes.x), dtype=np.int32), slab_mm=nodes.z_mm, zones=tuple(zones))
    rows = tuple(row for door in doors for row in door_rows(case=task.case, door=door))
    return replace(task, doors=tuple(doors), rows=(*task.family_rows, *rows), ramped=flat if zones else None)


def _zone(*, task: Task, away_m: Floats, length_m: float, rule: Rule) -> RampZone:
    inside = task.surface.inside
    return RampZone(
        on=_on_grid(away_m < length_m, inside=inside),
        around=_on_grid(away_m <= length_m + rule.length_m, inside=inside),
        rule=rule,
    )


def _changed(door: DoorRange, *, one: Chosen, ways: DoorWays) -> DoorRange:
    """The range that whatever lies beyond the ramp has to meet at the door."""
    if one.way == "transition":
        return replace(door, low_m=door.low_m - ways.transition_m, high_m=door.high_m + ways.transition_m)
    if one.way == "cut":
        return replace(door, high_m=door.high_m + ways.cut_m)
    return replace(door, low_m=door.low_m - one.rise_m, high_m=door.high_m - one.rise_m)


def _ramped(*, task: Task, ways: DoorWays, ramps: list[Chosen]) -> Ramped | None:
    nodes = task.case.nodes
    lift, taken, zones = np.zeros(len(nodes.x), dtype=np.int32), np.zeros(len(nodes.x), dtype=bool), []
    for one in ramps:
        away = _away_m(task=task, door=task.doors[one.door])
        on = away < one.length_m
        if (taken & on).any() or not _is_local(task=task, one=one, away_m=away):
            return None
        taken |= on
        lift[on] = ramp_steps(away_m=away[on], length_m=one.length_m, rise_m=one.rise_m)
        zones.append(_zone(task=task, away_m=away, length_m=one.length_m, rule=ways.ramp_rule))
    return Ramped(lift=lift, slab_mm=nodes.z_mm, zones=tuple(zones))


def ramp_steps(*, away_m: Floats, length_m: float, rise_m: float) -> Ints:
    """The ramp's height in storage steps, so far from the doorway: from the rise straight to nothing."""
    return np.rint(rise_m / HEIGHT_STEP_M * (1.0 - away_m / length_m)).astype(np.int32)


def _is_local(*, task: Task, one: Chosen, away_m: Floats) -> bool:
    """It takes only a part of its room, and no other threshold lies on it."""
    own = task.doors[one.door]
    line = shapely.LineString(own.ends())
    others = (other for k, other in enumerate(task.doors) if k != one.door and other.room == own.room)
    if any(shapely.distance(line, shapely.LineString(other.ends())) < one.length_m for other in others):
        return False
    return int((away_m < one.length_m).sum()) <= LARGEST_SHARE * int(np.isfinite(away_m).sum())


def _away_m(*, task: Task, door: DoorRange) -> Floats:
    """How far each node of the door's room is from it, straight; infinite for nodes of other rooms."""
    nodes = task.case.nodes
    room = next(room for room in task.floor.rooms if room.id == door.room)
    points = shapely.points(nodes.x, nodes.y)
    shape = shapely.buffer(enclosed(room), NEAR_M)
    shapely.prepare(shape)
    away = shapely.distance(points, shapely.LineString(door.ends()))
    return np.where(shapely.covers(shape, points), away, np.inf)


def _on_grid(values: Mask, *, inside: Mask) -> Mask:
    grid = np.zeros_like(inside)
    grid[inside] = values
    return grid
