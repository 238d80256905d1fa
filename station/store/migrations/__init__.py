"""Migrations of the record, by Alembic."""
