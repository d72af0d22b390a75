"""API keys: only a SHA-256 of the secret is kept."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Literal

from sqlalchemy import func, insert, or_, select, text, update
from sqlalchemy.exc import IntegrityError

from slab_store.errors import AlreadyExists
from slab_store.rows import columns
from slab_store.session import TenantSession
from slab_store.tables.tenants import api_keys

Role = Literal["office", "crew-lead", "field-device"]

# A key in steady use would otherwise write a row with every request.
_LAST_USED_STEP = timedelta(minutes=1)


@dataclass(frozen=True, slots=True, kw_only=True)
class ApiKey:
    """A key as stored. `id` is its public part; an organisation may hold any number of live keys at once."""

    id: str
    secret_sha256: bytes
    role: Role
    scopes: tuple[str, ...]
    label: str
    created_at: datetime
    last_used_at: datetime | None
    expires_at: datetime | None
    revoked_at: datetime | None

    def is_live(self, *, now: datetime) -> bool:
        """Neither revoked nor expired at `now`."""
        return self.revoked_at is None and (self.expires_at is None or now < self.expires_at)


# Every request begins with this one: as text it costs half of what building it anew would.
_GET = text(f"SELECT {columns(ApiKey)} FROM api_keys WHERE organisation = :organisation AND id = :id")


class Keys:
    """The keys of one organisation. A key's text carries its organisation, so looking it up happens here."""

    def __init__(self, session: TenantSession) -> None:
        self._session = session

    def add(
        self,
        *,
        key_id: str,
        secret_sha256: bytes,
        role: Role,
        scopes: Sequence[str] = (),
        label: str = "",
        expires_at: datetime | None = None,
    ) -> None:
        """Record a new key. Raises AlreadyExists when its public id is taken."""
        values = {
            "organisation": self._session.organisation,
            "id": key_id,
            "secret_sha256": secret_sha256,
            "role": role,
            "scopes": list(scopes),
            "label": label,
            "expires_at": expires_at,
        }
        try:
            self._session.connection.execute(insert(api_keys).values(**values))
        except IntegrityError as problem:
            raise AlreadyExists(table="api_keys", record=key_id) from problem

    def get(self, *, key_id: str) -> ApiKey | None:
        """The key with this public id, live or not."""
        row = self._session.execute(_GET, id=key_id).mappings().one_or_none()
        return ApiKey(**{**row, "scopes": tuple(row["scopes"])}) if row else None

    def list(self) -> tuple[ApiKey, ...]:
        """All keys of the organisation, oldest first, revoked ones too."""
        return self._select()

    def touch(self, *, key_id: str, now: datetime) -> None:
        """Remember that the key was used, to the minute."""
        stale = or_(api_keys.c.last_used_at.is_(None), api_keys.c.last_used_at < now - _LAST_USED_STEP)
        self._update(key_id, stale, last_used_at=now)

    def revoke(self, *, key_id: str, now: datetime) -> bool:
        """End the key; False if there is none or it was revoked before."""
        return self._update(key_id, api_keys.c.revoked_at.is_(None), revoked_at=now)

    def expire(self, *, key_id: str, at: datetime) -> bool:
        """Let the key end at `at`, as in a rotation with two live keys; False if there is none."""
        return self._update(key_id, expires_at=func.least(at, api_keys.c.expires_at))

    def _own(self) -> object:
        return api_keys.c.organisation == self._session.organisation

    def _select(self, *conditions: object) -> tuple[ApiKey, ...]:
        shown = [column for column in api_keys.c if column.name != "organisation"]
        wanted = select(*shown).where(self._own(), *conditions).order_by(api_keys.c.created_at)  # type: ignore[arg-type]  # built above
        rows = self._session.connection.execute(wanted).mappings()
        return tuple(ApiKey(**{**row, "scopes": tuple(row["scopes"])}) for row in rows)

    def _update(self, key_id: str, *conditions: object, **values: object) -> bool:
        change = update(api_keys).where(self._own(), api_keys.c.id == key_id, *conditions).values(**values)  # type: ignore[arg-type]  # built above
        return self._session.connection.execute(change).rowcount == 1
