"""What jobs really took, told after they were done."""

from alembic import op

from slab_store.migrations.security import protect

revision = "0008"
down_revision = "0007"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.execute("""
        CREATE TABLE closeouts (
          organisation uuid NOT NULL,
          id uuid NOT NULL,
          quote uuid NOT NULL,
          crew text NOT NULL,
          finished_on date NOT NULL,
          document jsonb NOT NULL,
          evidence jsonb NOT NULL,
          created_at timestamptz NOT NULL DEFAULT now(),
          created_by text NOT NULL,
          trace_id text NOT NULL DEFAULT '',
          PRIMARY KEY (organisation, id),
          CONSTRAINT closeouts_organisation_fkey FOREIGN KEY (organisation, quote)
            REFERENCES quotes (organisation, id)
        )
    """)
    op.execute("CREATE INDEX closeouts_organisation_quote_idx ON closeouts (organisation, quote)")
    # One that was wrong is replaced by a newer one, never changed.
    protect("closeouts", grants="SELECT, INSERT")
