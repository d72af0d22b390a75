"""What people create, list and change: jobs, rooms, surveys, the firm's versions, quotes; and retries."""

from alembic import op

from slab_store.migrations.security import protect

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None

_WHO = """
          created_at timestamptz NOT NULL DEFAULT now(),
          created_by text NOT NULL,
          trace_id text NOT NULL DEFAULT ''
"""
_CHANGED = """
          version integer NOT NULL DEFAULT 1,
          updated_at timestamptz NOT NULL DEFAULT now(),
          updated_by text NOT NULL
"""


def upgrade() -> None:
    _jobs_and_rooms()
    _surveys()
    _firm_versions()
    _quotes()
    _retries()


def _jobs_and_rooms() -> None:
    op.execute(f"""
        CREATE TABLE jobs (
          organisation uuid NOT NULL REFERENCES organisations (id),
          id uuid NOT NULL,
          name text NOT NULL,
          document jsonb NOT NULL,
          {_WHO},
          {_CHANGED},
          PRIMARY KEY (organisation, id)
        )
    """)
    protect(
        "jobs", grants="SELECT, INSERT, UPDATE (name, document, trace_id, version, updated_at, updated_by)"
    )
    op.execute(f"""
        CREATE TABLE rooms (
          organisation uuid NOT NULL,
          id uuid NOT NULL,
          job uuid NOT NULL,
          document jsonb NOT NULL,
          {_WHO},
          {_CHANGED},
          PRIMARY KEY (organisation, id),
          CONSTRAINT rooms_organisation_fkey FOREIGN KEY (organisation, job)
            REFERENCES jobs (organisation, id)
        )
    """)
    op.execute("CREATE INDEX rooms_organisation_job_id_idx ON rooms (organisation, job, id)")
    protect("rooms", grants="SELECT, INSERT, UPDATE (document, trace_id, version, updated_at, updated_by)")


def _surveys() -> None:
    op.execute(f"""
        CREATE TABLE surveys (
          organisation uuid NOT NULL,
          id uuid NOT NULL,
          job uuid NOT NULL,
          document jsonb NOT NULL,
          state text NOT NULL DEFAULT 'open',
          chunks integer,
          closed_at timestamptz,
          closed_by text,
          {_WHO},
          PRIMARY KEY (organisation, id),
          CONSTRAINT surveys_organisation_fkey FOREIGN KEY (organisation, job)
            REFERENCES jobs (organisation, id),
          CONSTRAINT surveys_state_check CHECK (state IN ('open', 'closed'))
        )
    """)
    op.execute("CREATE INDEX surveys_organisation_job_id_idx ON surveys (organisation, job, id)")
    # What was measured is superseded by another survey, never edited.
    protect("surveys", grants="SELECT, INSERT, UPDATE (state, chunks, closed_at, closed_by)")
    op.execute(f"""
        CREATE TABLE survey_chunks (
          organisation uuid NOT NULL,
          survey uuid NOT NULL,
          number integer NOT NULL,
          sha256 bytea NOT NULL,
          row_count integer NOT NULL,
          json bytea NOT NULL,
          arrays bytea NOT NULL,
          {_WHO},
          PRIMARY KEY (organisation, survey, number),
          CONSTRAINT survey_chunks_organisation_fkey FOREIGN KEY (organisation, survey)
            REFERENCES surveys (organisation, id),
          CONSTRAINT survey_chunks_sha256_check CHECK (octet_length(sha256) = 32)
        )
    """)
    protect("survey_chunks", grants="SELECT, INSERT")


def _firm_versions() -> None:
    op.execute(f"""
        CREATE TABLE firm_versions (
          organisation uuid NOT NULL REFERENCES organisations (id),
          id uuid NOT NULL,
          kind text NOT NULL,
          document jsonb NOT NULL,
          valid_from date,
          valid_to date,
          {_WHO},
          PRIMARY KEY (organisation, id),
          CONSTRAINT firm_versions_kind_check CHECK (
            kind IN ('price-book', 'catalogue', 'rates', 'calendar'))
        )
    """)
    op.execute(
        "CREATE INDEX firm_versions_organisation_kind_id_idx ON firm_versions (organisation, kind, id)"
    )
    op.execute(
        "CREATE INDEX firm_versions_organisation_kind_created_at_idx"
        " ON firm_versions (organisation, kind, created_at)"
    )
    protect("firm_versions", grants="SELECT, INSERT")


def _quotes() -> None:
    op.execute(f"""
        CREATE TABLE quotes (
          organisation uuid NOT NULL,
          id uuid NOT NULL,
          number integer NOT NULL,
          run uuid NOT NULL,
          job_id uuid,
          alternate text NOT NULL,
          state text NOT NULL DEFAULT 'draft',
          currency text NOT NULL,
          total numeric NOT NULL,
          document bytea NOT NULL,
          {_WHO},
          PRIMARY KEY (organisation, id),
          CONSTRAINT quotes_organisation_fkey FOREIGN KEY (organisation, run)
            REFERENCES runs (organisation, id),
          CONSTRAINT quotes_organisation_number_key UNIQUE (organisation, number),
          CONSTRAINT quotes_organisation_run_alternate_key UNIQUE (organisation, run, alternate),
          CONSTRAINT quotes_state_check CHECK (state IN ('draft'))
        )
    """)
    # A quote is a document: it is replaced by another one, never changed.
    protect("quotes", grants="SELECT, INSERT")


def _retries() -> None:
    op.execute("""
        CREATE TABLE idempotency_keys (
          organisation uuid NOT NULL REFERENCES organisations (id),
          key text NOT NULL,
          fingerprint bytea NOT NULL,
          status smallint NOT NULL,
          headers jsonb NOT NULL,
          body bytea NOT NULL,
          resource uuid NOT NULL,
          created_at timestamptz NOT NULL DEFAULT now(),
          created_by text NOT NULL,
          PRIMARY KEY (organisation, key),
          CONSTRAINT idempotency_keys_fingerprint_check CHECK (octet_length(fingerprint) = 32)
        )
    """)
    protect("idempotency_keys", grants="SELECT, INSERT")
