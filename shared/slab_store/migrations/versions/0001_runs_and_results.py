"""Organisations, keys, runs with their steps and announcements, and the results of stages."""

from alembic import op

from slab_store.migrations.security import APPLICATION, open_to_queue, protect

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None


def upgrade() -> None:
    _organisation_function()
    _tenants()
    _runs()
    _steps()
    _announcements()
    _results()
    # For readiness: is the database as new as the code?
    op.execute(f"GRANT SELECT ON alembic_version TO {APPLICATION}")


def _organisation_function() -> None:
    # After a local set_config the setting stays behind as an empty string, hence NULLIF.
    op.execute("""
        CREATE FUNCTION slabwright_organisation() RETURNS uuid LANGUAGE plpgsql STABLE PARALLEL SAFE AS $$
        DECLARE organisation text := NULLIF(current_setting('slabwright.organisation', true), '');
        BEGIN
          IF organisation IS NULL THEN
            RAISE EXCEPTION 'no organisation is set for this transaction'
              USING ERRCODE = 'insufficient_privilege';
          END IF;
          RETURN organisation::uuid;
        END $$
    """)


def _tenants() -> None:
    op.execute("""
        CREATE TABLE organisations (
          id uuid PRIMARY KEY,
          name text NOT NULL,
          created_at timestamptz NOT NULL DEFAULT now()
        )
    """)
    protect("organisations", column="id")
    op.execute("""
        CREATE TABLE api_keys (
          organisation uuid NOT NULL REFERENCES organisations (id),
          id text NOT NULL,
          secret_sha256 bytea NOT NULL,
          role text NOT NULL,
          scopes text[] NOT NULL DEFAULT '{}',
          label text NOT NULL DEFAULT '',
          created_at timestamptz NOT NULL DEFAULT now(),
          last_used_at timestamptz,
          expires_at timestamptz,
          revoked_at timestamptz,
          PRIMARY KEY (organisation, id),
          CONSTRAINT api_keys_secret_check CHECK (octet_length(secret_sha256) = 32),
          CONSTRAINT api_keys_role_check CHECK (role IN ('office', 'crew-lead', 'field-device'))
        )
    """)
    protect("api_keys", grants="SELECT, INSERT, UPDATE (label, last_used_at, expires_at, revoked_at)")


def _runs() -> None:
    op.execute("""
        CREATE TABLE runs (
          organisation uuid NOT NULL REFERENCES organisations (id),
          id uuid NOT NULL,
          job_id uuid,
          kind text NOT NULL DEFAULT 'estimate',
          state text NOT NULL DEFAULT 'queued',
          seed bigint NOT NULL,
          posted_at timestamptz NOT NULL,
          actor text NOT NULL,
          trace_id text NOT NULL DEFAULT '',
          started_at timestamptz,
          finished_at timestamptz,
          problems jsonb NOT NULL DEFAULT '[]',
          cancel_requested_at timestamptz,
          cancel_requested_by text,
          PRIMARY KEY (organisation, id),
          CONSTRAINT runs_state_check CHECK (
            state IN ('queued', 'running', 'completed', 'refused', 'failed', 'cancelled'))
        )
    """)
    op.execute("CREATE INDEX runs_organisation_job_id_id_idx ON runs (organisation, job_id, id)")
    protect(
        "runs",
        grants="SELECT, INSERT, UPDATE (state, started_at, finished_at, problems, cancel_requested_at,"
        " cancel_requested_by)",
    )
    op.execute("""
        CREATE TABLE run_inputs (
          organisation uuid NOT NULL,
          run uuid NOT NULL,
          json bytea NOT NULL,
          arrays bytea NOT NULL,
          PRIMARY KEY (organisation, run),
          CONSTRAINT run_inputs_organisation_fkey FOREIGN KEY (organisation, run)
            REFERENCES runs (organisation, id)
        )
    """)
    # What a run was posted with never changes: there is no right to update it.
    protect("run_inputs", grants="SELECT, INSERT")


