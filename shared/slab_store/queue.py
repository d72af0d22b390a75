"""The queue across all organisations, as the queue role sees it: ids and states, no content."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal
from uuid import UUID

from slab_store.claims import CLAIM, RETURNED, RUNNABLE, ClaimedStep, claimed_step, known_list
from slab_store.session import Session
from slab_store.statement import text

Renewal = Literal["held", "cancelled", "lost"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Announcement:
    """A row of the outbox: something can be done on `queue`."""

    id: UUID
    queue: str


# The organisations with something to do are found by leaps through the index, one leap each, so ten thousand
# steps of one organisation cost no more than one. First comes who has the fewest steps at work, then who
# was served longest ago. The inner query locks one row and skips rows that another worker is just taking.
_CLAIM = text(f"""
    WITH RECURSIVE waiting (organisation) AS (
      (SELECT organisation FROM run_steps WHERE state = 'ready' AND queue = :queue
       ORDER BY organisation LIMIT 1)
      UNION ALL
      SELECT (SELECT later.organisation FROM run_steps AS later
              WHERE later.state = 'ready' AND later.queue = :queue
                AND later.organisation > waiting.organisation
              ORDER BY later.organisation LIMIT 1)
      FROM waiting WHERE waiting.organisation IS NOT NULL
    ),
    in_turn AS MATERIALIZED (
      SELECT waiting.organisation FROM waiting
      LEFT JOIN queue_turns AS turn ON turn.organisation = waiting.organisation AND turn.queue = :queue
      WHERE waiting.organisation IS NOT NULL
      ORDER BY
        (SELECT count(*) FROM run_steps AS busy
         WHERE busy.state = 'claimed' AND busy.organisation = waiting.organisation),
        turn.served_at NULLS FIRST, waiting.organisation
    ),
    chosen AS MATERIALIZED (
      SELECT first.* FROM in_turn, LATERAL (
        SELECT step.organisation, step.run, step.ordinal FROM run_steps AS step
        WHERE step.organisation = in_turn.organisation AND {RUNNABLE}
        ORDER BY step.run, step.ordinal LIMIT 1 FOR UPDATE SKIP LOCKED
      ) AS first
      LIMIT 1
    ),
    turn_taken AS (
      INSERT INTO queue_turns (organisation, queue, served_at)
      SELECT organisation, :queue, clock_timestamp() FROM chosen
      ON CONFLICT (organisation, queue) DO UPDATE SET served_at = excluded.served_at
    )
    UPDATE run_steps AS step SET {CLAIM} FROM chosen
    WHERE step.organisation = chosen.organisation AND step.run = chosen.run
      AND step.ordinal = chosen.ordinal
    RETURNING {RETURNED}
""")
_RENEW = text("""
    UPDATE run_steps SET lease_until = clock_timestamp() + make_interval(secs => :lease_seconds),
      progress = COALESCE(CAST(:progress AS real), progress)
    WHERE organisation = :organisation AND run = :run AND ordinal = :ordinal
      AND fence = :fence AND state = 'claimed'
""")
_STATE = text("""
    SELECT state, fence FROM run_steps
    WHERE organisation = :organisation AND run = :run AND ordinal = :ordinal
""")
# Rows that someone is just finishing are left to them; the next sweep looks again.
_RELEASE_EXPIRED = text("""
    WITH expired AS MATERIALIZED (
      SELECT organisation, run, ordinal FROM run_steps
      WHERE state = 'claimed' AND lease_until < clock_timestamp() FOR UPDATE SKIP LOCKED
    )
    UPDATE run_steps AS step SET state = 'ready', lease_until = NULL FROM expired
    WHERE step.organisation = expired.organisation AND step.run = expired.run
      AND step.ordinal = expired.ordinal
    RETURNING step.run
""")
_HOLDERS = text("""
    SELECT DISTINCT worker FROM run_steps WHERE state = 'claimed' AND starts_with(worker, :group)
""")
_RELEASE_HELD_BY = text("""
    UPDATE run_steps SET state = 'ready', lease_until = NULL
    WHERE state = 'claimed' AND worker = ANY(:workers)
