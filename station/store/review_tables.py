"""The tables of the review: what staff wrote beside a set.

A comment is never edited; the one who takes it back strikes it by a correction, as a rep.
"""

from __future__ import annotations

from sqlalchemy import Column, ForeignKey, String, Table

from station.store.tables import born_columns, id_column, metadata

comments = Table(
    "comments",
    metadata,
    id_column(),
    *born_columns(),
    Column("set_id", String(36), ForeignKey("sets.id"), nullable=False, index=True),
    Column("words", String(1000), nullable=False),
    Column("staff", String(200), nullable=False, default=""),
)
