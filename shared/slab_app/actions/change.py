"""A change of a stored document that nobody else has changed meanwhile."""

from collections.abc import Callable, Mapping
from typing import Any, Protocol, TypeVar

from slab_app.errors import VersionStale
from slab_store.unit_of_work import UnitOfWork

Change = Callable[[dict[str, Any]], Mapping[str, Any]]
"""From the stored document to the changed one; raises when the change cannot be."""


class Documented(Protocol):
    """A record with a document and the number of its version."""

    @property
    def version(self) -> int: ...

    @property
    def document(self) -> dict[str, Any]: ...


Record = TypeVar("Record", bound=Documented)


def changed(
    uow: UnitOfWork,
    *,
    before: Record,
    version: int,
    change: Change,
    update: Callable[[Mapping[str, Any]], Record | None],
    what: str = "record",
) -> Record:
    """The record as `update` leaves it; commits. `update` gives None when another version is there by now.

    Raises VersionStale when the record is not at `version`.
    """
    if before.version != version:
        raise _stale(before.version, what=what)
    after = update(change(before.document))
    if after is None:
        raise _stale(version + 1, what=what)
    uow.commit()
    return after


def _stale(newest: int, *, what: str) -> VersionStale:
    return VersionStale(f"the {what} is at version {newest} now; read it again and repeat the change")
