"""Visits of crews as events of a calendar, one for each day that a visit lasts."""

import hashlib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from itertools import pairwise

from slab_app.calendar_text import Event
from slab_core.schedule.firm.asked import FirmQuestion
from slab_core.schedule.firm.model import Crew, FirmPlan, Task, Visit
from slab_core.schedule.firm.windows import crew_windows
from slab_core.schedule.stretches import days_of

_MINUTES_PER_DAY = 1440


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """Events that were told from a moment on."""

    at: datetime
    events: tuple[Event, ...]


def with_cancelled(told: Sequence[Told]) -> tuple[Event, ...]:
    """The events that were told last, and as cancelled those that were told before and are no more, unless
    they were over when they were left out. `told` is newest first and not empty."""
    known = {event.uid for event in told[0].events}
    cancelled = list[Event]()
    for newer, older in pairwise(told):
        gone = [event for event in older.events if event.uid not in known]
        known |= {event.uid for event in gone}
        left_out = newer.at.timestamp() / 60
        cancelled += [replace(event, cancelled=True) for event in gone if event.end_minute > left_out]
    return (*told[0].events, *cancelled)


def crew_events(*, question: FirmQuestion, plan: FirmPlan, crew: str | None, owner: str) -> tuple[Event, ...]:
    """Events in the order of their starts, of one crew or of all; none for a crew that the plan does not
    know. `owner` tells one firm's events from another's."""
    crews = {one.id: one for one in question.crews if crew in (None, one.id)}
    visits = sorted(
        (v for v in plan.visits if v.crew in crews), key=lambda v: (v.start_minute, v.job, v.task)
    )
    if not visits:
        return ()
    first, last = visits[0].start_minute, max(visit.end_minute for visit in visits)
    days = (last - first) // _MINUTES_PER_DAY + 2
    shifts = {id: crew_windows(crew=one, from_minute=first, days=days) for id, one in crews.items()}
    tasks = {(job.id, task.id): task for job in question.jobs for task in job.tasks}
    sites = {job.id: job.site for job in question.jobs}
    return tuple(
        _event(
            visit,
            tasks=tasks,
            crew=crews[visit.crew],
            site=sites[visit.job],
            owner=owner,
            day=n,
            span=span,
        )
        for visit in visits
        for n, span in enumerate(
            days_of(start_minute=visit.start_minute, end_minute=visit.end_minute, windows=shifts[visit.crew])
        )
    )


def _event(
    visit: Visit,
    *,
    tasks: Mapping[tuple[str, str], Task],
    crew: Crew,
    site: str,
    owner: str,
    day: int,
    span: tuple[int, int],
) -> Event:
    """The uid has no crew in it: work that another crew takes over stays the same event."""
    name = hashlib.sha256(f"{owner}\0{visit.job}\0{visit.task}\0{day}".encode()).hexdigest()[:32]
    task = tasks[visit.job, visit.task]
    with_machine = f", with {visit.machine}" if visit.machine else ""
    who = f"{visit.people} of {crew.people} people of {crew.id}{with_machine}"
    return Event(
        uid=f"{name}@slabwright",
        start_minute=span[0],
        end_minute=span[1],
        summary=f"{task.what} ({visit.job})",
        description="\n".join((who, *_by_when(visit.job, task, tasks), *task.holds)),
        location=site,
    )


def _by_when(job: str, task: Task, tasks: Mapping[tuple[str, str], Task]) -> Iterator[str]:
    """Greatest waits in words: a primer that is poured on, tape that comes off, a result that holds."""
    for lag in task.lags:
        if lag.greatest_minutes is not None:
            why = f" ({lag.why})" if lag.why else ""
            hours = f"{lag.greatest_minutes / 60:.3g} h"
            yield f"begins within {hours} of the end of “{tasks[job, lag.after].what}”{why}"
