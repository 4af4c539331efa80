"""Runs the migrations on the connection, and in the transaction, that ``upgrading`` gives."""

from alembic import context

from firmware_py.logbook.schema import METADATA

connection = context.config.attributes["connection"]
context.configure(connection=connection, target_metadata=METADATA)
with context.begin_transaction():
    context.run_migrations()
