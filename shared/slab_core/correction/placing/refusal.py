"""When no way of placing brings a floor into its rules: what stands in the way, and how little would do.

How far a limit has to give at least the optimum says (optimum/relaxations.py). From there on the ways that
follow the cheapest heights are looked for again, as far as a plane needs, so what is said to do was found to.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from math import ceil

from slab_core.correction.feasible import caps_of
from slab_core.correction.model import Plan
from slab_core.correction.optimum.model import Limit
from slab_core.correction.optimum.relaxations import relaxations
from slab_core.correction.placing.followed import weigh_followed
from slab_core.correction.placing.placed import Placed
from slab_core.correction.placing.regimes import poured_demand
from slab_core.correction.placing.weighing import Found, Weighing
from slab_core.correction.planes.least_miss import MET_MM, least_miss
from slab_core.correction.planes.nearest import KEPT_OUT, within
from slab_core.correction.planes.relief import DOORWAYS, FREE, SHOWN_M, at_least, more_needed
from slab_core.correction.task import Task
from slab_core.correction.thresholds import DoorRange, asked_of, slab_is_in_range
from slab_core.correction.unrestricted import demand_of_task
from slab_core.errors import Problem
from slab_core.numerics.budget import Budget

MOST_TRIED = 5
"""So often is a limit tried, each time by what a tape shows further."""

SHOWN_MM = SHOWN_M * 1e3


def with_refusal(plan: Plan, *, task: Task, budget: Budget) -> Plan:
    """A plan that is refused because no plane is allowed, with the refusals of all ways of placing instead;
    others as they are. A keep-out zone that keeps planes off stays named: without it a plane would do.

    Raises
    ------
    Stopped
        the caller ended it.
    """
    refusals = [problem.code for problem in plan.problems if problem.severity == "refusal"]
    if not refusals or KEPT_OUT in refusals:
        return plan
    told = frozenset(problem.pointer for problem in plan.problems)
    return replace(plan, problems=_refusals(task=task, told=told, budget=budget))


def _refusals(*, task: Task, told: frozenset[str | None], budget: Budget) -> tuple[Problem, ...]:
    """One for every doorway that the slab misses, if those are what stops it, of several those that stop
    planes, which are `told`; else one for the limits."""
    missed = [door for door in task.doors if not slab_is_in_range(door=door, surface=task.surface)]
    missed = [door for door in missed if door.pointer in told] or missed
    would_do = _would_do(task=task, budget=budget)
    if not missed or not _is_placed(replace(task, doors=()), budget=budget):
        return (_limits_alone(task=task, would_do=would_do),)
    stops = f"no way of placing was found that meets it and keeps the rules within {within(task)}"
    return tuple(
        Problem(
            code="threshold-unmeetable",
            detail=f"{asked_of(door)}; {stops}.{_spared(door, would_do=would_do)}",
            pointer=door.pointer,
            severity="refusal",
        )
        for door in missed
    )


def _spared(door: DoorRange, *, would_do: list[str]) -> str:
    said = [f"What would do: {', or '.join(would_do)}"] if would_do else []
    said += [DOORWAYS if said else DOORWAYS[0].upper() + DOORWAYS[1:]] if door.is_door else []
    return f" {'; '.join(said)}." if said else ""


def _limits_alone(*, task: Task, would_do: list[str]) -> Problem:
    spare = (
        f"one was found with {', or with '.join(would_do)}"
        if would_do
        else "more of one of them alone was not found to do"
    )
    detail = (
        f"floor {task.floor.id}: no way of placing was found that keeps the rules within {within(task)}, "
        f"everywhere; {spare}."
    )
    return Problem(code="limits-unmeetable", detail=detail, pointer="/limits", severity="refusal")


def _would_do(*, task: Task, budget: Budget) -> list[str]:
    """Each limit that was found to do if it alone gives way, with how far, the least first."""
    doors = demand_of_task(task)
    kept = poured_demand(task=task, to_the_rule=False)
    kept = replace(kept, lowest_mm=doors.lowest_mm, highest_mm=doors.highest_mm)
    least = {one.limit: one.least_mm for one in relaxations(demand=kept, budget=budget)}
    planes = _planes_need(task)
    found: list[tuple[float, str]] = []
    for way in _WAYS:
        if way.limit == "greatest-grind" and task.limits.no_grinding:
            continue
        if way.limit == "greatest-fill" and task.case.one_lift:
            continue
        more_mm = planes.get(way.limit, FREE)
        if way.limit in least:
            more_mm = _found_from(least[way.limit], task=task, way=way, planes_mm=more_mm, budget=budget)
        if more_mm < FREE:
            found.append((more_mm, way.words.format(at_least(more_mm))))
    return [words for _, words in sorted(found)]


def _found_from(least_mm: float, *, task: Task, way: "_Way", planes_mm: float, budget: Budget) -> float:
    """How far the limit has to give for a way to be found, a few steps from the least on; with more a whole
    field on a plane needs so much."""
    first = max(1, ceil(least_mm / SHOWN_MM - 1e-6))
    for more_mm in (SHOWN_MM * count for count in range(first, first + MOST_TRIED)):
        if more_mm >= planes_mm:
            break
        if _is_placed(way.giving(task, more_mm), budget=budget):
            return more_mm
    return planes_mm


def _planes_need(task: Task) -> dict[Limit, float]:
    """How far each limit alone has to give for a plane to be allowed, FREE where that never does; nothing
    where it is not they that stop planes."""
    caps = caps_of(task.case)
    miss = least_miss(task=task, doors=task.doors, caps=caps)
    if miss is not None and miss.worst_mm <= MET_MM:
        return {}
    needs = more_needed(task=task, doors=task.doors)
    return {
        "greatest-grind": needs.get("grinding", FREE),
        "greatest-fill": needs.get("fill", FREE),
        "fixed-ranges": FREE if miss is None else miss.worst_mm,
    }


class _Placed(Exception):
    """A way was found that passes."""


class _Any(Weighing):
    """Ends at the first way that passes, by raising `_Placed`."""

    def offer(self, placed: Placed | None, *, kind: str) -> Found:
        found = Weighing.offer(self, placed, kind=kind)
        if found.passes:
            raise _Placed
        return found


def _is_placed(task: Task, *, budget: Budget) -> bool:
    try:
        weigh_followed(task=task, weighing=_Any(), budget=budget)
    except _Placed:
        return True
    return False


@dataclass(frozen=True, slots=True, kw_only=True)
class _Way:
    """A limit, the task with so many mm more of it, and the words for that."""

    limit: Limit
    giving: Callable[[Task, float], Task]
    words: str


def _more_grinding(task: Task, mm: float) -> Task:
    limits = replace(task.limits, greatest_grind_m=task.limits.greatest_grind_m + mm * 1e-3)
    return replace(task, limits=limits, case=replace(task.case, grind_cap_mm=task.case.grind_cap_mm + mm))


def _more_fill(task: Task, mm: float) -> Task:
    limits = replace(task.limits, greatest_fill_m=task.limits.greatest_fill_m + mm * 1e-3)
    return replace(task, limits=limits, case=replace(task.case, fill_cap_mm=task.case.fill_cap_mm + mm))


def _wider_ranges(task: Task, mm: float) -> Task:
    doors = (
        replace(door, low_m=door.low_m - mm * 1e-3, high_m=door.high_m + mm * 1e-3) for door in task.doors
    )
    return replace(task, doors=tuple(doors))


_WAYS = (
    _Way(limit="greatest-grind", giving=_more_grinding, words="{} more of grinding"),
    _Way(limit="greatest-fill", giving=_more_fill, words="{} more of fill"),
    _Way(limit="fixed-ranges", giving=_wider_ranges, words="ranges that reach {} further at the doorways"),
)
