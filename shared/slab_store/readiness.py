"""Whether this process may serve from its database: reachable, new enough, and with the walls up."""

from pathlib import Path

from sqlalchemy import text
from sqlalchemy.exc import SQLAlchemyError

from slab_store.database import Database
from slab_store.errors import DatabaseUnavailable, StoreError

_ROLE = text("""
    SELECT rolsuper OR rolbypassrls AS bypasses,
      EXISTS (
        SELECT FROM pg_class WHERE relkind IN ('r', 'p') AND relnamespace = CAST('public' AS regnamespace)
          AND pg_has_role(current_user, relowner, 'MEMBER')
      ) AS owns
    FROM pg_roles WHERE rolname = current_user
""")
_VERSION = text("SELECT version_num FROM alembic_version")


def newest_migration() -> str:
    """The version that the code was written for."""
    names = (path.name for path in (Path(__file__).parent / "migrations" / "versions").glob("[0-9]*.py"))
    return max(names).partition("_")[0]


def unready_reasons(database: Database) -> tuple[str, ...]:
    """Why the process should not be sent requests; empty if it may."""
    try:
        with database.application_engine.connect() as connection:
            role = connection.execute(_ROLE).one()
            version = connection.execute(_VERSION).scalar_one_or_none()
    except (SQLAlchemyError, StoreError, DatabaseUnavailable):
        return ("the database cannot be reached, or has not been migrated",)
    reasons = []
    if role.bypasses:
        reasons.append("the application role is not bound by row-level security")
    if role.owns:
        reasons.append("the application role owns tables, so row-level security may not bind it")
    if version is None or version < newest_migration():
        reasons.append(f"the database is at version {version}, the code needs {newest_migration()}")
    return tuple(reasons)
