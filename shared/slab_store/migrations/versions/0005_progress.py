"""How far a long step is, as its worker tells with each renewal of its lease."""

from alembic import op

from slab_store.migrations.security import APPLICATION, QUEUE

revision = "0005"
down_revision = "0004"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.execute("ALTER TABLE run_steps ADD COLUMN progress real")
    op.execute(f"GRANT UPDATE (progress) ON run_steps TO {APPLICATION}, {QUEUE}")
    op.execute(f"GRANT SELECT (progress) ON run_steps TO {QUEUE}")
