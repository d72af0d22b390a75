"""Files of scanned points that belong to a survey."""

from alembic import op

from slab_store.migrations.security import protect

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.execute("""
        CREATE TABLE scans (
          organisation uuid NOT NULL,
          id uuid NOT NULL,
          survey uuid NOT NULL,
          kind text NOT NULL,
          size_bytes bigint NOT NULL,
          sha256 bytea NOT NULL,
          document jsonb NOT NULL,
          created_at timestamptz NOT NULL DEFAULT now(),
          created_by text NOT NULL,
          trace_id text NOT NULL DEFAULT '',
          version integer NOT NULL DEFAULT 1,
          updated_at timestamptz NOT NULL DEFAULT now(),
          updated_by text NOT NULL,
          PRIMARY KEY (organisation, id),
          CONSTRAINT scans_organisation_fkey FOREIGN KEY (organisation, survey)
            REFERENCES surveys (organisation, id),
          CONSTRAINT scans_kind_check CHECK (kind IN ('las', 'e57', 'ply', 'text')),
          CONSTRAINT scans_sha256_check CHECK (octet_length(sha256) = 32)
        )
    """)
    op.execute("CREATE INDEX scans_organisation_survey_id_idx ON scans (organisation, survey, id)")
    # The file is never replaced; what is said about it may be put right.
    protect("scans", grants="SELECT, INSERT, UPDATE (document, trace_id, version, updated_at, updated_by)")
