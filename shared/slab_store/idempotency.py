"""Answers kept by idempotency key, in the same transaction as what they report."""

from dataclasses import dataclass
from uuid import UUID

from slab_store.rows import columns, insert_new, json_text
from slab_store.session import TenantSession
from slab_store.statement import text


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptAnswer:
    """The answer to a request, to be repeated byte for byte. `resource` is what the request made."""

    fingerprint: bytes
    status: int
    headers: dict[str, str]
    body: bytes
    resource: UUID


_COLUMNS = columns(KeptAnswer)
# The lock is freed when the transaction ends, so whoever gets it sees a finished answer or none. It is one
# round trip: an answer committed between this statement's snapshot and its lock is found by the insert.
_CLAIM = text(f"""
    SELECT pg_try_advisory_xact_lock(hashtextextended(CAST(:organisation AS text) || :key, 1)) AS free,
      {", ".join(f"kept.{name.strip()}" for name in _COLUMNS.split(","))}
    FROM (SELECT 1) AS always LEFT JOIN idempotency_keys AS kept
      ON kept.organisation = :organisation AND kept.key = :key
""")
_INSERT = text("""
    INSERT INTO idempotency_keys
      (organisation, key, fingerprint, status, headers, body, resource, created_by)
    VALUES (:organisation, :key, :fingerprint, :status, CAST(:headers AS jsonb), :body, :resource, :actor)
""")


class IdempotencyKeys:
    """The kept answers of one organisation."""

    def __init__(self, session: TenantSession) -> None:
        self._session = session

    def claim(self, *, key: str) -> tuple[bool, KeptAnswer | None]:
        """Whether this transaction may act for the key, and the answer if there is one already."""
        row = self._session.execute(_CLAIM, key=key).one()
        kept = {name: row[name] for name in KeptAnswer.__slots__}
        return bool(row["free"]), None if kept["fingerprint"] is None else KeptAnswer(**kept)

    def keep(self, *, key: str, answer: KeptAnswer, actor: str) -> None:
        """Keep the answer. Raises AlreadyExists when another transaction was faster."""
        insert_new(
            self._session,
            _INSERT,
            table="idempotency_keys",
            record=key,
            key=key,
            fingerprint=answer.fingerprint,
            status=answer.status,
            headers=json_text(answer.headers),
            body=answer.body,
            resource=answer.resource,
            actor=actor,
        )