def _steps() -> None:
    op.execute("""
        CREATE TABLE run_steps (
          organisation uuid NOT NULL,
          run uuid NOT NULL,
          ordinal smallint NOT NULL,
          stage text NOT NULL,
          subject text NOT NULL,
          alternate text NOT NULL,
          version smallint NOT NULL,
          queue text NOT NULL,
          needs smallint[] NOT NULL,
          pending smallint NOT NULL,
          state text NOT NULL,
          fence bigint NOT NULL DEFAULT 0,
          attempts smallint NOT NULL DEFAULT 0,
          retry_at timestamptz,
          lease_until timestamptz,
          worker text,
          digest bytea,
          started_at timestamptz,
          finished_at timestamptz,
          ms double precision,
          error jsonb,
          PRIMARY KEY (organisation, run, ordinal),
          CONSTRAINT run_steps_organisation_fkey FOREIGN KEY (organisation, run)
            REFERENCES runs (organisation, id),
          CONSTRAINT run_steps_state_check CHECK (
            state IN ('waiting', 'ready', 'claimed', 'done', 'skipped', 'failed', 'parked')),
          CONSTRAINT run_steps_queue_check CHECK (queue IN ('light', 'heavy')),
          CONSTRAINT run_steps_digest_check CHECK (octet_length(digest) = 32)
        ) WITH (fillfactor = 70, autovacuum_vacuum_scale_factor = 0.02)
    """)
    op.execute("""
        CREATE INDEX run_steps_ready_idx ON run_steps (queue, organisation, run, ordinal)
        WHERE state = 'ready'
    """)
    op.execute("""
        CREATE INDEX run_steps_claimed_idx ON run_steps (organisation, lease_until)
        WHERE state = 'claimed'
    """)
    protect("run_steps")
    open_to_queue(
        "run_steps",
        grants="SELECT (organisation, run, ordinal, stage, subject, alternate, version, queue, needs, state,"
        " fence, attempts, retry_at, lease_until, worker),"
        " UPDATE (state, fence, attempts, lease_until, worker, started_at)",
    )


def _announcements() -> None:
    op.execute("""
        CREATE TABLE outbox (
          organisation uuid NOT NULL,
          id uuid NOT NULL,
          queue text NOT NULL,
          run uuid NOT NULL,
          created_at timestamptz NOT NULL DEFAULT now(),
          published_at timestamptz,
          PRIMARY KEY (organisation, id),
          CONSTRAINT outbox_queue_check CHECK (queue IN ('light', 'heavy'))
        )
    """)
    op.execute("CREATE INDEX outbox_unpublished_idx ON outbox (id) WHERE published_at IS NULL")
    protect("outbox", grants="INSERT")
    open_to_queue("outbox", grants="SELECT, UPDATE (published_at), DELETE")
    op.execute("""
        CREATE TABLE queue_turns (
          organisation uuid NOT NULL,
          queue text NOT NULL,
          served_at timestamptz NOT NULL,
          PRIMARY KEY (organisation, queue)
        )
    """)
    protect("queue_turns", grants="")
    open_to_queue("queue_turns", grants="SELECT, INSERT, UPDATE (served_at)")


def _results() -> None:
    op.execute("""
        CREATE TABLE stage_results (
          organisation uuid NOT NULL REFERENCES organisations (id),
          digest bytea NOT NULL,
          stage text NOT NULL,
          schema smallint NOT NULL,
          summary bytea NOT NULL,
          arrays bytea NOT NULL,
          problems jsonb NOT NULL DEFAULT '[]',
          quote bytea,
          created_at timestamptz NOT NULL DEFAULT now(),
          last_used_at timestamptz NOT NULL DEFAULT now(),
          PRIMARY KEY (organisation, digest),
          CONSTRAINT stage_results_digest_check CHECK (octet_length(digest) = 32)
        )
    """)
    op.execute(
        "CREATE INDEX stage_results_organisation_last_used_at_idx"
        " ON stage_results (organisation, last_used_at)"
    )
    # A result is what its digest says: only the time of its last use may change.
    protect("stage_results", grants="SELECT, INSERT, UPDATE (last_used_at)")
