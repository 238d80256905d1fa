"""Alembic's entry: runs the migrations on the connection that `station.store.database` hands over."""

from __future__ import annotations

from alembic import context

from station.store.tables import metadata

connection = context.config.attributes["connection"]
context.configure(connection=connection, target_metadata=metadata, render_as_batch=True)
with context.begin_transaction():
    context.run_migrations()
