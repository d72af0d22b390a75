"""The organisation that a transaction acts for."""

from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from sqlalchemy import insert, select
from sqlalchemy.exc import IntegrityError

from slab_store.errors import AlreadyExists
from slab_store.session import TenantSession
from slab_store.tables.tenants import organisations


@dataclass(frozen=True, slots=True, kw_only=True)
class Organisation:
    """A firm that uses the service; everything else belongs to one."""

    id: UUID
    name: str
    created_at: datetime


class Organisations:
    """Row-level security shows one organisation only: its own."""

    def __init__(self, session: TenantSession) -> None:
        self._session = session

    def add(self, *, name: str) -> None:
        """Record the organisation whose id the unit of work was opened with. Raises AlreadyExists."""
        values = {"id": self._session.organisation, "name": name}
        try:
            self._session.connection.execute(insert(organisations).values(**values))
        except IntegrityError as problem:
            raise AlreadyExists(table="organisations", record=self._session.organisation) from problem

    def get(self) -> Organisation | None:
        """The organisation of this unit of work, or None if there is none with this id."""
        wanted = select(organisations).where(organisations.c.id == self._session.organisation)
        row = self._session.connection.execute(wanted).mappings().one_or_none()
        return Organisation(**row) if row else None
