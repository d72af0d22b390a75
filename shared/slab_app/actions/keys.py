"""Use cases of API keys."""

from collections.abc import Sequence
from datetime import datetime, timedelta

from slab_app.actor import Actor
from slab_app.errors import KeyRefused
from slab_app.keys import KeyText, new_key
from slab_app.scopes import check_scopes, granted
from slab_store.keys import Role
from slab_store.unit_of_work import UnitOfWork

USE_IS_NOTED_EVERY = timedelta(minutes=1)


def authenticate(uow: UnitOfWork, *, key: KeyText, now: datetime, trace_id: str) -> tuple[Actor, bool]:
    """Who the key acts for, and whether its use should be noted. Raises KeyRefused.

    The refusal does not say which of unknown, wrong, expired or revoked it was.
    """
    stored = uow.keys.get(key_id=key.key_id)
    opens = key.opens(stored.secret_sha256 if stored else bytes(32))
    if stored is None or not opens or not stored.is_live(now=now):
        raise KeyRefused("this API key is not valid: it is unknown, expired or revoked")
    actor = Actor(
        organisation=uow.organisation,
        key_id=stored.id,
        role=stored.role,
        scopes=granted(role=stored.role, narrowed_to=stored.scopes),
        trace_id=trace_id,
    )
    return actor, stored.last_used_at is None or now - stored.last_used_at > USE_IS_NOTED_EVERY


def note_use(uow: UnitOfWork, *, key_id: str, now: datetime) -> None:
    """Remember when the key was last used, to the minute."""
    uow.keys.touch(key_id=key_id, now=now)
    uow.commit()


def add_key(
    uow: UnitOfWork,
    *,
    role: Role,
    label: str = "",
    scopes: Sequence[str] = (),
    expires_at: datetime | None = None,
) -> KeyText:
    """Make one more key of the organisation. Raises slab_app.scopes.UnknownScope."""
    check_scopes(role=role, scopes=scopes)
    key = new_key(organisation=uow.organisation)
    uow.keys.add(
        key_id=key.key_id,
        secret_sha256=key.digest(),
        role=role,
        scopes=scopes,
        label=label,
        expires_at=expires_at,
    )
    uow.commit()
    return key
