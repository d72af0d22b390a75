"""Closeouts: what jobs really took. The newest of a quote counts."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any
from uuid import UUID

import msgspec

from slab_store.rows import columns, insert_new, json_text, many, one
from slab_store.session import TenantSession
from slab_store.statement import text


@dataclass(frozen=True, slots=True, kw_only=True)
class CloseoutRecord:
    """A closeout as stored: `document` is what was told and how it compares, `evidence` a list of
    {code, ratio}, actual over estimated, for what is learned from it."""

    id: UUID
    quote: UUID
    crew: str
    finished_on: date
    document: dict[str, Any]
    evidence: list[dict[str, Any]]
    created_at: datetime
    created_by: str


_COLUMNS = columns(CloseoutRecord)
_INSERT = text("""
    INSERT INTO closeouts
      (organisation, id, quote, crew, finished_on, document, evidence, created_by, trace_id)
    VALUES (:organisation, :id, :quote, :crew, :finished_on, CAST(:document AS jsonb),
      CAST(:evidence AS jsonb), :actor, :trace_id)
""")
_GET = text(f"SELECT {_COLUMNS} FROM closeouts WHERE organisation = :organisation AND id = :id")
_OF_QUOTE = text(f"""
    SELECT {_COLUMNS} FROM closeouts WHERE organisation = :organisation AND quote = :quote
    ORDER BY created_at, id
""")
_COUNTING = text(f"""
    SELECT {_COLUMNS} FROM (
      SELECT DISTINCT ON (quote) {_COLUMNS} FROM closeouts
      WHERE organisation = :organisation ORDER BY quote, created_at DESC, id DESC
    ) AS newest
    WHERE CAST(:crew AS text) IS NULL OR crew = :crew
    ORDER BY finished_on, id
""")


class Closeouts:
    """The closeouts of one organisation."""

    def __init__(self, session: TenantSession) -> None:
        self._session = session

    def add(
        self,
        *,
        id: UUID,
        quote: UUID,
        crew: str,
        finished_on: date,
        document: Mapping[str, object],
        evidence: Sequence[Mapping[str, object]],
        actor: str,
        trace_id: str,
    ) -> None:
        """Record what a job took. Raises AlreadyExists for an id that is taken."""
        insert_new(
            self._session,
            _INSERT,
            table="closeouts",
            record=id,
            id=id,
            quote=quote,
            crew=crew,
            finished_on=finished_on,
            document=json_text(document),
            evidence=msgspec.json.encode(list(evidence)).decode(),
            actor=actor,
            trace_id=trace_id,
        )

    def get(self, *, id: UUID) -> CloseoutRecord | None:
        """The closeout, or None if the organisation has none with this id."""
        return one(self._session, _GET, CloseoutRecord, id=id)

    def of_quote(self, *, quote: UUID) -> tuple[CloseoutRecord, ...]:
        """All that was told of a quote's job, oldest first."""
        return many(self._session, _OF_QUOTE, CloseoutRecord, quote=quote)

    def counting(self, *, crew: str | None) -> tuple[CloseoutRecord, ...]:
        """The newest of each quote, of one crew if given."""
        return many(self._session, _COUNTING, CloseoutRecord, crew=crew)
