"""Offers: a quote as it was sent to a customer, under a link of its own, and the customer's answer."""

from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from slab_store.rows import columns, many, one
from slab_store.session import TenantSession
from slab_store.statement import text


@dataclass(frozen=True, slots=True, kw_only=True)
class Offer:
    """A sending of a quote. Of its link only the secret's SHA-256 is kept; `id` is its public part."""

    id: str
    quote: UUID
    secret_sha256: bytes
    sent_at: datetime
    valid_until: datetime
    sent_by: str
    withdrawn_at: datetime | None
    answer: str | None
    answered_at: datetime | None
    answered_name: str | None
    answered_note: str | None


_COLUMNS = columns(Offer)
_INSERT = text("""
    INSERT INTO offers
      (organisation, id, quote, secret_sha256, sent_at, valid_until, sent_by, trace_id)
    VALUES (:organisation, :id, :quote, :secret_sha256, :sent_at, :valid_until, :actor, :trace_id)
""")
_GET = text(f"SELECT {_COLUMNS} FROM offers WHERE organisation = :organisation AND id = :id")
_OF_QUOTE = text(f"""
    SELECT {_COLUMNS} FROM offers WHERE organisation = :organisation AND quote = :quote ORDER BY sent_at, id
""")
_WITHDRAW = text("""
    UPDATE offers SET withdrawn_at = :now
    WHERE organisation = :organisation AND quote = ANY(:quotes) AND withdrawn_at IS NULL AND answer IS NULL
      AND id <> :but
""")
_ANSWER = text(f"""
    UPDATE offers SET answer = :answer, answered_at = :now, answered_name = :name, answered_note = :note
    WHERE organisation = :organisation AND id = :id AND answer IS NULL RETURNING {_COLUMNS}
""")


class Offers:
    """The offers of one organisation."""

    def __init__(self, session: TenantSession) -> None:
        self._session = session

    def add(
        self,
        *,
        id: str,
        quote: UUID,
        secret_sha256: bytes,
        sent_at: datetime,
        valid_until: datetime,
        actor: str,
        trace_id: str,
    ) -> None:
        """Record that the quote is sent."""
        self._session.execute(
            _INSERT,
            id=id,
            quote=quote,
            secret_sha256=secret_sha256,
            sent_at=sent_at,
            valid_until=valid_until,
            actor=actor,
            trace_id=trace_id,
        )

    def get(self, *, id: str) -> Offer | None:
        """The offer, or None if the organisation has none with this id."""
        return one(self._session, _GET, Offer, id=id)

    def of_quote(self, *, quote: UUID) -> tuple[Offer, ...]:
        """All sendings of a quote in their order."""
        return many(self._session, _OF_QUOTE, Offer, quote=quote)

    def withdraw(self, *, quotes: list[UUID], now: datetime, but: str = "") -> None:
        """Close every unanswered link to these quotes, but for one."""
        self._session.execute(_WITHDRAW, quotes=quotes, now=now, but=but)

    def answer(self, *, id: str, answer: str, name: str, note: str | None, now: datetime) -> Offer | None:
        """Write the customer's answer; None when there is one already."""
        return one(self._session, _ANSWER, Offer, id=id, answer=answer, name=name, note=note, now=now)
