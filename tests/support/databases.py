"""A migrated database for each test, copied from a template that is migrated once a session."""

import os
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from urllib.parse import urlsplit
from uuid import uuid4

import psycopg
from psycopg import sql

APPLICATION_ROLE = "slab_app"
QUEUE_ROLE = "slab_queue"
PASSWORD = "only-for-tests"


@dataclass(frozen=True, kw_only=True)
class FreshDatabase:
    """The addresses of one database: of the role that owns the tables, the application and the queue."""

    name: str
    migration_url: str
    app_url: str
    queue_url: str

    def environment(self) -> dict[str, str]:
        """The settings that a process of ours reads for this database."""
        return {
            "SLABWRIGHT_DATABASE_URL": self.app_url,
            "SLABWRIGHT_QUEUE_DATABASE_URL": self.queue_url,
            "SLABWRIGHT_MIGRATION_DATABASE_URL": self.migration_url,
        }


def addresses(*, superuser_url: str, name: str) -> FreshDatabase:
    """The addresses of the database `name` on a server."""
    place = urlsplit(superuser_url).netloc.rpartition("@")[2]
    return FreshDatabase(
        name=name,
        migration_url=urlsplit(superuser_url)._replace(path=f"/{name}").geturl(),
        app_url=f"postgresql://{APPLICATION_ROLE}:{PASSWORD}@{place}/{name}",
        queue_url=f"postgresql://{QUEUE_ROLE}:{PASSWORD}@{place}/{name}",
    )


def migrate(*, database: FreshDatabase) -> None:
    """Bring a database to the newest tables and roles, as an installation does."""
    done = subprocess.run(
        [sys.executable, "-m", "slab_store.migrate"],
        env={**os.environ, **database.environment()},
        capture_output=True,
        text=True,
        check=False,
    )
    if done.returncode != 0:
        raise RuntimeError(f"the migration of the template database failed:\n{done.stdout}{done.stderr}")


@contextmanager
def migrated_template(*, superuser_url: str) -> Iterator[str]:
    """The name of a migrated database to copy from; nobody may be connected to it."""
    with _database(superuser_url=superuser_url, template="template0") as template:
        migrate(database=template)
        yield template.name


@contextmanager
def copied_database(*, superuser_url: str, template: str) -> Iterator[FreshDatabase]:
    """A copy of the template, dropped at the end with all its connections."""
    with _database(superuser_url=superuser_url, template=template) as database:
        yield database


@contextmanager
def _database(*, superuser_url: str, template: str) -> Iterator[FreshDatabase]:
    name = f"test_{uuid4().hex}"
    create = sql.SQL("create database {} template {} strategy file_copy")
    with psycopg.connect(superuser_url, autocommit=True) as connection:
        connection.execute(create.format(sql.Identifier(name), sql.Identifier(template)))
    try:
        yield addresses(superuser_url=superuser_url, name=name)
    finally:
        with psycopg.connect(superuser_url, autocommit=True) as connection:
            connection.execute(sql.SQL("drop database {} with (force)").format(sql.Identifier(name)))
