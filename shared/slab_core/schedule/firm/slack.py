"""How much later each visit may start while everything else stays where it is and nothing new is late."""

from __future__ import annotations

import numpy as np

from slab_core.schedule.firm.arrays import Arrays
from slab_core.schedule.firm.kernels import Plan, Whole

_NEVER = 2**62


def latest_starts(*, arrays: Arrays, plan: Plan, fixed: Whole) -> tuple[int, ...]:
    """For each task the last UTC minute at which it may start with the same crew, people and machine.

    What waits for it, what its crew and machine do next, the job's promise and its own greatest lags are
    kept. `fixed` (tasks, 4) are tasks that stay where they are, marked by a choice that is not -1.
    """
    limits = _ends(arrays, plan)
    return tuple(
        int(plan[0][task]) if fixed[task, 2] >= 0 else _latest(arrays, plan, task, int(limits[task]))
        for task in range(arrays.tasks)
    )


def _ends(arrays: Arrays, plan: Plan) -> Whole:
    """The minute by which each task must have ended for what comes after it."""
    starts, ends, tasks = plan[0], plan[1], arrays.tasks
    pointers, promised, job_of = arrays.jobs
    finishes = np.maximum.reduceat(ends[:tasks], pointers[:-1])
    due = np.where(promised >= 0, np.maximum(promised, finishes), _NEVER)
    limits: Whole = due[job_of].astype(np.int64)
    of, others, least, _ = arrays.lags
    for task in range(tasks):
        for n in range(of[task], of[task + 1]):
            limits[others[n]] = min(limits[others[n]], starts[task] - least[n])
    for row in range(len(plan[6])):
        _keep_row(arrays, plan, plan[5][row, : plan[6][row]], limits)
    return limits


def _keep_row(arrays: Arrays, plan: Plan, row: Whole, limits: Whole) -> None:
    """Whatever starts on a crew or machine once a task has ended must find it free. What starts before has
    room beside the task already."""
    starts, ends = plan[0], plan[1]
    places, travel = arrays.facts[0], arrays.facts[6]
    for task in row[row < arrays.tasks]:
        later = row[starts[row] >= ends[task]]
        away = np.where(places[later] >= 0, travel[places[task], places[later]], 0)
        if len(later):
            limits[task] = min(limits[task], (starts[later] - away).min())


def _latest(arrays: Arrays, plan: Plan, task: int, limit: int) -> int:
    now = int(plan[0][task])
    of, others, _, greatest = arrays.lags
    bounds = [
        int(plan[1][others[n]] + greatest[n]) for n in range(of[task], of[task + 1]) if greatest[n] >= 0
    ]
    last = min([_back_from(arrays, plan, task, limit), *bounds])
    return max(now, _open_at(arrays, plan, task, last))


def _hours(arrays: Arrays, plan: Plan, task: int) -> tuple[Whole, Whole, Whole]:
    """Stretches in which the task's crew may be at its site: from, until, day."""
    pointers, begins, ends, days = arrays.hours
    crew = int(arrays.choices[1][plan[2][task]])
    pair = crew * arrays.facts[6].shape[0] + int(arrays.facts[0][task])
    of = slice(pointers[pair], pointers[pair + 1])
    return begins[of], ends[of], days[of]


def _back_from(arrays: Arrays, plan: Plan, task: int, limit: int) -> int:
    """The last start from which the task is done by a minute; of one that ends on its day, on one day."""
    begins, ends, days = _hours(arrays, plan, task)
    minutes, whole = int(arrays.choices[3][plan[2][task]]), bool(arrays.facts[2][task])
    left, day = minutes, -1
    for k in range(int(np.searchsorted(begins, limit)) - 1, -1, -1):
        if whole and days[k] != day:
            left, day = minutes, int(days[k])
        free = min(int(ends[k]), limit) - int(begins[k])
        if free >= left:
            return min(int(ends[k]), limit) - left
        left -= max(0, free)
    return int(plan[0][task])


def _open_at(arrays: Arrays, plan: Plan, task: int, last: int) -> int:
    """The last minute of work up to a minute from which the task fits as it must."""
    begins, ends, days = _hours(arrays, plan, task)
    minutes, whole = int(arrays.choices[3][plan[2][task]]), bool(arrays.facts[2][task])
    for k in range(int(np.searchsorted(begins, last, side="right")) - 1, -1, -1):
        start = min(last, int(ends[k]) - 1)
        same = (days == days[k]) & (ends > start)
        room = int((ends[same] - np.maximum(begins[same], start)).sum())
        if not whole or room >= minutes:
            return start
    return int(plan[0][task])
