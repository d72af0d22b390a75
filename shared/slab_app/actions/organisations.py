"""Use cases of organisations."""

from slab_app.actions.keys import add_key
from slab_app.keys import KeyText
from slab_store.unit_of_work import UnitOfWork


def create_organisation(uow: UnitOfWork, *, name: str) -> KeyText:
    """Record the organisation that the unit of work was opened for, and its first key, an office key."""
    uow.organisations.add(name=name)
    return add_key(uow, role="office", label="first key")
