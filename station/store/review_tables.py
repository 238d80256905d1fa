"""The tables of the review: what staff wrote beside a set.

A comment is never edited; the one who takes it back strikes it by a correction, as a rep.
"""

from __future__ import annotations

from sqlalchemy import Column, Connection, ForeignKey, String, Table, select

from station.store.tables import born_columns, corrections, id_column, metadata

comments = Table(
    "comments",
    metadata,
    id_column(),
    *born_columns(),
    Column("set_id", String(36), ForeignKey("sets.id"), nullable=False, index=True),
    Column("words", String(1000), nullable=False),
    Column("staff", String(200), nullable=False, default=""),
)


def all_comments(connection: Connection) -> dict[str, list[str]]:
    """By set the words that stand beside it, oldest first; on SQLite or PostgreSQL."""
    c = comments.c
    rows = connection.execute(select(c.id, c.set_id, c.words).order_by(c.id)).all()
    of_these = corrections.c.target_id.in_(select(c.id)) & (corrections.c.field == "struck")
    query = select(corrections.c.target_id, corrections.c.value).where(of_these).order_by(corrections.c.id)
    struck = {row.target_id: bool(row.value["to"]) for row in connection.execute(query)}
    found: dict[str, list[str]] = {}
    for row in rows:
        if not struck.get(row.id, False):
            found.setdefault(row.set_id, []).append(row.words)
    return found
