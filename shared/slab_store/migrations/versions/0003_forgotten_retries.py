"""Old answers kept for retries can be found by age, and the queue role may remove them."""

from alembic import op

from slab_store.migrations.security import QUEUE

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.execute("CREATE INDEX idempotency_keys_created_at_idx ON idempotency_keys (created_at)")
    # Whatever the sweeper may be told, an answer of the last hour is out of its sight, and every content is.
    op.execute(
        f"CREATE POLICY queue ON idempotency_keys FOR ALL TO {QUEUE}"
        " USING (created_at < now() - interval '1 hour') WITH CHECK (false)"
    )
    op.execute(f"GRANT SELECT (organisation, key, created_at), DELETE ON idempotency_keys TO {QUEUE}")
