"""The firm's store of materials: what earlier jobs left, and which accepted quotes hold some of it."""

from alembic import op

from slab_store.migrations.security import protect

revision = "0011"
down_revision = "0010"
branch_labels = None
depends_on = None


def upgrade() -> None:
    _add_entries()
    _add_moves()


def _add_entries() -> None:
    # What an entry has is the sum of its moves, kept beside it so that the check holds whoever writes.
    op.execute("""
        CREATE TABLE stock_entries (
          organisation uuid NOT NULL REFERENCES organisations (id),
          id uuid NOT NULL,
          product text NOT NULL,
          use_by date,
          note text NOT NULL DEFAULT '',
          closeout uuid,
          packages integer NOT NULL DEFAULT 0,
          opened_thousandths integer NOT NULL DEFAULT 0,
          created_at timestamptz NOT NULL DEFAULT now(),
          created_by text NOT NULL,
          trace_id text NOT NULL DEFAULT '',
          PRIMARY KEY (organisation, id),
          CONSTRAINT stock_entries_organisation_fkey1 FOREIGN KEY (organisation, closeout)
            REFERENCES closeouts (organisation, id),
          CONSTRAINT stock_entries_not_below_zero_check
            CHECK (packages >= 0 AND opened_thousandths >= 0)
        )
    """)
    op.execute("""
        CREATE INDEX stock_entries_left_idx ON stock_entries (organisation, product)
        WHERE packages > 0 OR opened_thousandths > 0
    """)
    protect("stock_entries", grants="SELECT, INSERT, UPDATE (packages, opened_thousandths)")


def _add_moves() -> None:
    op.execute("""
        CREATE TABLE stock_moves (
          organisation uuid NOT NULL,
          id uuid NOT NULL,
          entry uuid NOT NULL,
          kind text NOT NULL,
          packages integer NOT NULL,
          opened_thousandths integer NOT NULL,
          quote uuid,
          note text NOT NULL DEFAULT '',
          created_at timestamptz NOT NULL DEFAULT now(),
          created_by text NOT NULL,
          trace_id text NOT NULL DEFAULT '',
          PRIMARY KEY (organisation, id),
          CONSTRAINT stock_moves_organisation_fkey FOREIGN KEY (organisation, entry)
            REFERENCES stock_entries (organisation, id),
          CONSTRAINT stock_moves_organisation_fkey1 FOREIGN KEY (organisation, quote)
            REFERENCES quotes (organisation, id),
          CONSTRAINT stock_moves_kind_check
            CHECK (kind IN ('came-in', 'left-over', 'corrected', 'reserved', 'given-back')),
          CONSTRAINT stock_moves_moves_something_check CHECK (packages <> 0 OR opened_thousandths <> 0),
          CONSTRAINT stock_moves_quote_check CHECK ((kind IN ('came-in', 'corrected')) = (quote IS NULL))
        )
    """)
    op.execute("CREATE INDEX stock_moves_organisation_entry_id_idx ON stock_moves (organisation, entry, id)")
    op.execute("CREATE INDEX stock_moves_organisation_quote_idx ON stock_moves (organisation, quote)")
    # A move that was wrong is answered by another one, never changed.
    protect("stock_moves", grants="SELECT, INSERT")
