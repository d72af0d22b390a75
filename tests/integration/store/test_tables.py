"""The table definitions equal what the migrations make."""

from importlib import import_module
from pkgutil import iter_modules

from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from sqlalchemy import create_engine
from sqlalchemy.pool import NullPool

from slab_store import tables
from slab_store.tables.metadata import metadata
from tests.support.databases import FreshDatabase


def test_migrations_and_table_definitions_agree(shared_database: FreshDatabase) -> None:
    for module in iter_modules(tables.__path__):
        import_module(f"{tables.__name__}.{module.name}")
    engine = create_engine(shared_database.migration_url, poolclass=NullPool)
    with engine.connect() as connection:
        context = MigrationContext.configure(connection, opts={"compare_type": True})
        assert compare_metadata(context, metadata) == []
