"""The schedule of one estimate as a calendar for its customer and crew."""

from datetime import datetime
from uuid import UUID

import msgspec

from slab_app.actions.estimates import get_result
from slab_app.actor import Actor
from slab_app.calendar_text import Event, calendar_text
from slab_app.codec import decode
from slab_app.errors import NotFound
from slab_core.schedule.calendars import windows
from slab_core.schedule.model import Calendar, Schedule
from slab_core.schedule.names import names
from slab_core.schedule.stretches import days_of
from slab_store.unit_of_work import UnitOfWork

_MINUTES_PER_DAY = 1440


class _Job(msgspec.Struct):
    """Of a stored job what its calendar needs."""

    name: str
    calendar: Calendar


def job_calendar(uow: UnitOfWork, actor: Actor, *, id: UUID, alternate: str | None, now: datetime) -> bytes:
    """An event for each day of each activity; waits without anybody at work are left out.

    Raises NotFound, NotReady.
    """
    result = get_result(uow, actor, id=id, stage="schedule", subject=None, alternate=alternate)
    run, run_input = uow.runs.get(run_id=id), uow.runs.input(run_id=id)
    if run is None or run_input is None:
        raise NotFound("there is no estimate with this id")
    job = msgspec.json.decode(run_input.json, type=_Job)
    plan = decode(Schedule, result.encoded)
    return calendar_text(
        name=job.name,
        events=_events(plan, job=job, owner=f"{run.id} {result.alternate}"),
        stamp=run.finished_at or now,
    )


def _events(plan: Schedule, *, job: _Job, owner: str) -> tuple[Event, ...]:
    if not plan.placed:
        return ()
    days = (plan.finish_minute - plan.start_minute) // _MINUTES_PER_DAY + 2
    shifts = windows(calendar=job.calendar, from_minute=plan.start_minute, days=days)
    return tuple(
        Event(
            uid=f"{owner.replace(' ', '-')}-{n}-{day}@slabwright",
            start_minute=start,
            end_minute=end,
            summary=f"{what[:1].upper()}{what[1:]}",
            description=f"{activity.people} people",
            location=job.name,
        )
        for n, (activity, placed, what) in enumerate(
            zip(plan.activities, plan.placed, names(plan.activities), strict=True)
        )
        if activity.people > 0
        for day, (start, end) in enumerate(
            days_of(start_minute=placed.start_minute, end_minute=placed.end_minute, windows=shifts)
        )
    )
