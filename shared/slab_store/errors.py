"""What can go wrong between the use cases and Postgres."""

from uuid import UUID


class StoreError(Exception):
    """Base of the store's errors. `code` is stable."""

    code = "store-error"


class DatabaseUnavailable(StoreError):
    """Postgres cannot be reached, or went away in the middle; nothing of the transaction is certain."""

    code = "database-unavailable"


class DatabaseFull(DatabaseUnavailable):
    """Postgres has no room left on its disk; nothing was stored."""

    code = "database-full"


class AlreadyExists(StoreError):
    """A record with this id is there already; ids may be made by clients, so it can happen twice."""

    code = "already-exists"

    def __init__(self, *, table: str, record: UUID | str) -> None:
        super().__init__(f"{table} has a record {record} already")
        self.table = table
        self.record = record


class LeaseLost(StoreError):
    """The step is no longer this worker's: the lease ran out, or the run was cancelled or ended.

    Whatever the worker holds for it must be dropped.
    """

    code = "lease-lost"
