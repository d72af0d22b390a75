"""Rows of the outbox: the relay rings a bell for each."""

from uuid import UUID

from slab_base.ids import new_id
from slab_store.channels import OUTBOX
from slab_store.session import TenantSession
from slab_store.statement import text

_ANNOUNCE = text(f"""
    WITH told AS (SELECT pg_notify('{OUTBOX}', :queue))
    INSERT INTO outbox (organisation, id, queue, run)
    SELECT :organisation, id, :queue, :run FROM told, unnest(CAST(:ids AS uuid[])) AS id
""")


def announce(session: TenantSession, *, run_id: UUID, queue: str, count: int = 1) -> None:
    """Have the relay ring the bell of `queue` `count` times once this transaction is committed."""
    session.execute(_ANNOUNCE, run=run_id, queue=queue, ids=[new_id() for _ in range(count)])
