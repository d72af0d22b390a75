"""What would make a plan of the firm impossible, each thing named."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from slab_core.errors import InputRefused, Problem
from slab_core.schedule.firm.model import Firm, FirmJob, Task


def check_firm(firm: Firm) -> None:
    """Refuse what can never be planned, all of it at once.

    Raises
    ------
    InputRefused
        for ids that come twice or name nothing, a task that no crew can do, no work or a negative wait, tasks
        before what they wait for, people away who are not there, and negative travel.
    """
    found = [*_twice(firm), *_crews(firm), *_travel(firm)]
    for j, job in enumerate(firm.jobs):
        found += _job(firm, job, f"/jobs/{j}")
    if found:
        raise InputRefused(tuple(found))


def _problem(code: str, detail: str, pointer: str) -> Problem:
    return Problem(code=code, detail=detail, pointer=pointer, severity="refusal")


def _twice(firm: Firm) -> Iterator[Problem]:
    lists: dict[str, Iterable[str]] = {
        "crews": (crew.id for crew in firm.crews),
        "machines": (machine.id for machine in firm.machines),
        "sites": (site.id for site in firm.sites),
        "jobs": (job.id for job in firm.jobs),
    }
    for name, ids in lists.items():
        seen: set[str] = set()
        for n, id in enumerate(ids):
            if id in seen or not id:
                said = f"{id!r} comes twice" if id else "it is empty"
                yield _problem("firm-id", f"{name} need an id each of their own; {said}", f"/{name}/{n}")
            seen.add(id)


def _crews(firm: Firm) -> Iterator[Problem]:
    for n, crew in enumerate(firm.crews):
        if crew.people < 1:
            yield _problem("firm-crew-empty", f"crew {crew.id!r} has nobody in it", f"/crews/{n}/people")
        for m, absence in enumerate(crew.absences):
            pointer = f"/crews/{n}/absences/{m}"
            if not 1 <= absence.people <= crew.people:
                detail = f"{absence.people} of crew {crew.id!r} are away; it must be 1 to {crew.people}"
                yield _problem("firm-absence", detail, f"{pointer}/people")
            if absence.end_minute <= absence.start_minute:
                yield _problem("firm-absence", "an absence must end after it starts", pointer)


def _travel(firm: Firm) -> Iterator[Problem]:
    places = set(firm.places())
    for (a, b), minutes in firm.travel.items():
        pointer = f"/travel/{a} {b}"
        for place in sorted({a, b} - places):
            yield _problem(
                "firm-unknown", f"travel names {place!r}, which is no site and no crew's home", pointer
            )
        if minutes < 0:
            detail = f"travel takes {minutes} minutes; it must not be negative"
            yield _problem("firm-travel", detail, pointer)


def _job(firm: Firm, job: FirmJob, pointer: str) -> Iterator[Problem]:
    if job.site not in {site.id for site in firm.sites}:
        yield _problem("firm-unknown", f"the site {job.site!r} is not listed", f"{pointer}/site")
    if not job.tasks:
        yield _problem("firm-job-empty", f"job {job.id!r} has no tasks", f"{pointer}/tasks")
    seen: set[str] = set()
    for t, task in enumerate(job.tasks):
        at = f"{pointer}/tasks/{t}"
        if task.id in seen:
            yield _problem("firm-id", f"task {task.id!r} comes twice in job {job.id!r}", at)
        yield from _lags(task, seen, at)
        yield from _who(firm, task, at)
        seen.add(task.id)


def _lags(task: Task, seen: set[str], pointer: str) -> Iterator[Problem]:
    for n, lag in enumerate(task.lags):
        at = f"{pointer}/lags/{n}"
        if lag.after not in seen:
            detail = f"task {task.id!r} waits for {lag.after!r}, which must be listed before it in its job"
            yield _problem("firm-lag", detail, at)
        if lag.least_minutes < 0:
            yield _problem("firm-lag", f"a wait of {lag.least_minutes} minutes is negative", at)
        if lag.greatest_minutes is not None and lag.greatest_minutes < lag.least_minutes:
            detail = (
                f"the greatest wait, {lag.greatest_minutes} minutes, is below the least, {lag.least_minutes}"
            )
            yield _problem("firm-lag", detail, at)


def _who(firm: Firm, task: Task, pointer: str) -> Iterator[Problem]:
    for n, choice in enumerate(task.choices):
        if choice.people < 1 or choice.minutes < 1:
            detail = f"{choice.people} people for {choice.minutes} minutes; both must be 1 or more"
            yield _problem("firm-choice", detail, f"{pointer}/choices/{n}")
    least = min((choice.people for choice in task.choices), default=0)
    if not any(task.skill in crew.skills and crew.people >= least for crew in firm.crews) or least < 1:
        detail = f"no crew has the skill {task.skill!r} and the {least} people that task {task.id!r} needs"
        yield _problem("firm-nobody-can", detail, pointer)
    if task.machine and task.machine not in {machine.kind for machine in firm.machines}:
        yield _problem(
            "firm-unknown", f"there is no machine of the kind {task.machine!r}", f"{pointer}/machine"
        )
