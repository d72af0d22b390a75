"""The two doors to Postgres: one organisation's records, and the queue across all organisations."""

import select
from typing import Any, Final
from uuid import UUID

from sqlalchemy import Engine, create_engine, event
from sqlalchemy.exc import DisconnectionError

from slab_store.unit_of_work import QueueUnitOfWork, UnitOfWork

# A server behind a cut cable must be noticed in seconds, not after the system's own two hours.
IMPATIENCE: Final[dict[str, Any]] = {
    "connect_timeout": 5,
    "keepalives_idle": 5,
    "keepalives_interval": 2,
    "keepalives_count": 3,
    "tcp_user_timeout": 10_000,
}


class Database:
    """Connection pools of the application role and, where it is needed, of the queue role.

    Make it after a fork, never before: connections must not be shared between processes.
    """

    def __init__(
        self,
        *,
        application_url: str,
        queue_url: str | None = None,
        pool_size: int = 10,
        name: str = "slabwright",
    ) -> None:
        self.application_engine = _engine(url=application_url, pool_size=pool_size, name=name)
        self._queue_engine = queue_url and _engine(url=queue_url, pool_size=pool_size, name=name)

    def for_organisation(self, organisation: UUID) -> UnitOfWork:
        """A unit of work that sees and changes the records of one organisation."""
        return UnitOfWork(engine=self.application_engine, organisation=organisation)

    def for_queue(self) -> QueueUnitOfWork:
        """A unit of work on the queue alone: ids and states of all organisations, no content.

        Raises RuntimeError in a process that was given no address for the queue role.
        """
        if not isinstance(self._queue_engine, Engine):
            raise RuntimeError("this process has no address for the queue role")
        return QueueUnitOfWork(engine=self._queue_engine)

    def close(self) -> None:
        """Close all connections that are not in use."""
        self.application_engine.dispose()
        if isinstance(self._queue_engine, Engine):
            self._queue_engine.dispose()


def _engine(*, url: str, pool_size: int, name: str) -> Engine:
    engine = create_engine(
        url,
        pool_size=pool_size,
        max_overflow=0,
        pool_timeout=10,
        # A unit of work begins its transaction itself, with what it is for, in one round trip.
        connect_args={"application_name": name, "autocommit": True, **IMPATIENCE},
    )
    event.listen(engine, "checkout", _drop_if_closed)
    return engine


def _drop_if_closed(connection: Any, _record: Any, _proxy: Any) -> None:
    """Replace a pooled connection whose server has gone, without asking the server.

    An idle connection has nothing to read; if it has, that is the server's good-bye (a restart). Looking
    takes microseconds where a query to find out would cost a round trip each time.
    """
    readable, _, _ = select.select([connection.pgconn.socket], [], [], 0)
    if readable:
        raise DisconnectionError
