"""Alembic's entry: runs the migrations on the connection that `slab_store.migrate` hands over."""

from alembic import context

from slab_store.tables import records, tenants, work
from slab_store.tables.metadata import metadata

# Imported for their tables: autogenerate and the equality test see what hangs on the metadata.
TABLE_MODULES = (records, tenants, work)

connection = context.config.attributes["connection"]
context.configure(connection=connection, target_metadata=metadata, transaction_per_migration=True)
with context.begin_transaction():
    context.run_migrations()
