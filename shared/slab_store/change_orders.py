"""Change orders: documents of what differs between an accepted quote and another one."""

from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from uuid import UUID

from slab_store.rows import columns, insert_new, many, one
from slab_store.session import TenantSession
from slab_store.statement import text


@dataclass(frozen=True, slots=True, kw_only=True)
class ChangeOrderRecord:
    """A change order as stored; `number` counts those of one accepted quote. It never changes."""

    id: UUID
    number: int
    of_quote: UUID
    to_quote: UUID
    currency: str
    total: Decimal
    document: bytes
    created_at: datetime
    created_by: str


_COLUMNS = columns(ChangeOrderRecord)
_INSERT = text("""
    INSERT INTO change_orders
      (organisation, id, number, of_quote, to_quote, currency, total, document, created_by, trace_id)
    SELECT :organisation, :id, coalesce(max(number), 0) + 1, :of_quote, :to_quote, :currency, :total,
      :document, :actor, :trace_id
    FROM change_orders WHERE organisation = :organisation AND of_quote = :of_quote
""")
_GET = text(f"SELECT {_COLUMNS} FROM change_orders WHERE organisation = :organisation AND id = :id")
_TO = text(f"SELECT {_COLUMNS} FROM change_orders WHERE organisation = :organisation AND to_quote = :quote")
_OF = text(f"""
    SELECT {_COLUMNS} FROM change_orders
    WHERE organisation = :organisation AND of_quote = :quote ORDER BY number
""")


class ChangeOrders:
    """The change orders of one organisation."""

    def __init__(self, session: TenantSession) -> None:
        self._session = session

    def add(
        self,
        *,
        id: UUID,
        of_quote: UUID,
        to_quote: UUID,
        currency: str,
        total: Decimal,
        document: bytes,
        actor: str,
        trace_id: str,
    ) -> None:
        """Record an order with the next number of its quote. Raises AlreadyExists for an id that is taken."""
        insert_new(
            self._session,
            _INSERT,
            table="change_orders",
            record=id,
            id=id,
            of_quote=of_quote,
            to_quote=to_quote,
            currency=currency,
            total=total,
            document=document,
            actor=actor,
            trace_id=trace_id,
        )

    def get(self, *, id: UUID) -> ChangeOrderRecord | None:
        """The order, or None if the organisation has none with this id."""
        return one(self._session, _GET, ChangeOrderRecord, id=id)

    def leading_to(self, *, quote: UUID) -> ChangeOrderRecord | None:
        """The order whose new sum this quote is, if it is one."""
        return one(self._session, _TO, ChangeOrderRecord, quote=quote)

    def of_quote(self, *, quote: UUID) -> tuple[ChangeOrderRecord, ...]:
        """The orders that change this quote, in their order."""
        return many(self._session, _OF, ChangeOrderRecord, quote=quote)
