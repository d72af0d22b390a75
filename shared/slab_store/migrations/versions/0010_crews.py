"""The firm's crews and machines are versions beside its price books, catalogues, rates and calendars."""

from alembic import op

revision = "0010"
down_revision = "0009"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.execute("ALTER TABLE firm_versions DROP CONSTRAINT firm_versions_kind_check")
    op.execute(
        "ALTER TABLE firm_versions ADD CONSTRAINT firm_versions_kind_check CHECK "
        "(kind IN ('price-book', 'catalogue', 'rates', 'calendar', 'crews'))"
    )
