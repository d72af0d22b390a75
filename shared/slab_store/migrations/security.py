"""Row-level security, as every migration that adds a table of an organisation's must set it."""

from alembic import op

# Group roles: the grants and policies name these, the login roles are members. So a migration never depends
# on the user names that an installation has chosen.
APPLICATION = "slabwright_application"
QUEUE = "slabwright_queue"


def protect(table: str, *, column: str = "organisation", grants: str = "SELECT, INSERT, UPDATE") -> None:
    """Show the application role only the rows of the organisation set for the transaction.

    FORCE binds the owner too. With no organisation set, `slabwright_organisation()` raises. `grants` is what
    the application role may do with the table, column lists included.
    """
    op.execute(f"ALTER TABLE {table} ENABLE ROW LEVEL SECURITY")
    op.execute(f"ALTER TABLE {table} FORCE ROW LEVEL SECURITY")
    op.execute(
        f"CREATE POLICY tenant ON {table} TO {APPLICATION} "
        f"USING ({column} = slabwright_organisation()) WITH CHECK ({column} = slabwright_organisation())"
    )
    if grants:
        op.execute(f"GRANT {grants} ON {table} TO {APPLICATION}")


def open_to_queue(table: str, *, grants: str) -> None:
    """Let the queue role act on every organisation's rows of `table`, within `grants` (columns named)."""
    op.execute(f"CREATE POLICY queue ON {table} TO {QUEUE} USING (true) WITH CHECK (true)")
    op.execute(f"GRANT {grants} ON {table} TO {QUEUE}")
