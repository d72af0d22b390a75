"""What happens to the rest of a run, or of an alternate, that ends before its last step."""

from uuid import UUID

from slab_store.channels import RUN_FINISHED
from slab_store.session import TenantSession
from slab_store.statement import text

# A step at work is taken from its worker: the next renewal of its lease is refused and its result too.
_SKIP_REST = text("""
    UPDATE run_steps SET state = 'skipped', lease_until = NULL, finished_at = clock_timestamp()
    WHERE organisation = :organisation AND run = :run AND state IN ('waiting', 'ready', 'claimed')
      AND (CAST(:alternate AS text) IS NULL OR alternate = :alternate)
""")
_TELL = text(f"SELECT pg_notify('{RUN_FINISHED}', CAST(:run AS text))")


def skip_rest(session: TenantSession, *, run_id: UUID, alternate: str | None = None) -> int:
    """Take every step off the queue that is not over yet, or an alternate's; how many there were.

    The caller holds the run's lock.
    """
    return session.execute(_SKIP_REST, run=run_id, alternate=alternate).rowcount


def tell_finished(session: TenantSession, *, run_id: UUID) -> None:
    """Wake whoever waits for the run, once this transaction is committed."""
    session.execute(_TELL, run=run_id)
