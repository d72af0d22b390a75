"""API keys: only a SHA-256 of the secret is kept."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Literal

from slab_store.rows import columns, insert_new
from slab_store.session import TenantSession
from slab_store.statement import Row, text

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


_OWN = "organisation = :organisation AND id = :id"
_INSERT = text("""
    INSERT INTO api_keys (organisation, id, secret_sha256, role, scopes, label, expires_at)
    VALUES (:organisation, :id, :secret_sha256, :role, :scopes, :label, :expires_at)
""")
_GET = text(f"SELECT {columns(ApiKey)} FROM api_keys WHERE {_OWN}")
_LIST = text(f"""
    SELECT {columns(ApiKey)} FROM api_keys WHERE organisation = :organisation ORDER BY created_at
""")
_TOUCH = text(f"""
    UPDATE api_keys SET last_used_at = :now
    WHERE {_OWN} AND (last_used_at IS NULL OR last_used_at < :stale)
""")
_REVOKE = text(f"UPDATE api_keys SET revoked_at = :now WHERE {_OWN} AND revoked_at IS NULL")
_EXPIRE = text(f"UPDATE api_keys SET expires_at = LEAST(:at, expires_at) WHERE {_OWN}")


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
        insert_new(
            self._session,
            _INSERT,
            table="api_keys",
            record=key_id,
            id=key_id,
            secret_sha256=secret_sha256,
            role=role,
            scopes=list(scopes),
            label=label,
            expires_at=expires_at,
        )

    def get(self, *, key_id: str) -> ApiKey | None:
        """The key with this public id, live or not."""
        row = self._session.execute(_GET, id=key_id).one_or_none()
        return _key(row) if row else None

    def list(self) -> tuple[ApiKey, ...]:
        """All keys of the organisation, oldest first, revoked ones too."""
        return tuple(map(_key, self._session.execute(_LIST)))

    def touch(self, *, key_id: str, now: datetime) -> None:
        """Remember that the key was used, to the minute."""
        self._session.execute(_TOUCH, id=key_id, now=now, stale=now - _LAST_USED_STEP)

    def revoke(self, *, key_id: str, now: datetime) -> bool:
        """End the key; False if there is none or it was revoked before."""
        return self._session.execute(_REVOKE, id=key_id, now=now).rowcount == 1

    def expire(self, *, key_id: str, at: datetime) -> bool:
        """Let the key end at `at`, as in a rotation with two live keys; False if there is none."""
        return self._session.execute(_EXPIRE, id=key_id, at=at).rowcount == 1


def _key(row: Row) -> ApiKey:
    return ApiKey(**{**row, "scopes": tuple(row["scopes"])})
