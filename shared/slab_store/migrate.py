"""`python -m slab_store.migrate`: bring the database to the newest version, and the roles with it.

Run as the migration role (SLABWRIGHT_MIGRATION_DATABASE_URL), which owns the tables. Safe to run again and at
the same time from several machines: an advisory lock lets one work and the others find nothing to do.
"""

import logging
import sys
from pathlib import Path

import psycopg
from alembic import command
from alembic.config import Config
from sqlalchemy import Connection, create_engine, text
from sqlalchemy.pool import NullPool

from slab_base.logs import configure_logging
from slab_base.setting_fields import SettingError
from slab_base.settings import load_settings
from slab_store.roles import set_up_logins

_log = logging.getLogger(__name__)

ADVISORY_LOCK = 0x51AB
# A migration that waits for a lock makes every later query wait behind it: better to fail and be run again.
LOCK_TIMEOUT = "5s"
STATEMENT_TIMEOUT = "5min"


def alembic_config(*, connection: Connection) -> Config:
    """Alembic's settings for the migrations in this package, run on `connection`."""
    config = Config()
    config.set_main_option("script_location", str(Path(__file__).parent / "migrations"))
    config.set_main_option("file_template", "%%(rev)s_%%(slug)s")
    config.attributes["connection"] = connection
    return config


def migrate(*, migration_url: str, application_url: str, queue_url: str, target: str = "head") -> None:
    """Set up both login roles and run the migrations up to `target`."""
    with psycopg.connect(migration_url, autocommit=True) as plain:
        set_up_logins(connection=plain, application_url=application_url, queue_url=queue_url)
    engine = create_engine(migration_url, poolclass=NullPool)
    with engine.connect() as connection:
        _lock(connection)
        command.upgrade(alembic_config(connection=connection), target)
        connection.commit()
    engine.dispose()


def _lock(connection: Connection) -> None:
    """Wait for other migrations without a limit, then work under limits. The lock ends with the session."""
    connection.execute(text("SELECT pg_advisory_lock(:key)"), {"key": ADVISORY_LOCK})
    connection.execute(text(f"SET lock_timeout = '{LOCK_TIMEOUT}'"))
    connection.execute(text(f"SET statement_timeout = '{STATEMENT_TIMEOUT}'"))
    connection.commit()


def main() -> int:
    """Read the settings and migrate; the answer is the exit code."""
    configure_logging()
    try:
        settings = load_settings()
        urls = {
            "migration_url": settings.need("migration_database_url"),
            "application_url": settings.need("database_url"),
            "queue_url": settings.need("queue_database_url"),
        }
    except SettingError as problem:
        _log.error("%s", problem)
        return 2
    migrate(**urls)
    _log.info("the database is up to date")
    return 0


if __name__ == "__main__":
    sys.exit(main())
