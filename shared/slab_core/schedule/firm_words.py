"""Why a job of the firm is done when it is, in words: what each of its tasks waits for, back to the first."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime

import numpy as np

from slab_core.schedule.calendars import zone
from slab_core.schedule.firm_arrays import Arrays
from slab_core.schedule.firm_kernels import Plan, first_hour


@dataclass(frozen=True, slots=True, kw_only=True)
class _Cause:
    """What ended, or None, when, and why that counts."""

    task: int | None
    minute: int
    text: str


def chain(*, arrays: Arrays, plan: Plan, job: int) -> tuple[str, ...]:
    """Sentences from the first task to the job's last one, times local to the crew; it may lead through other
    jobs whose crew or machine is waited for."""
    pointers = arrays.jobs[0]
    task: int | None = max(range(pointers[job], pointers[job + 1]), key=lambda n: (int(plan[1][n]), n))
    seen: set[int] = set()
    sentences: list[str] = []
    while task is not None and task not in seen:
        seen.add(task)
        cause = _cause(arrays, plan, task)
        sentences.append("; ".join([_started(arrays, plan, task, cause), *_holds(arrays, task)]) + ".")
        task = cause.task
    return tuple(reversed(sentences))


def _started(arrays: Arrays, plan: Plan, task: int, cause: _Cause) -> str:
    return f"{_local(arrays, plan, task)}: {_name(arrays, task)} {cause.text}"


def _holds(arrays: Arrays, task: int) -> tuple[str, ...]:
    j, t = arrays.rows[task]
    return arrays.firm.jobs[j].tasks[t].holds


def _cause(arrays: Arrays, plan: Plan, task: int) -> _Cause:
    """The latest thing that keeps a task from starting earlier, if that explains its start."""
    causes = [*_waits(arrays, plan, task), *_busy(arrays, plan, task), _release(arrays, task)]
    latest = max(causes, key=lambda cause: cause.minute)
    crew = int(arrays.choices[1][plan[2][task]])
    pair = crew * arrays.facts[6].shape[0] + int(arrays.facts[0][task])
    if latest.minute == plan[0][task]:
        return latest
    if first_hour(arrays.hours, pair, latest.minute) == plan[0][task]:
        return _Cause(
            task=latest.task,
            minute=latest.minute,
            text=f"{latest.text}, then for the site's hours and the crew's shift",
        )
    if bool(arrays.facts[2][task]):
        text = f"{latest.text}, then for a day that it fits into whole"
        return _Cause(task=latest.task, minute=latest.minute, text=text)
    text = f"starts when it suits the plan; it {latest.text}"
    return _Cause(task=latest.task, minute=latest.minute, text=text)


def _waits(arrays: Arrays, plan: Plan, task: int) -> list[_Cause]:
    pointers, others, least, _ = arrays.lags
    j, t = arrays.rows[task]
    lags = arrays.firm.jobs[j].tasks[t].lags
    found = []
    for n, lag in zip(range(pointers[task], pointers[task + 1]), lags, strict=True):
        other, minutes = int(others[n]), int(least[n])
        name = arrays.firm.jobs[j].tasks[arrays.rows[other][1]].what
        wait = f"waits {minutes / 60:.3g} h for {lag.why or 'the time'} after" if minutes else "comes after"
        found.append(_Cause(task=other, minute=int(plan[1][other]) + minutes, text=f"{wait} “{name}”"))
    return found


def _busy(arrays: Arrays, plan: Plan, task: int) -> list[_Cause]:
    """What ended last before it on the same crew and on the same machine, with the way from there."""
    crews, found = arrays.facts[4].shape[0], []
    rows = [(int(arrays.choices[1][plan[2][task]]), "the crew")]
    if plan[3][task] >= 0:
        machine = arrays.firm.machines[int(plan[3][task])].id
        rows.append((crews + int(plan[3][task]), f"the machine {machine}"))
    for row, what in rows:
        others = plan[5][row, : plan[6][row]]
        others = others[(others != task) & (plan[1][others] <= plan[0][task])]
        if len(others) == 0:
            continue
        places = arrays.facts[0][others]
        ways = np.where(places >= 0, arrays.facts[6][places, arrays.facts[0][task]], 0)
        last = int(np.argmax(plan[1][others] + ways))
        other, minute = int(others[last]), int(plan[1][others[last]] + ways[last])
        if other >= arrays.tasks:
            found.append(_Cause(task=None, minute=minute, text="waits for people who are away"))
        else:
            text = f"waits for {what}, before at work on {_name(arrays, other)}"
            found.append(_Cause(task=other, minute=minute, text=text))
    return found


def _release(arrays: Arrays, task: int) -> _Cause:
    j, t = arrays.rows[task]
    job = arrays.firm.jobs[j]
    minute = int(arrays.facts[3][task])
    if job.tasks[t].not_before == minute:
        return _Cause(task=None, minute=minute, text="waits for what has to be there first")
    return _Cause(task=None, minute=minute, text="begins as early as the job may")


def _name(arrays: Arrays, task: int) -> str:
    j, t = arrays.rows[task]
    job = arrays.firm.jobs[j]
    return f"“{job.tasks[t].what}” of job {job.id}"


def _local(arrays: Arrays, plan: Plan, task: int) -> str:
    crew = arrays.firm.crews[int(arrays.choices[1][plan[2][task]])]
    start = datetime.fromtimestamp(int(plan[0][task]) * 60, tz=UTC)
    return f"{start.astimezone(zone(calendar=crew.calendar)):%Y-%m-%d %H:%M}"
