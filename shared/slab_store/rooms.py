"""The rooms of a job's record."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID

from slab_store.rows import columns, insert_new, json_text, many, one
from slab_store.session import TenantSession
from slab_store.statement import text


@dataclass(frozen=True, slots=True, kw_only=True)
class RoomRecord:
    """A room as stored. `version` counts its changes."""

    id: UUID
    job: UUID
    document: dict[str, Any]
    version: int
    created_at: datetime
    created_by: str
    updated_at: datetime
    updated_by: str


_COLUMNS = columns(RoomRecord)
_INSERT = text("""
    INSERT INTO rooms (organisation, id, job, document, created_by, updated_by, trace_id)
    VALUES (:organisation, :id, :job, CAST(:document AS jsonb), :actor, :actor, :trace_id)
""")
_GET = text(f"SELECT {_COLUMNS} FROM rooms WHERE organisation = :organisation AND id = :id")
_LIST = text(f"""
    SELECT {_COLUMNS} FROM rooms
    WHERE organisation = :organisation AND job = :job AND (CAST(:before AS uuid) IS NULL OR id < :before)
    ORDER BY id DESC LIMIT :limit
""")
_OF_JOB = text(f"SELECT {_COLUMNS} FROM rooms WHERE organisation = :organisation AND job = :job ORDER BY id")
_UPDATE = text(f"""
    UPDATE rooms SET document = CAST(:document AS jsonb), version = version + 1,
      updated_at = now(), updated_by = :actor, trace_id = :trace_id
    WHERE organisation = :organisation AND id = :id AND version = :version
    RETURNING {_COLUMNS}
""")


class RoomRecords:
    """The rooms of one organisation's jobs."""

    def __init__(self, session: TenantSession) -> None:
        self._session = session

    def add(self, *, id: UUID, job: UUID, document: Mapping[str, object], actor: str, trace_id: str) -> None:
        """Record a new room of a job that exists. Raises AlreadyExists."""
        insert_new(
            self._session,
            _INSERT,
            table="rooms",
            record=id,
            id=id,
            job=job,
            document=json_text(document),
            actor=actor,
            trace_id=trace_id,
        )

    def get(self, *, id: UUID) -> RoomRecord | None:
        """The room, or None if the organisation has none with this id."""
        return one(self._session, _GET, RoomRecord, id=id)

    def list(self, *, job: UUID, limit: int, before: UUID | None = None) -> tuple[RoomRecord, ...]:
        """Rooms of a job from the highest id down, below `before`."""
        return many(self._session, _LIST, RoomRecord, job=job, limit=limit, before=before)

    def of_job(self, *, job: UUID) -> tuple[RoomRecord, ...]:
        """All rooms of a job, the lowest id (UUIDv7: the oldest) first."""
        return many(self._session, _OF_JOB, RoomRecord, job=job)

    def update(
        self, *, id: UUID, version: int, document: Mapping[str, object], actor: str, trace_id: str
    ) -> RoomRecord | None:
        """Replace the document if the room still has this version; None if it has not."""
        return one(
            self._session,
            _UPDATE,
            RoomRecord,
            id=id,
            version=version,
            document=json_text(document),
            actor=actor,
            trace_id=trace_id,
        )
