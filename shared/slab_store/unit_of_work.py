"""One transaction of one use case: `with database.for_organisation(id) as uow: ...; uow.commit()`.

Leaving the block without `commit()` rolls back. A new repository is one line in `UnitOfWork.__enter__`.
"""

from types import TracebackType
from typing import Any, Self, cast
from uuid import UUID

import psycopg
from sqlalchemy import Engine
from sqlalchemy.exc import DBAPIError
from sqlalchemy.exc import TimeoutError as PoolTimeoutError
from sqlalchemy.pool import PoolProxiedConnection

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
from slab_store.session import Session, TenantSession
from slab_store.steps import Steps
from slab_store.stock import Stock
from slab_store.surveys import Surveys


class _Transaction:
    """A connection from the pool with one transaction on it, and plain errors for a lost server."""

    connection: psycopg.Connection[Any]
    _pooled: PoolProxiedConnection

    def __init__(self, *, engine: Engine) -> None:
        self._engine = engine

    def _open(self, begin: str) -> None:
        """Take a connection and say `begin` on it, which the pool's connections leave to us."""
        try:
            self._pooled = self._engine.raw_connection()
        except (psycopg.Error, DBAPIError, PoolTimeoutError) as problem:
            raise _plain(problem) or problem from problem
        self.connection = cast("psycopg.Connection[Any]", self._pooled.driver_connection)
        try:
            self.connection.execute(begin.encode(), prepare=False)
        except psycopg.Error as problem:
            self.__exit__(type(problem), problem, None)
            raise

    def commit(self) -> None:
        """Make everything done so far durable. Once per use case."""
        self.connection.commit()

    def __exit__(
        self, _kind: type[BaseException] | None, problem: BaseException | None, _trace: TracebackType | None
    ) -> None:
        is_lost = self.connection.closed
        if is_lost:
            self._pooled.invalidate()
        else:
            self._pooled.close()  # and rolls back what was not committed
        plain = _plain(problem, is_lost=is_lost)
        if plain is not None:
            raise plain from problem


class UnitOfWork(_Transaction):
    """The records of one organisation. Raises DatabaseUnavailable when Postgres cannot be reached."""

    def __init__(self, *, engine: Engine, organisation: UUID) -> None:
        super().__init__(engine=engine)
        self.organisation = organisation

    def __enter__(self) -> Self:
        # One round trip for both. The organisation is a UUID, so its text is nothing but digits.
        self._open(f"BEGIN; SET LOCAL slabwright.organisation = '{self.organisation}'")
        session = TenantSession(self.connection, self.organisation)
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
        self._open("BEGIN")
        self.queue = Queue(Session(self.connection))
        return self


def _plain(problem: BaseException | None, *, is_lost: bool = False) -> DatabaseUnavailable | None:
    if isinstance(problem, PoolTimeoutError):
        return DatabaseUnavailable("all connections to Postgres are in use")
    if isinstance(problem, DBAPIError):  # of the pool, while it makes its first connection
        problem = problem.orig
    if isinstance(problem, psycopg.errors.DiskFull):
        return DatabaseFull("Postgres has no room left on its disk")
    if isinstance(problem, psycopg.OperationalError) or (is_lost and isinstance(problem, psycopg.Error)):
        return DatabaseUnavailable("Postgres cannot be reached")
    return None
