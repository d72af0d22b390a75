"""A store with one organisation in it.

Making a database takes half a second, emptying one a few milliseconds: the tests of a module share one and
begin with it empty. Tests that need one of their own ask for `fresh_database`.
"""

from collections.abc import Iterator

import psycopg
import pytest
from psycopg import sql

from slab_store.database import Database
from tests.support.databases import FreshDatabase, copied_database
from tests.support.runs import Firm, found_firm, open_database


@pytest.fixture(scope="module")
def shared_database(postgres_server: str, database_template: str) -> Iterator[FreshDatabase]:
    """One migrated database for the tests of a module."""
    with copied_database(superuser_url=postgres_server, template=database_template) as made:
        yield made


@pytest.fixture
def database(shared_database: FreshDatabase) -> Iterator[Database]:
    """Both doors to the module's database, emptied."""
    _empty(shared_database.migration_url)
    opened = open_database(shared_database)
    yield opened
    opened.close()


@pytest.fixture
def firm(database: Database) -> Firm:
    """An organisation."""
    return found_firm(database)


def _empty(owner_url: str) -> None:
    """Delete all rows, whatever refers to whatever."""
    with psycopg.connect(owner_url) as owner:
        owner.execute("SET session_replication_role = replica")
        rows = owner.execute("SELECT relname FROM pg_class WHERE relrowsecurity").fetchall()
        for (table,) in rows:
            owner.execute(sql.SQL("DELETE FROM {}").format(sql.Identifier(table)))
