"""Rows of several tables that come from a file: all of them in one transaction, or none."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from sqlalchemy import insert

from station.store.record import Record
from station.store.tables import metadata

_AT_ONCE = 5000


def add_together(record: Record, what: str, rows: Mapping[str, Sequence[Mapping[str, Any]]]) -> int:
    """Add complete rows (id, instant and place with each) under the ids they bring; how many were not there yet.

    Args:
        what: names it in the sentence when the disk refuses.
        rows: by table, parents first.

    Raises:
        WriteFailed, RowRefused: nothing of it was kept.
    """
    added = 0
    with record.database.write(what) as connection:
        for name, some in rows.items():
            statement = insert(metadata.tables[name]).prefix_with("OR IGNORE")
            for first in range(0, len(some), _AT_ONCE):
                page = [dict(row) for row in some[first : first + _AT_ONCE]]
                added += max(connection.execute(statement, page).rowcount, 0)
    record.look_at_ids()
    return added
