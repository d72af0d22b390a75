"""Immutable versions of what a firm knows about itself: price books, catalogues, rates, calendars, crews."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any, Literal
from uuid import UUID

from slab_store.rows import columns, insert_new, json_text, many, one
from slab_store.session import TenantSession
from slab_store.statement import text

FirmKind = Literal["price-book", "catalogue", "rates", "calendar", "crews"]


@dataclass(frozen=True, slots=True, kw_only=True)
class FirmVersion:
    """One version. Only a price book has a validity; the others count until a newer one is made."""

    id: UUID
    kind: FirmKind
    document: dict[str, Any]
    valid_from: date | None
    valid_to: date | None
    created_at: datetime
    created_by: str

    def counts_on(self, day: date) -> bool:
        """Whether the day is within its validity."""
        return (self.valid_from or day) <= day <= (self.valid_to or day)


_COLUMNS = columns(FirmVersion)
_INSERT = text("""
    INSERT INTO firm_versions (organisation, id, kind, document, valid_from, valid_to, created_by, trace_id)
    VALUES (:organisation, :id, :kind, CAST(:document AS jsonb), :valid_from, :valid_to, :actor, :trace_id)
""")
_GET = text(f"""
    SELECT {_COLUMNS} FROM firm_versions WHERE organisation = :organisation AND kind = :kind AND id = :id
""")
_LIST = text(f"""
    SELECT {_COLUMNS} FROM firm_versions
    WHERE organisation = :organisation AND kind = :kind
      AND (CAST(:before AS uuid) IS NULL OR id < :before)
    ORDER BY id DESC LIMIT :limit
""")
_NAMED = text(f"""
    SELECT {_COLUMNS} FROM firm_versions WHERE organisation = :organisation AND id = ANY(:ids)
""")
_LAST = text(f"""
    SELECT {_COLUMNS} FROM firm_versions WHERE organisation = :organisation AND kind = :kind
    ORDER BY created_at DESC, id DESC LIMIT 1
""")
_NEWEST = text(f"""
    SELECT DISTINCT ON (kind) {_COLUMNS} FROM firm_versions
    WHERE organisation = :organisation
    ORDER BY kind, (valid_from IS NULL OR valid_from <= :day) AND (valid_to IS NULL OR valid_to >= :day) DESC,
      created_at DESC, id DESC
""")


class FirmVersions:
    """The versions of one organisation; there is no way to change one."""

    def __init__(self, session: TenantSession) -> None:
        self._session = session

    def add(
        self,
        *,
        id: UUID,
        kind: FirmKind,
        document: Mapping[str, object],
        valid_from: date | None,
        valid_to: date | None,
        actor: str,
        trace_id: str,
    ) -> None:
        """Record a new version. Raises AlreadyExists."""
        insert_new(
            self._session,
            _INSERT,
            table="firm_versions",
            record=id,
            id=id,
            kind=kind,
            document=json_text(document),
            valid_from=valid_from,
            valid_to=valid_to,
            actor=actor,
            trace_id=trace_id,
        )

    def get(self, *, kind: FirmKind, id: UUID) -> FirmVersion | None:
        """One version of one kind, or None."""
        return one(self._session, _GET, FirmVersion, kind=kind, id=id)

    def list(self, *, kind: FirmKind, limit: int, before: UUID | None = None) -> tuple[FirmVersion, ...]:
        """Versions of one kind from the highest id down, below `before`."""
        return many(self._session, _LIST, FirmVersion, kind=kind, limit=limit, before=before)

    def named(self, *, ids: tuple[UUID, ...]) -> tuple[FirmVersion, ...]:
        """Those of the versions with these ids that the organisation has."""
        return many(self._session, _NAMED, FirmVersion, ids=list(ids)) if ids else ()

    def last(self, *, kind: FirmKind) -> FirmVersion | None:
        """The version of one kind made last."""
        return one(self._session, _LAST, FirmVersion, kind=kind)

    def newest(self, *, day: date) -> tuple[FirmVersion, ...]:
        """The last made version of each kind that counts on `day`; the last made of a kind that has none."""
        return many(self._session, _NEWEST, FirmVersion, day=day)