""")
_RUNNABLE = text("""
    SELECT count(*) FROM (
      SELECT 1 FROM run_steps WHERE state = 'ready' AND queue = :queue
        AND (retry_at IS NULL OR retry_at <= clock_timestamp()) LIMIT :limit
    ) AS found
""")
_UNPUBLISHED = text("""
    SELECT id, queue FROM outbox WHERE published_at IS NULL ORDER BY id LIMIT :limit
    FOR UPDATE SKIP LOCKED
""")
_MARK = text("UPDATE outbox SET published_at = now() WHERE published_at IS NULL AND id = ANY(:ids)")
_PURGE = text("DELETE FROM outbox WHERE published_at < now() - make_interval(secs => :seconds)")
# Bounded, so that no sweep is held up however much there is; the next one goes on.
_FORGET_ANSWERS = text("""
    WITH old AS MATERIALIZED (
      SELECT organisation, key FROM idempotency_keys
      WHERE created_at < now() - make_interval(hours => :hours) ORDER BY created_at LIMIT :limit
    )
    DELETE FROM idempotency_keys AS kept USING old
    WHERE kept.organisation = old.organisation AND kept.key = old.key
""")


class Queue:
    """Claims, leases and announcements of all organisations."""

    def __init__(self, session: Session) -> None:
        self._session = session

    def claim(
        self, *, queue: str, known: Mapping[str, int], lease_seconds: float, worker: str
    ) -> ClaimedStep | None:
        """Take the next runnable step, or None. `known` maps the stages this worker has to their versions."""
        row = self._session.execute(
            _CLAIM, queue=queue, known=known_list(known), lease_seconds=lease_seconds, worker=worker
        ).one_or_none()
        return claimed_step(row) if row else None

    def renew(self, step: ClaimedStep, *, lease_seconds: float, progress: float | None = None) -> Renewal:
        """Hold the step for longer, if it is still this worker's; else say why not.

        `progress`, from 0 to 1, is noted where it is known.
        """
        place = {"organisation": step.organisation, "run": step.run, "ordinal": step.ordinal}
        values = {**place, "fence": step.fence, "lease_seconds": lease_seconds, "progress": progress}
        if self._session.execute(_RENEW, **values).rowcount == 1:
            return "held"
        row = self._session.execute(_STATE, **place).one_or_none()
        return "cancelled" if row is not None and row["state"] == "skipped" else "lost"

    def release_expired(self) -> int:
        """Make the steps runnable again whose lease ran out; how many there were."""
        return self._session.execute(_RELEASE_EXPIRED).rowcount

    def holders(self, *, group: str) -> tuple[str, ...]:
        """The workers whose names begin with `group` and that hold a step."""
        return tuple(self._session.execute(_HOLDERS, group=group).scalars())

    def release_held_by(self, *, workers: Sequence[str]) -> int:
        """Make the steps runnable again that workers hold who are known to be gone; how many there were."""
        return self._session.execute(_RELEASE_HELD_BY, workers=list(workers)).rowcount

    def runnable(self, *, queue: str, limit: int) -> int:
        """How many steps wait for a worker, counted up to `limit`."""
        return int(self._session.execute(_RUNNABLE, queue=queue, limit=limit).scalar())

    def unpublished(self, *, limit: int) -> tuple[Announcement, ...]:
        """Announcements not yet published, oldest first, locked until the end of the transaction."""
        rows = self._session.execute(_UNPUBLISHED, limit=limit)
        return tuple(Announcement(**row) for row in rows)

    def mark_published(self, *, ids: Sequence[UUID]) -> None:
        """Remember that these announcements are with the broker."""
        self._session.execute(_MARK, ids=list(ids))

    def purge_published(self, *, older_than_seconds: float) -> int:
        """Remove announcements published longer ago than that; how many there were."""
        return self._session.execute(_PURGE, seconds=older_than_seconds).rowcount

    def forget_answers(self, *, older_than_hours: int, limit: int) -> int:
        """Remove up to `limit` of the oldest answers kept for retries, older than that; how many."""
        return self._session.execute(_FORGET_ANSWERS, hours=older_than_hours, limit=limit).rowcount
