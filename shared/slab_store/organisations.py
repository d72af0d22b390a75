"""The organisation that a transaction acts for."""

from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from slab_store.rows import columns, insert_new, one
from slab_store.session import TenantSession
from slab_store.statement import text


@dataclass(frozen=True, slots=True, kw_only=True)
class Organisation:
    """A firm that uses the service; everything else belongs to one."""

    id: UUID
    name: str
    created_at: datetime


_INSERT = text("INSERT INTO organisations (id, name) VALUES (:organisation, :name)")
_GET = text(f"SELECT {columns(Organisation)} FROM organisations WHERE id = :organisation")


class Organisations:
    """Row-level security shows one organisation only: its own."""

    def __init__(self, session: TenantSession) -> None:
        self._session = session

    def add(self, *, name: str) -> None:
        """Record the organisation whose id the unit of work was opened with. Raises AlreadyExists."""
        record = self._session.organisation
        insert_new(self._session, _INSERT, table="organisations", record=record, name=name)

    def get(self) -> Organisation | None:
        """The organisation of this unit of work, or None if there is none with this id."""
        return one(self._session, _GET, Organisation)
