"""The long-lived record of a job."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID

from slab_store.rows import columns, insert_new, json_text, many, one
from slab_store.session import TenantSession
from slab_store.statement import text


@dataclass(frozen=True, slots=True, kw_only=True)
class JobRecord:
    """A job as stored: everything but its rooms and surveys. `version` counts its changes."""

    id: UUID
    name: str
    document: dict[str, Any]
    version: int
    created_at: datetime
    created_by: str
    updated_at: datetime
    updated_by: str


_COLUMNS = columns(JobRecord)
_INSERT = text("""
    INSERT INTO jobs (organisation, id, name, document, created_by, updated_by, trace_id)
    VALUES (:organisation, :id, :name, CAST(:document AS jsonb), :actor, :actor, :trace_id)
""")
_GET = text(f"SELECT {_COLUMNS} FROM jobs WHERE organisation = :organisation AND id = :id")
_LIST = text(f"""
    SELECT {_COLUMNS} FROM jobs
    WHERE organisation = :organisation AND (CAST(:before AS uuid) IS NULL OR id < :before)
    ORDER BY id DESC LIMIT :limit
""")
_UPDATE = text(f"""
    UPDATE jobs SET name = :name, document = CAST(:document AS jsonb), version = version + 1,
      updated_at = now(), updated_by = :actor, trace_id = :trace_id
    WHERE organisation = :organisation AND id = :id AND version = :version
    RETURNING {_COLUMNS}
""")


class Jobs:
    """The jobs of one organisation."""

    def __init__(self, session: TenantSession) -> None:
        self._session = session

    def add(self, *, id: UUID, name: str, document: Mapping[str, object], actor: str, trace_id: str) -> None:
        """Record a new job. Raises AlreadyExists."""
        insert_new(
            self._session,
            _INSERT,
            table="jobs",
            record=id,
            id=id,
            name=name,
            document=json_text(document),
            actor=actor,
            trace_id=trace_id,
        )

    def get(self, *, id: UUID) -> JobRecord | None:
        """The job, or None if the organisation has none with this id."""
        return one(self._session, _GET, JobRecord, id=id)

    def list(self, *, limit: int, before: UUID | None = None) -> tuple[JobRecord, ...]:
        """Jobs from the highest id down (UUIDv7: newest first), below `before`."""
        return many(self._session, _LIST, JobRecord, limit=limit, before=before)

    def update(
        self, *, id: UUID, version: int, name: str, document: Mapping[str, object], actor: str, trace_id: str
    ) -> JobRecord | None:
        """Replace the document if the job still has this version; None if it has not."""
        return one(
            self._session,
            _UPDATE,
            JobRecord,
            id=id,
            version=version,
            name=name,
            document=json_text(document),
            actor=actor,
            trace_id=trace_id,
        )
