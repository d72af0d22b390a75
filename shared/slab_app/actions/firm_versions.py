"""Use cases of the firm's versions: price books, catalogues, rates, calendars."""

from collections.abc import Mapping
from datetime import date
from typing import Any
from uuid import UUID

from slab_app.actor import Actor
from slab_app.errors import NotFound
from slab_store.firm_versions import FirmKind, FirmVersion
from slab_store.unit_of_work import UnitOfWork


def add_version(
    uow: UnitOfWork,
    actor: Actor,
    *,
    id: UUID,
    kind: FirmKind,
    document: Mapping[str, Any],
    valid_from: date | None = None,
    valid_to: date | None = None,
) -> FirmVersion:
    """Record a version, inside `once`. Raises AlreadyExists."""
    uow.firm_versions.add(
        id=id,
        kind=kind,
        document=document,
        valid_from=valid_from,
        valid_to=valid_to,
        actor=actor.name,
        trace_id=actor.trace_id,
    )
    return get_version(uow, actor, kind=kind, id=id)


def get_version(uow: UnitOfWork, _actor: Actor, *, kind: FirmKind, id: UUID) -> FirmVersion:
    """One version. Raises NotFound."""
    version = uow.firm_versions.get(kind=kind, id=id)
    if version is None:
        raise NotFound(f"there is no {kind} version with this id")
    return version


def newest_version(uow: UnitOfWork, _actor: Actor, *, kind: FirmKind) -> FirmVersion | None:
    """The version made last, valid or not; None for a firm that has made none."""
    return uow.firm_versions.last(kind=kind)


def list_versions(
    uow: UnitOfWork, _actor: Actor, *, kind: FirmKind, limit: int, before: UUID | None
) -> tuple[FirmVersion, ...]:
    """Versions of one kind from the highest id down."""
    return uow.firm_versions.list(kind=kind, limit=limit, before=before)
