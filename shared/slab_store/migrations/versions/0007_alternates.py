"""What each alternate of a run comes to, for offering them side by side."""

from alembic import op

from slab_store.migrations.security import APPLICATION

revision = "0007"
down_revision = "0006"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.execute("ALTER TABLE runs ADD COLUMN alternates jsonb NOT NULL DEFAULT '[]'")
    op.execute(f"GRANT UPDATE (alternates) ON runs TO {APPLICATION}")
