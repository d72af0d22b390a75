"""${message}"""

from alembic import op

from slab_store.migrations.security import protect

revision = ${repr(up_revision)}
down_revision = ${repr(down_revision)}
branch_labels = None
depends_on = None


def upgrade() -> None:
    ${upgrades if upgrades else "raise NotImplementedError"}
