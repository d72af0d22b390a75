"""Use cases of quotes."""

from uuid import UUID

from slab_app.actor import Actor
from slab_app.errors import NotFound
from slab_store.quotes import QuoteRecord
from slab_store.unit_of_work import UnitOfWork


def get_quote(uow: UnitOfWork, _actor: Actor, *, id: UUID) -> QuoteRecord:
    """The quote. Raises NotFound."""
    quote = uow.quotes.get(id=id)
    if quote is None:
        raise NotFound("there is no quote with this id")
    return quote
