"""One transaction of one use case: `with database.for_organisation(id) as uow: ...; uow.commit()`.

Leaving the block without `commit()` rolls back. A new repository is one line in `UnitOfWork.__enter__`.
"""

from types import TracebackType
from typing import Self
from uuid import UUID

import psycopg
from sqlalchemy import Connection, Engine, text
from sqlalchemy.exc import DBAPIError
from sqlalchemy.exc import TimeoutError as PoolTimeoutError

from slab_store.change_orders import ChangeOrders
from slab_store.closeouts import Closeouts
from slab_store.crew_calendars import CrewCalendars
from slab_store.errors import DatabaseFull, DatabaseUnavailable
from slab_store.firm_versions import FirmVersions
from slab_store.idempotency import IdempotencyKeys
from slab_store.jobs import Jobs
from slab_store.keys import Keys
from slab_store.offers import Offers
from slab_store.organisations import Organisations
from slab_store.published_schedules import PublishedSchedules
from slab_store.queue import Queue
from slab_store.quotes import Quotes
from slab_store.results import Results
from slab_store.rooms import RoomRecords
from slab_store.runs import Runs
from slab_store.scans import Scans
from slab_store.session import TenantSession
from slab_store.steps import Steps
from slab_store.stock import Stock
from slab_store.surveys import Surveys

_SET_ORGANISATION = text("SELECT set_config('slabwright.organisation', :organisation, true)")


class _Transaction:
    """A connection from the pool with one transaction on it, and plain errors for a lost server."""

    connection: Connection

    def __init__(self, *, engine: Engine) -> None:
        self._engine = engine

    def _open(self) -> None:
        try:
            self.connection = self._engine.connect()
        except (DBAPIError, PoolTimeoutError) as problem:
            raise _plain(problem) or problem from problem

    def commit(self) -> None:
        """Make everything done so far durable. Once per use case."""
        self.connection.commit()

    def __exit__(
        self, _kind: type[BaseException] | None, problem: BaseException | None, _trace: TracebackType | None
    ) -> None:
        # Closing rolls back what was not committed, and is silent when the server is gone.
        self.connection.close()
        plain = _plain(problem)
        if plain is not None:
            raise plain from problem


class UnitOfWork(_Transaction):
    """The records of one organisation. Raises DatabaseUnavailable when Postgres cannot be reached."""

    def __init__(self, *, engine: Engine, organisation: UUID) -> None:
        super().__init__(engine=engine)
        self.organisation = organisation

    def __enter__(self) -> Self:
        self._open()
        session = TenantSession(self.connection, self.organisation)
        try:
            self.connection.execute(_SET_ORGANISATION, {"organisation": str(self.organisation)})
        except DBAPIError as problem:
            self.__exit__(type(problem), problem, None)
            raise
        self.organisations = Organisations(session)
        self.keys = Keys(session)
        self.runs = Runs(session)
        self.steps = Steps(session)
        self.results = Results(session)
        self.jobs = Jobs(session)
        self.rooms = RoomRecords(session)
        self.surveys = Surveys(session)
        self.scans = Scans(session)
        self.firm_versions = FirmVersions(session)
        self.quotes = Quotes(session)
        self.offers = Offers(session)
        self.change_orders = ChangeOrders(session)
        self.closeouts = Closeouts(session)
        self.stock = Stock(session)
        self.published_schedules = PublishedSchedules(session)
        self.crew_calendars = CrewCalendars(session)
        self.idempotency = IdempotencyKeys(session)
        return self


class QueueUnitOfWork(_Transaction):
    """The queue of all organisations, as the queue role."""

    def __enter__(self) -> Self:
        self._open()
        self.queue = Queue(self.connection)
        return self


def _plain(problem: BaseException | None) -> DatabaseUnavailable | None:
    if isinstance(problem, PoolTimeoutError):
        return DatabaseUnavailable("all connections to Postgres are in use")
    if not isinstance(problem, DBAPIError):
        return None
    if isinstance(problem.orig, psycopg.errors.DiskFull):
        return DatabaseFull("Postgres has no room left on its disk")
    if problem.connection_invalidated or isinstance(problem.orig, psycopg.OperationalError):
        return DatabaseUnavailable("Postgres cannot be reached")
    return None
