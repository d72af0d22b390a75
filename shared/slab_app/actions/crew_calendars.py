"""Use cases of crews' calendars: a link of its own under which a crew subscribes to the schedule in force."""

from datetime import datetime
from uuid import UUID

from slab_app.actions.firm_schedules import get_answer, get_schedule, last_published
from slab_app.actor import Actor
from slab_app.calendar_text import calendar_text
from slab_app.crew_events import Told, crew_events, with_cancelled
from slab_app.errors import NotFound
from slab_app.keys import CREW, KeyText, new_key
from slab_store.crew_calendars import CrewCalendar
from slab_store.unit_of_work import UnitOfWork

MOST_EARLIER = 5
"""Schedules before the one in force whose events are told as cancelled where it has them no more; whoever
subscribes has read the later ones of these."""


def add_crew_calendar(
    uow: UnitOfWork, actor: Actor, *, crew: str, now: datetime
) -> tuple[CrewCalendar, KeyText]:
    """A new link for a crew, by the id that it has in schedules. Called inside `once`, which commits."""
    key = new_key(organisation=uow.organisation, prefix=CREW)
    made = uow.crew_calendars.add(
        id=key.key_id,
        crew=crew,
        secret_sha256=key.digest(),
        now=now,
        actor=actor.name,
        trace_id=actor.trace_id,
    )
    return made, key


def get_crew_calendar(uow: UnitOfWork, _actor: Actor, *, id: str) -> CrewCalendar:
    """The link's record. Raises NotFound."""
    found = uow.crew_calendars.get(id=id)
    if found is None:
        raise NotFound("there is no crew calendar with this id")
    return found


def list_crew_calendars(uow: UnitOfWork, _actor: Actor, *, limit: int) -> tuple[CrewCalendar, ...]:
    """The links that were made last, closed ones too."""
    return uow.crew_calendars.newest(limit=limit)


def withdraw_crew_calendar(uow: UnitOfWork, _actor: Actor, *, id: str, now: datetime) -> CrewCalendar:
    """Close the link for good. Raises NotFound. Commits."""
    closed = uow.crew_calendars.withdraw(id=id, now=now)
    if closed is None:
        raise NotFound("there is no crew calendar with this id")
    uow.commit()
    return closed


def read_crew_calendar(uow: UnitOfWork, *, key: KeyText, now: datetime) -> bytes:
    """The crew's part of the schedule in force as iCalendar, with what schedules before it had and it has no
    more as cancelled; without events while none is in force.

    Raises NotFound for an unknown, wrong or withdrawn link.
    """
    found = uow.crew_calendars.get(id=key.key_id)
    opens = key.opens(found.secret_sha256 if found else bytes(32))
    if found is None or not opens or found.withdrawn_at is not None:
        raise NotFound("this link leads to no calendar: it is mistyped, or was withdrawn")
    schedules = last_published(uow, limit=1 + MOST_EARLIER)
    if not schedules:
        return calendar_text(name=found.crew, events=(), stamp=now)
    current = schedules[0][1]
    told = [
        Told(
            at=published.published_at,
            events=crew_events(
                question=answered.question, plan=answered.plan(), crew=found.crew, owner=str(uow.organisation)
            ),
        )
        for answered, published in schedules
    ]
    return calendar_text(
        name=found.crew,
        events=with_cancelled(told),
        stamp=current.published_at,
        sequence=uow.published_schedules.revision(run=current.run),
    )


def read_schedule_calendar(
    uow: UnitOfWork, actor: Actor, *, id: UUID, crew: str | None, now: datetime
) -> bytes:
    """A crew's visits in one schedule, or all, as iCalendar. Raises NotFound, and NotReady for a what-if."""
    answered = get_answer(uow, actor, id=id)
    events = crew_events(
        question=answered.question, plan=answered.plan(), crew=crew, owner=str(uow.organisation)
    )
    return calendar_text(
        name=crew or "all crews",
        events=events,
        stamp=get_schedule(uow, actor, id=id).run.finished_at or now,
        sequence=uow.published_schedules.revision(run=id),
    )
