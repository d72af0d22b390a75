"""Quotes as documents: what a customer sees, complete in itself."""

from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from uuid import UUID

from sqlalchemy import text

from slab_store.rows import columns, many, one
from slab_store.session import TenantSession


@dataclass(frozen=True, slots=True, kw_only=True)
class QuoteRecord:
    """A quote as stored. `number` counts the organisation's quotes; `document` is JSON and never changes."""

    id: UUID
    number: int
    run: UUID
    job_id: UUID | None
    alternate: str
    state: str
    currency: str
    total: Decimal
    document: bytes
    created_at: datetime
    created_by: str


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
