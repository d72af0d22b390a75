"""What every repository works with: one open transaction."""

from dataclasses import dataclass
from typing import Any
from uuid import UUID

from psycopg import Connection
from psycopg.rows import dict_row

from slab_store.statement import Rows


@dataclass(frozen=True, slots=True)
class Session:
    """One open transaction on a connection of the driver's.

    Nothing stands between the two: what builds statements and types of results anew for each request takes
    as long as the driver itself.
    """

    connection: Connection[Any]

    def execute(self, statement: bytes, **values: Any) -> Rows:
        """Run a statement with parameters by name. Raises psycopg.Error."""
        return Rows(self.connection.cursor(row_factory=dict_row).execute(statement, values))


@dataclass(frozen=True, slots=True)
class TenantSession(Session):
    """A transaction in which Postgres shows the rows of one organisation only."""

    organisation: UUID

    def execute(self, statement: bytes, **values: Any) -> Rows:
        """As of any session; the parameter `organisation` is always there for the repository's own filter."""
        return super(TenantSession, self).execute(statement, organisation=self.organisation, **values)
