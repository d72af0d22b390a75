"""Quotes that are sent to a customer and answered, and change orders between quotes."""

from alembic import op

from slab_store.migrations.security import APPLICATION, protect

revision = "0006"
down_revision = "0005"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.execute("ALTER TABLE quotes DROP CONSTRAINT quotes_state_check")
    op.execute(
        "ALTER TABLE quotes ADD CONSTRAINT quotes_state_check CHECK "
        "(state IN ('draft', 'sent', 'accepted', 'declined', 'superseded'))"
    )
    op.execute("CREATE INDEX quotes_organisation_job_id_idx ON quotes (organisation, job_id)")
    # The document never changes; only what has become of it.
    op.execute(f"GRANT UPDATE (state) ON quotes TO {APPLICATION}")
    _offers()
    _change_orders()


def _offers() -> None:
    op.execute("""
        CREATE TABLE offers (
          organisation uuid NOT NULL,
          id text NOT NULL,
          quote uuid NOT NULL,
          secret_sha256 bytea NOT NULL,
          sent_at timestamptz NOT NULL,
          valid_until timestamptz NOT NULL,
          sent_by text NOT NULL,
          trace_id text NOT NULL DEFAULT '',
          withdrawn_at timestamptz,
          answer text,
          answered_at timestamptz,
          answered_name text,
          answered_note text,
          PRIMARY KEY (organisation, id),
          CONSTRAINT offers_organisation_fkey FOREIGN KEY (organisation, quote)
            REFERENCES quotes (organisation, id),
          CONSTRAINT offers_secret_check CHECK (octet_length(secret_sha256) = 32),
          CONSTRAINT offers_answer_check CHECK (answer IN ('accepted', 'declined')),
          CONSTRAINT offers_answered_check CHECK (
            (answer IS NULL) = (answered_at IS NULL) AND (answer IS NULL) = (answered_name IS NULL))
        )
    """)
    op.execute("CREATE INDEX offers_organisation_quote_idx ON offers (organisation, quote)")
    protect(
        "offers",
        grants="SELECT, INSERT, UPDATE (withdrawn_at, answer, answered_at, answered_name, answered_note)",
    )


def _change_orders() -> None:
    op.execute("""
        CREATE TABLE change_orders (
          organisation uuid NOT NULL,
          id uuid NOT NULL,
          number integer NOT NULL,
          of_quote uuid NOT NULL,
          to_quote uuid NOT NULL,
          currency text NOT NULL,
          total numeric NOT NULL,
          document bytea NOT NULL,
          created_at timestamptz NOT NULL DEFAULT now(),
          created_by text NOT NULL,
          trace_id text NOT NULL DEFAULT '',
          PRIMARY KEY (organisation, id),
          CONSTRAINT change_orders_organisation_fkey FOREIGN KEY (organisation, of_quote)
            REFERENCES quotes (organisation, id),
          CONSTRAINT change_orders_organisation_fkey1 FOREIGN KEY (organisation, to_quote)
            REFERENCES quotes (organisation, id),
          CONSTRAINT change_orders_organisation_of_quote_number_key UNIQUE (organisation, of_quote, number),
          CONSTRAINT change_orders_organisation_to_quote_key UNIQUE (organisation, to_quote)
        )
    """)
    protect("change_orders", grants="SELECT, INSERT")
