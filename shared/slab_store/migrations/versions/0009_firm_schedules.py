"""Which schedule of the firm is in force, and the links under which crews subscribe to their part of it."""

from alembic import op

from slab_store.migrations.security import protect

revision = "0009"
down_revision = "0008"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.execute("""
        CREATE TABLE published_schedules (
          organisation uuid NOT NULL,
          number integer NOT NULL,
          run uuid NOT NULL,
          published_at timestamptz NOT NULL,
          published_by text NOT NULL,
          trace_id text NOT NULL DEFAULT '',
          PRIMARY KEY (organisation, number),
          CONSTRAINT published_schedules_organisation_fkey FOREIGN KEY (organisation, run)
            REFERENCES runs (organisation, id)
        )
    """)
    # A plan in force is followed by another one, never taken back.
    protect("published_schedules", grants="SELECT, INSERT")
    op.execute("""
        CREATE TABLE crew_calendars (
          organisation uuid NOT NULL,
          id text NOT NULL,
          crew text NOT NULL,
          secret_sha256 bytea NOT NULL,
          made_at timestamptz NOT NULL,
          made_by text NOT NULL,
          trace_id text NOT NULL DEFAULT '',
          withdrawn_at timestamptz,
          PRIMARY KEY (organisation, id),
          CONSTRAINT crew_calendars_organisation_fkey FOREIGN KEY (organisation)
            REFERENCES organisations (id),
          CONSTRAINT crew_calendars_secret_check CHECK (octet_length(secret_sha256) = 32)
        )
    """)
    protect("crew_calendars", grants="SELECT, INSERT, UPDATE (withdrawn_at)")
