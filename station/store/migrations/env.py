"""Alembic's entry: runs the migrations on the connection that `station.store.database` hands over."""

from __future__ import annotations

from alembic import context

from station.store import rack_tables, share_tables, squad_tables, tables

assert {squad_tables.check_ins.metadata, rack_tables.equipment.metadata, share_tables.erasures.metadata} == {
    tables.metadata
}, "all tables belong to one record"

connection = context.config.attributes["connection"]
context.configure(connection=connection, target_metadata=tables.metadata, render_as_batch=True)
with context.begin_transaction():
    context.run_migrations()
