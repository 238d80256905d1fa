"""The rows that an exchange moves: read from this record, let go of, or let in only where they belong."""

from __future__ import annotations

import logging
from collections import defaultdict
from collections.abc import Sequence
from typing import Any

from sqlalchemy import Connection, Table, delete, select, text
from sqlalchemy import insert as plain_insert

from station.store import outbox
from station.store.share_tables import check_in_marks
from station.store.sharing import SHARED
from station.store.squad_tables import check_ins
from station.store.tables import metadata

log = logging.getLogger(__name__)


def rows_of(here: Connection, lines: Sequence[outbox.Waiting]) -> dict[str, list[dict[str, Any]]]:
    """The rows that wait, by table, parents first; those erased meanwhile are left out."""
    ids: dict[str, list[str]] = defaultdict(list)
    for one in lines:
        ids[one.table].append(one.row_id)
    rows = {}
    for name in SHARED:
        if name in ids:
            t = metadata.tables[name]
            found = here.execute(select(t).where(t.c.id.in_(ids[name])).order_by(t.c.id)).mappings().all()
            rows[name] = [dict(row) for row in found]
    return {name: page for name, page in rows.items() if page}


def keep_only_that_it_is_done(here: Connection, confirmed: list[str]) -> None:
    """The server has the answers: here stays only who has checked in on which day."""
    if not confirmed:
        return
    c, marks = check_ins.c, check_in_marks.c
    marked = select(marks.id).where(marks.athlete_id == c.athlete_id, marks.day == c.day).exists()
    columns = [c[name] for name in ("id", "born_at", "rack", "athlete_id", "day")]
    unmarked = select(*columns).where(c.id.in_(confirmed), ~marked)
    here.execute(plain_insert(check_in_marks).from_select([one.name for one in columns], unmarked))
    here.execute(text("PRAGMA secure_delete = ON"))
    here.execute(delete(check_ins).where(c.id.in_(confirmed)))


def is_erased(table: Table, row: dict[str, Any], gone: set[str]) -> bool:
    """Whether a row concerns an athlete who was erased."""
    return (row["id"] if table.name == "athletes" else row.get("athlete_id")) in gone


def whose_parents_are_here(
    here: Connection, table: Table, rows: list[dict[str, Any]]
) -> list[dict[str, Any]]:
    """Rows whose athlete or set is here; the others hang on what was erased."""
    for key in table.foreign_keys:
        parent, name = key.column, key.parent.name
        wanted = {row[name] for row in rows if row[name] is not None}
        there = set(here.execute(select(parent).where(parent.in_(wanted))).scalars()) if wanted else set()
        lost = [row for row in rows if row[name] is not None and row[name] not in there]
        if lost:
            log.info("%d rows of %s belong to what was erased and are left out", len(lost), table.name)
        rows = [row for row in rows if row not in lost]
    return rows
