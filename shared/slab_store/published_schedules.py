"""Which schedule of the firm is in force: the one that was published last."""

from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from slab_store.rows import columns, many, one
from slab_store.session import TenantSession
from slab_store.statement import text


@dataclass(frozen=True, slots=True, kw_only=True)
class PublishedSchedule:
    """A schedule that was put in force; `number` counts the organisation's."""

    number: int
    run: UUID
    published_at: datetime
    published_by: str


_COLUMNS = columns(PublishedSchedule)
_LOCK = text("SELECT pg_advisory_xact_lock(hashtextextended('schedules:' || CAST(:organisation AS text), 0))")
_INSERT = text(f"""
    INSERT INTO published_schedules (organisation, number, run, published_at, published_by, trace_id)
    SELECT :organisation, coalesce(max(number), 0) + 1, :run, :now, :actor, :trace_id
    FROM published_schedules WHERE organisation = :organisation RETURNING {_COLUMNS}
""")
_NEWEST = text(f"""
    SELECT {_COLUMNS} FROM published_schedules WHERE organisation = :organisation
    ORDER BY number DESC LIMIT :limit
""")
# Counting what was posted and what was put in force gives every decision a higher number than all before it.
_REVISION = text("""
    WITH decided AS (
      SELECT coalesce(max(published_at), max(posted_at)) AS at, coalesce(max(number), 0) AS number
      FROM runs LEFT JOIN published_schedules AS published
        ON published.organisation = runs.organisation AND published.run = runs.id
      WHERE runs.organisation = :organisation AND runs.id = :run
    )
    SELECT (
      SELECT count(*) FROM runs
      WHERE organisation = :organisation AND kind = 'firm-schedule' AND posted_at <= decided.at
    ) + greatest(decided.number, (
      SELECT coalesce(max(number), 0) FROM published_schedules
      WHERE organisation = :organisation AND published_at <= decided.at
    ))
    FROM decided
""")


class PublishedSchedules:
    """The schedules in force of one organisation, one after the other."""

    def __init__(self, session: TenantSession) -> None:
        self._session = session

    def add(self, *, run: UUID, now: datetime, actor: str, trace_id: str) -> PublishedSchedule:
        """Put a run's plan in force."""
        self._session.execute(_LOCK)
        made = one(
            self._session, _INSERT, PublishedSchedule, run=run, now=now, actor=actor, trace_id=trace_id
        )
        assert made is not None
        return made

    def revision(self, *, run: UUID) -> int:
        """A number that is higher for whatever of the organisation's schedules was put in force later, or
        posted later where it never was."""
        return int(self._session.execute(_REVISION, run=run).scalar())

    def newest(self, *, limit: int) -> tuple[PublishedSchedule, ...]:
        """What is in force, if anything is, and what was before it, newest first."""
        return many(self._session, _NEWEST, PublishedSchedule, limit=limit)
