"""Use cases of the firm's store of materials. Adding is called inside `once`, which commits."""

from datetime import date
from uuid import UUID

from slab_app.actor import Actor
from slab_app.errors import Fault, NotFound, StockShort
from slab_base.ids import new_id
from slab_store.stock import MoveKind, StockEntry, StockMove
from slab_store.unit_of_work import UnitOfWork


def add_stock(
    uow: UnitOfWork,
    actor: Actor,
    *,
    id: UUID,
    product: str,
    packages: int,
    opened_thousandths: int,
    use_by: date | None,
    note: str = "",
    closeout: UUID | None = None,
    quote: UUID | None = None,
) -> StockEntry:
    """Record packages that came in: by hand, or as what the job of a `quote` left, as its `closeout` tells.

    Raises AlreadyExists.
    """
    uow.stock.lock()
    kind: MoveKind = "came-in" if closeout is None else "left-over"
    who = {"actor": actor.name, "trace_id": actor.trace_id}
    uow.stock.add(id=id, product=product, use_by=use_by, note=note, closeout=closeout, **who)
    uow.stock.move(
        id=new_id(),
        entry=id,
        kind=kind,
        packages=packages,
        opened_thousandths=opened_thousandths,
        quote=quote,
        **who,
    )
    return get_stock(uow, actor, id=id)


def correct_stock(
    uow: UnitOfWork,
    actor: Actor,
    *,
    id: UUID,
    entry: UUID,
    packages: int,
    opened_thousandths: int,
    note: str,
) -> StockMove:
    """Record what is more or less there than the store says. Raises NotFound, AlreadyExists, StockShort."""
    uow.stock.lock()
    found = get_stock(uow, actor, id=entry)
    _check_enough(found, packages=packages, opened_thousandths=opened_thousandths)
    uow.stock.move(
        id=id,
        entry=entry,
        kind="corrected",
        packages=packages,
        opened_thousandths=opened_thousandths,
        quote=None,
        note=note,
        actor=actor.name,
        trace_id=actor.trace_id,
    )
    made = uow.stock.get_move(id=id)
    assert made is not None
    return made


def get_stock(uow: UnitOfWork, _actor: Actor, *, id: UUID) -> StockEntry:
    """One entry as it is now. Raises NotFound."""
    found = uow.stock.get(id=id)
    if found is None:
        raise NotFound("there is no stock entry with this id")
    return found


def list_stock(
    uow: UnitOfWork,
    _actor: Actor,
    *,
    limit: int,
    before: UUID | None,
    product: str | None,
    used_up: bool,
) -> tuple[StockEntry, ...]:
    """Entries from the highest id down."""
    return uow.stock.page(limit=limit, before=before, product=product, used_up=used_up)


def list_moves(
    uow: UnitOfWork, actor: Actor, *, entry: UUID, limit: int, before: UUID | None
) -> tuple[StockMove, ...]:
    """Moves of an entry from the highest id down. Raises NotFound."""
    get_stock(uow, actor, id=entry)
    return uow.stock.moves(entry=entry, limit=limit, before=before)


def _check_enough(entry: StockEntry, *, packages: int, opened_thousandths: int) -> None:
    """Raises StockShort that names what would go below nothing, and what is free."""
    faults = []
    if entry.packages + packages < 0:
        detail = f"{entry.packages} unopened packages are free of this entry, so at most as many go out"
        faults.append(Fault(detail=detail, pointer="/packages"))
    if entry.opened_thousandths + opened_thousandths < 0:
        free = entry.opened_thousandths / 1000
        detail = f"opened packages of this entry hold {free:g} of one, so at most as much goes out"
        faults.append(Fault(detail=detail, pointer="/opened"))
    if faults:
        raise StockShort(
            f"{entry.product}: less is free than would go out; nothing was changed", faults=tuple(faults)
        )
