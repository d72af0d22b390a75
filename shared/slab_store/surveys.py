"""Surveys and their chunks of readings."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Literal
from uuid import UUID

from slab_store.rows import columns, insert_new, json_text, many, one
from slab_store.session import TenantSession
from slab_store.statement import text


@dataclass(frozen=True, slots=True, kw_only=True)
class SurveyRecord:
    """A survey as stored. `chunks` is how many it has in all, known once it is closed."""

    id: UUID
    job: UUID
    document: dict[str, Any]
    state: Literal["open", "closed"]
    chunks: int | None
    created_at: datetime
    created_by: str
    closed_at: datetime | None
    closed_by: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class ChunkInfo:
    """What is known of a chunk without its content."""

    number: int
    sha256: bytes
    row_count: int
    created_at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class Chunk:
    """The encoded readings of one chunk."""

    number: int
    json: bytes
    arrays: bytes


_COLUMNS = columns(SurveyRecord)
_INSERT = text("""
    INSERT INTO surveys (organisation, id, job, document, created_by, trace_id)
    VALUES (:organisation, :id, :job, CAST(:document AS jsonb), :actor, :trace_id)
""")
_ONE = f"SELECT {_COLUMNS} FROM surveys WHERE organisation = :organisation AND id = :id"
_GET = text(_ONE)
# A chunk and the closing of its survey must not pass each other: chunks share the lock, closing does not.
_HOLD_OPEN = text(f"{_ONE} FOR SHARE")
_HOLD = text(f"{_ONE} FOR UPDATE")
_LIST = text(f"""
    SELECT {_COLUMNS} FROM surveys
    WHERE organisation = :organisation AND job = :job AND (CAST(:before AS uuid) IS NULL OR id < :before)
    ORDER BY id DESC LIMIT :limit
""")
_OF_JOB = text(
    f"SELECT {_COLUMNS} FROM surveys WHERE organisation = :organisation AND job = :job ORDER BY id"
)
_CLOSE = text(f"""
    UPDATE surveys SET state = 'closed', chunks = :chunks, closed_at = now(), closed_by = :actor
    WHERE organisation = :organisation AND id = :id AND state = 'open' RETURNING {_COLUMNS}
""")
_ADD_CHUNK = text(f"""
    INSERT INTO survey_chunks
      (organisation, survey, number, sha256, row_count, json, arrays, created_by, trace_id)
    VALUES (:organisation, :survey, :number, :sha256, :row_count, :json, :arrays, :actor, :trace_id)
    ON CONFLICT (organisation, survey, number) DO NOTHING RETURNING {columns(ChunkInfo)}
""")
_CHUNK_INFO = text(f"""
    SELECT {columns(ChunkInfo)} FROM survey_chunks
    WHERE organisation = :organisation AND survey = :survey AND number = :number
""")
_CHUNK_INFOS = text(f"""
    SELECT {columns(ChunkInfo)} FROM survey_chunks
    WHERE organisation = :organisation AND survey = :survey ORDER BY number
""")
_CHUNKS = text(f"""
    SELECT {columns(Chunk)} FROM survey_chunks
    WHERE organisation = :organisation AND survey = :survey ORDER BY number
""")


class Surveys:
    """The surveys of one organisation's jobs."""

    def __init__(self, session: TenantSession) -> None:
        self._session = session

    def add(self, *, id: UUID, job: UUID, document: Mapping[str, object], actor: str, trace_id: str) -> None:
        """Record a new, open survey of a job that exists. Raises AlreadyExists."""
        insert_new(
            self._session,
            _INSERT,
            table="surveys",
            record=id,
            id=id,
            job=job,
            document=json_text(document),
            actor=actor,
            trace_id=trace_id,
        )

    def get(self, *, id: UUID) -> SurveyRecord | None:
        """The survey, or None if the organisation has none with this id."""
        return one(self._session, _GET, SurveyRecord, id=id)

    def hold(self, *, id: UUID, alone: bool) -> SurveyRecord | None:
        """The survey, locked to the end of the transaction: shared by chunks, alone by closing."""
        return one(self._session, _HOLD if alone else _HOLD_OPEN, SurveyRecord, id=id)

    def list(self, *, job: UUID, limit: int, before: UUID | None = None) -> tuple[SurveyRecord, ...]:
        """Surveys of a job from the highest id down, below `before`."""
        return many(self._session, _LIST, SurveyRecord, job=job, limit=limit, before=before)

    def of_job(self, *, job: UUID) -> tuple[SurveyRecord, ...]:
        """All surveys of a job, the lowest id (UUIDv7: the oldest) first."""
        return many(self._session, _OF_JOB, SurveyRecord, job=job)

    def close(self, *, id: UUID, chunks: int, actor: str) -> SurveyRecord | None:
        """Close an open survey; None if it is not open."""
        return one(self._session, _CLOSE, SurveyRecord, id=id, chunks=chunks, actor=actor)

    def add_chunk(
        self, *, survey: UUID, chunk: Chunk, sha256: bytes, row_count: int, actor: str, trace_id: str
    ) -> ChunkInfo | None:
        """Keep a chunk; None when one with its number is there already."""
        return one(
            self._session,
            _ADD_CHUNK,
            ChunkInfo,
            survey=survey,
            number=chunk.number,
            sha256=sha256,
            row_count=row_count,
            json=chunk.json,
            arrays=chunk.arrays,
            actor=actor,
            trace_id=trace_id,
        )

    def chunk_info(self, *, survey: UUID, number: int) -> ChunkInfo | None:
        """What is known of one chunk."""
        return one(self._session, _CHUNK_INFO, ChunkInfo, survey=survey, number=number)

    def chunk_infos(self, *, survey: UUID) -> tuple[ChunkInfo, ...]:
        """What is known of all chunks, by number."""
        return many(self._session, _CHUNK_INFOS, ChunkInfo, survey=survey)

    def chunks(self, *, survey: UUID) -> tuple[Chunk, ...]:
        """All chunks with their content, by number."""
        return many(self._session, _CHUNKS, Chunk, survey=survey)
