"""What every repository of an organisation works with."""

from dataclasses import dataclass
from typing import Any
from uuid import UUID

from sqlalchemy import Connection, CursorResult, Executable


@dataclass(frozen=True, slots=True)
class TenantSession:
    """One open transaction in which Postgres shows the rows of one organisation only."""

    connection: Connection
    organisation: UUID

    def execute(self, statement: Executable, **values: Any) -> CursorResult[Any]:
        """Run a statement; the parameter `organisation` is always there for the repository's own filter."""
        return self.connection.execute(statement, {"organisation": self.organisation, **values})
