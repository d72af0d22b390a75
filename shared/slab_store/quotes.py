"""Quotes as documents: what a customer sees, complete in itself."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from uuid import UUID

from slab_store.rows import columns, many, one
from slab_store.session import TenantSession
from slab_store.statement import text


@dataclass(frozen=True, slots=True, kw_only=True)
class QuoteItem:
    """A quote as an item of a list. `number` counts the organisation's quotes; only `state` ever changes:
    draft, sent, then accepted, declined or superseded."""

    id: UUID
    number: int
    run: UUID
    job_id: UUID | None
    alternate: str
    state: str
    currency: str
    total: Decimal
    created_at: datetime
    created_by: str


@dataclass(frozen=True, slots=True, kw_only=True)
class QuoteRecord(QuoteItem):
    """A quote as stored, with its document as JSON, which never changes."""

    document: bytes


@dataclass(frozen=True, slots=True, kw_only=True)
class QuoteTotal:
    """What a watcher of a run wants to know of its quote first."""

    id: UUID
    number: int
    alternate: str
    currency: str
    total: Decimal


_COLUMNS = columns(QuoteRecord)
# Numbers have no holes and no doubles: one organisation's quotes are numbered one after the other.
_LOCK = text("SELECT pg_advisory_xact_lock(hashtextextended('quotes:' || CAST(:organisation AS text), 0))")
_INSERT = text("""
    INSERT INTO quotes
      (organisation, id, number, run, job_id, alternate, currency, total, document, created_by, trace_id)
    SELECT :organisation, :id, coalesce(max(number), 0) + 1, :run, :job_id, :alternate, :currency, :total,
      :document, :actor, :trace_id
    FROM quotes WHERE organisation = :organisation
    ON CONFLICT (organisation, run, alternate) DO NOTHING
""")
_GET = text(f"SELECT {_COLUMNS} FROM quotes WHERE organisation = :organisation AND id = :id")
_ITEMS = columns(QuoteItem)
# A sent quote is over when its last open link is: nothing is written when that moment comes.
_LIST = text(f"""
    WITH shown AS (
      SELECT {", ".join(name for name in _ITEMS.split(", ") if name != "state")},
        CASE WHEN state = 'sent' AND :now >= (
          SELECT max(valid_until) FROM offers
          WHERE offers.organisation = quotes.organisation AND quote = quotes.id AND withdrawn_at IS NULL
        ) THEN 'expired' ELSE state END AS state
      FROM quotes
      WHERE organisation = :organisation AND (CAST(:before AS uuid) IS NULL OR id < :before)
        AND (CAST(:job AS uuid) IS NULL OR job_id = :job)
    )
    SELECT {_ITEMS} FROM shown WHERE CAST(:state AS text) IS NULL OR state = :state
    ORDER BY id DESC LIMIT :limit
""")
# Ids in one order, so that two answers at once wait for one another and do not block each other for good.
_RIVALS = text(f"""
    SELECT {_ITEMS} FROM quotes
    WHERE organisation = :organisation AND (run = :run OR job_id = :job) ORDER BY id FOR UPDATE
""")
_SET_STATE = text("""
    UPDATE quotes SET state = :state WHERE organisation = :organisation AND id = ANY(:ids)
""")
_TOTALS = text(f"""
    SELECT {columns(QuoteTotal)} FROM quotes WHERE organisation = :organisation AND run = :run
    ORDER BY number
""")


class Quotes:
    """The quotes of one organisation."""

    def __init__(self, session: TenantSession) -> None:
        self._session = session

    def add(
        self,
        *,
        id: UUID,
        run: UUID,
        job_id: UUID | None,
        alternate: str,
        currency: str,
        total: Decimal,
        document: bytes,
        actor: str,
        trace_id: str,
    ) -> bool:
        """Record the quote of a run's alternate with the next number; False when it has one already."""
        self._session.execute(_LOCK)
        values = {
            "id": id,
            "run": run,
            "job_id": job_id,
            "alternate": alternate,
            "currency": currency,
            "total": total,
            "document": document,
            "actor": actor,
            "trace_id": trace_id,
        }
        return self._session.execute(_INSERT, **values).rowcount == 1

    def get(self, *, id: UUID) -> QuoteRecord | None:
        """The quote, or None if the organisation has none with this id."""
        return one(self._session, _GET, QuoteRecord, id=id)

    def totals(self, *, run: UUID) -> tuple[QuoteTotal, ...]:
        """The quotes of a run, one for each alternate that has been priced."""
        return many(self._session, _TOTALS, QuoteTotal, run=run)

    def page(
        self, *, limit: int, before: UUID | None, job: UUID | None, state: str | None, now: datetime
    ) -> tuple[QuoteItem, ...]:
        """Quotes from the highest id down, of one job or in one state where these are given; a sent one whose
        links are over is expired."""
        return many(
            self._session, _LIST, QuoteItem, limit=limit, before=before, job=job, state=state, now=now
        )

    def locked_rivals(self, *, run: UUID, job: UUID | None) -> tuple[QuoteItem, ...]:
        """All quotes of an estimate and of a job, held until this transaction ends."""
        return many(self._session, _RIVALS, QuoteItem, run=run, job=job)

    def set_state(self, *, ids: Sequence[UUID], state: str) -> None:
        """What has become of these quotes."""
        if ids:
            self._session.execute(_SET_STATE, ids=list(ids), state=state)
