"""Why a job of the firm is done when it is, in words: what each of its tasks waits for, back to the first."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import UTC, datetime
from itertools import groupby

import numpy as np

from slab_core.schedule.calendars import zone
from slab_core.schedule.firm.arrays import Arrays
from slab_core.schedule.firm.closed import closed
from slab_core.schedule.firm.kernels import Plan, Whole, first_span


@dataclass(frozen=True, slots=True, kw_only=True)
class _Cause:
    """What ended, or None, when, and why that counts. With `at_once` the one follows the other in a job
    without any wait."""

    task: int | None
    minute: int
    text: str
    at_once: bool = False


def chain(*, arrays: Arrays, plan: Plan, job: int) -> tuple[str, ...]:
    """Sentences from the first task to the job's last one, times local to the crew; it may lead through other
    jobs whose crew or machine is waited for. What follows at once, piece after piece, is one sentence."""
    pointers = arrays.jobs[0]
    task: int | None = max(range(pointers[job], pointers[job + 1]), key=lambda n: (int(plan[1][n]), n))
    found = dict[int, _Cause]()
    while task is not None and task not in found:
        found[task] = _cause(arrays, plan, task)
        task = found[task].task
    links = reversed(found.items())
    sentences = list[str]()
    for plain, several in groupby(links, key=lambda link: link[1].at_once and not _holds(arrays, link[0])):
        run = list(several)
        if plain and len(run) > 1:
            sentences.append(_run(arrays, plan, [task for task, _ in run]))
        else:
            sentences += [_sentence(arrays, plan, task, cause) for task, cause in run]
    return tuple(sentences)


def _sentence(arrays: Arrays, plan: Plan, task: int, cause: _Cause) -> str:
    started = f"{_local(arrays, plan, task)}: {_name(arrays, task)} {cause.text}"
    return "; ".join([started, *_holds(arrays, task)]) + "."


def _run(arrays: Arrays, plan: Plan, tasks: list[int]) -> str:
    """Pieces that follow each other at once."""
    first, last = _what(arrays, tasks[0]), _name(arrays, tasks[-1])
    joined = f"“{first}” and {last}" if len(tasks) == 2 else f"“{first}” to {last}"
    return f"{_local(arrays, plan, tasks[0])}: {joined} follow at once, {len(tasks)} pieces of work."


def _holds(arrays: Arrays, task: int) -> tuple[str, ...]:
    j, t = arrays.rows[task]
    return arrays.firm.jobs[j].tasks[t].holds


def _cause(arrays: Arrays, plan: Plan, task: int) -> _Cause:
    """The latest thing that keeps a task from starting earlier, if that explains its start."""
    causes = [*_waits(arrays, plan, task), *_busy(arrays, plan, task), _release(arrays, task)]
    latest = max(causes, key=lambda cause: cause.minute)
    start, choice = int(plan[0][task]), int(plan[2][task])
    crew, place, whole = int(arrays.choices[1][choice]), int(arrays.facts[0][task]), arrays.facts[2][task]
    pair = crew * arrays.facts[6].shape[0] + place
    if latest.minute == start:
        return latest
    minutes = int(arrays.choices[3][choice])
    could, end = first_span(arrays.hours, pair, latest.minute, minutes, bool(whole))
    if could != start and (follower := _held_back(arrays, plan, task, end)):
        text = f"{latest.text}; it is held back so that {follower}"
    elif could != start:
        sooner = f"could start from {_moment(arrays, crew, could)} on and " if 0 <= could < start else ""
        text = f"{latest.text}; it {sooner}starts when it suits the plan"
    elif first_span(arrays.hours, pair, latest.minute, 1, False)[0] < start:
        text = f"{latest.text}, then for a day that it fits into whole"
    else:
        why = closed(arrays=arrays, crew=crew, place=place, begin=latest.minute, end=start)
        text = f"{latest.text}, then for {why}"
    return replace(latest, text=text, at_once=False)


def _held_back(arrays: Arrays, plan: Plan, task: int, end: int) -> str:
    """What of the job would come too late after the task if that had ended at a minute; "" for nothing."""
    pointers, others, _, greatest = arrays.lags
    j = arrays.rows[task][0]
    for other in range(arrays.jobs[0][j], arrays.jobs[0][j + 1]):
        for n in range(pointers[other], pointers[other + 1]):
            if others[n] == task and 0 <= greatest[n] < plan[0][other] - end:
                return f"“{_what(arrays, other)}” follows within {greatest[n] / 60:.3g} h"
    return ""


def _waits(arrays: Arrays, plan: Plan, task: int) -> list[_Cause]:
    pointers, others, least, _ = arrays.lags
    j, t = arrays.rows[task]
    lags = arrays.firm.jobs[j].tasks[t].lags
    found = []
    for n, lag in zip(range(pointers[task], pointers[task + 1]), lags, strict=True):
        other, minutes = int(others[n]), int(least[n])
        wait = f"waits {minutes / 60:.3g} h for {lag.why or 'the time'} after" if minutes else "comes after"
        text = f"{wait} “{_what(arrays, other)}”"
        found.append(
            _Cause(task=other, minute=int(plan[1][other]) + minutes, text=text, at_once=minutes == 0)
        )
    return found


def _busy(arrays: Arrays, plan: Plan, task: int) -> list[_Cause]:
    """What ended last before it and had taken the people, or the machine, that it needs; with the way from
    there."""
    crews, crew, found = arrays.facts[4].shape[0], int(arrays.choices[1][plan[2][task]]), []
    rows = [(crew, "the crew")]
    if plan[3][task] >= 0:
        machine = arrays.firm.machines[int(plan[3][task])].id
        rows.append((crews + int(plan[3][task]), f"the machine {machine}"))
    for row, what in rows:
        others = plan[5][row, : plan[6][row]]
        others = others[(others != task) & (plan[1][others] <= plan[0][task])]
        if row == crew:
            others = _taken(arrays, plan, task, crew, others)
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


def _taken(arrays: Arrays, plan: Plan, task: int, crew: int, others: Whole) -> Whole:
    """Those of a crew's others that are elsewhere, or at whose end too few people were left."""
    starts, ends, people = plan[0], plan[1], plan[4]
    row = plan[5][crew, : plan[6][crew]]
    last = ends[others] - 1
    at_work = (starts[row] <= last[:, np.newaxis]) & (last[:, np.newaxis] < ends[row]) & (row != task)
    full = (at_work * people[row]).sum(axis=1) + people[task] > arrays.facts[4][crew]
    places = arrays.facts[0][others]
    away = (places >= 0) & (places != arrays.facts[0][task])
    found: Whole = others[full | away]
    return found


def _release(arrays: Arrays, task: int) -> _Cause:
    j, t = arrays.rows[task]
    job = arrays.firm.jobs[j]
    minute = int(arrays.facts[3][task])
    if job.tasks[t].not_before == minute:
        return _Cause(task=None, minute=minute, text="waits for what has to be there first")
    return _Cause(task=None, minute=minute, text="begins as early as the job may")


def _what(arrays: Arrays, task: int) -> str:
    j, t = arrays.rows[task]
    return arrays.firm.jobs[j].tasks[t].what


def _name(arrays: Arrays, task: int) -> str:
    return f"“{_what(arrays, task)}” of job {arrays.firm.jobs[arrays.rows[task][0]].id}"


def _local(arrays: Arrays, plan: Plan, task: int) -> str:
    return _moment(arrays, int(arrays.choices[1][plan[2][task]]), int(plan[0][task]))


def _moment(arrays: Arrays, crew: int, minute: int) -> str:
    local = zone(calendar=arrays.firm.crews[crew].calendar)
    return f"{datetime.fromtimestamp(minute * 60, tz=UTC).astimezone(local):%a %Y-%m-%d %H:%M}"
