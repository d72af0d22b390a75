"""Use cases of quotes."""

from datetime import datetime
from uuid import UUID

from slab_app.actor import Actor
from slab_app.errors import NotFound
from slab_store.quotes import QuoteItem, QuoteRecord
from slab_store.unit_of_work import UnitOfWork


def get_quote(uow: UnitOfWork, _actor: Actor, *, id: UUID) -> QuoteRecord:
    """The quote. Raises NotFound."""
    quote = uow.quotes.get(id=id)
    if quote is None:
        raise NotFound("there is no quote with this id")
    return quote


def list_quotes(
    uow: UnitOfWork,
    _actor: Actor,
    *,
    limit: int,
    before: UUID | None,
    job: UUID | None,
    state: str | None,
    now: datetime,
) -> tuple[QuoteItem, ...]:
    """Quotes from the highest id down, of one job or in one state where these are given; a sent one whose
    links are over is expired."""
    return uow.quotes.page(limit=limit, before=before, job=job, state=state, now=now)
