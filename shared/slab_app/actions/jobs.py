"""Use cases of jobs' long-lived records and their rooms. Adding is called inside `once`, which commits."""

from collections.abc import Mapping
from typing import Any
from uuid import UUID

from slab_app.actions.change import Change, changed
from slab_app.actor import Actor
from slab_app.errors import NotFound
from slab_store.jobs import JobRecord
from slab_store.rooms import RoomRecord
from slab_store.unit_of_work import UnitOfWork


def add_job(uow: UnitOfWork, actor: Actor, *, id: UUID, document: Mapping[str, Any]) -> JobRecord:
    """Record a job. Raises AlreadyExists."""
    uow.jobs.add(id=id, name=document["name"], document=document, actor=actor.name, trace_id=actor.trace_id)
    return get_job(uow, actor, id=id)


def get_job(uow: UnitOfWork, _actor: Actor, *, id: UUID) -> JobRecord:
    """The job. Raises NotFound."""
    job = uow.jobs.get(id=id)
    if job is None:
        raise NotFound("there is no job with this id")
    return job


def list_jobs(uow: UnitOfWork, _actor: Actor, *, limit: int, before: UUID | None) -> tuple[JobRecord, ...]:
    """Jobs from the highest id down."""
    return uow.jobs.list(limit=limit, before=before)


def change_job(uow: UnitOfWork, actor: Actor, *, id: UUID, version: int, change: Change) -> JobRecord:
    """Change the job if it still has this version; commits. Raises NotFound, VersionStale."""

    def update(document: Mapping[str, Any]) -> JobRecord | None:
        return uow.jobs.update(
            id=id,
            version=version,
            name=document["name"],
            document=document,
            actor=actor.name,
            trace_id=actor.trace_id,
        )

    before = get_job(uow, actor, id=id)
    return changed(uow, before=before, version=version, change=change, update=update)


def add_room(
    uow: UnitOfWork, actor: Actor, *, id: UUID, job: UUID, document: Mapping[str, Any]
) -> RoomRecord:
    """Record a room of a job. Raises NotFound, AlreadyExists."""
    get_job(uow, actor, id=job)
    uow.rooms.add(id=id, job=job, document=document, actor=actor.name, trace_id=actor.trace_id)
    return get_room(uow, actor, id=id)


def get_room(uow: UnitOfWork, _actor: Actor, *, id: UUID) -> RoomRecord:
    """The room. Raises NotFound."""
    room = uow.rooms.get(id=id)
    if room is None:
        raise NotFound("there is no room with this id")
    return room


def list_rooms(
    uow: UnitOfWork, actor: Actor, *, job: UUID, limit: int, before: UUID | None
) -> tuple[RoomRecord, ...]:
    """Rooms of a job from the highest id down. Raises NotFound."""
    get_job(uow, actor, id=job)
    return uow.rooms.list(job=job, limit=limit, before=before)


def change_room(uow: UnitOfWork, actor: Actor, *, id: UUID, version: int, change: Change) -> RoomRecord:
    """Change the room if it still has this version; commits. Raises NotFound, VersionStale."""

    def update(document: Mapping[str, Any]) -> RoomRecord | None:
        return uow.rooms.update(
            id=id, version=version, document=document, actor=actor.name, trace_id=actor.trace_id
        )

    before = get_room(uow, actor, id=id)
    return changed(uow, before=before, version=version, change=change, update=update)
