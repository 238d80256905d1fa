"""Records of one machine: each process owns its folder, and takes from its neighbours' what it may know.

Rows are never edited and carry ids of their own, so taking over is inserting what is not there yet, as often as one
likes. A rack or a kiosk takes roster, calendar, plans, training status and the holds, never anybody's answers; a
rack also what was corrected at a desk.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator, Sequence
from contextlib import closing, contextmanager, suppress
from datetime import date
from pathlib import Path
from typing import Any

from station.store import tables
from station.store.database import FILE_NAME
from station.store.erased_ledger import Erasure
from station.store.erasure import forget_raw, refuse_again, take_up
from station.store.record import ROW_TABLES, Record

SQUAD_TABLES = (
    *("athletes", "staff", "matches", "plans", "roster_changes", "training_statuses"),
    *("match_days", "appearances", "lift_plans", "consents", "load_holds", "erasures", "check_in_marks"),
    "badges",
)
# A rack takes besides what was corrected at a desk, and of its own sets what was measured again.
RACK_TABLES = (*SQUAD_TABLES, "corrections", "reps")
DESK_TABLES = tuple(name for name in ROW_TABLES if name not in (tables.claims.name, tables.raw_files.name))
_WAIT_S = 2.0


def neighbours(folder: Path) -> list[Path]:
    """The record files of the other processes beside this one's folder."""
    return sorted(p for p in folder.parent.glob(f"*/{FILE_NAME}") if p.parent != folder)


def take_over(record: Record, names: Sequence[str] = SQUAD_TABLES) -> int:
    """Take from every neighbour's record the rows of these tables that are not here yet; how many.

    A neighbour that cannot be read now, or is of another version, is left for the next time.
    """
    taken = 0
    for file in neighbours(record.database.folder):
        with suppress(sqlite3.Error):
            taken += take_from(record, file, names)
    return taken


def take_from(record: Record, file: Path, names: Sequence[str]) -> int:
    """Take from one record's file the rows of these tables that are not here yet; how many.

    Erasures come first, and of erased athletes nothing.

    Raises:
        sqlite3.Error: it cannot be read, or is of another version; nothing was taken.
    """
    if "erasures" in names:
        take_up(record, _erasures_of(file))
    with record.database.engine.connect() as connection:
        raw = connection.connection.driver_connection
        assert isinstance(raw, sqlite3.Connection)
        cursor = raw.cursor()
        try:
            cursor.execute("ATTACH DATABASE ? AS other", (str(file),))
            taken = _copy_rows(cursor, names)
        finally:
            if raw.in_transaction:
                raw.execute("ROLLBACK")
            _detach(cursor)
            cursor.close()
    if taken:
        with record.database.write("what was taken over") as writing:
            gone = refuse_again(writing)
        forget_raw(record.database.folder, gone.set_ids)
        record.look_at_ids()
    return taken


def _erasures_of(file: Path) -> list[Erasure]:
    with _reading(file) as connection:
        rows = connection.execute("SELECT id, athlete_id, day FROM erasures").fetchall()
    return [Erasure(row_id, athlete_id, date.fromisoformat(day)) for row_id, athlete_id, day in rows]


def _copy_rows(cursor: sqlite3.Cursor, names: Sequence[str]) -> int:
    theirs = {row[0] for row in cursor.execute("SELECT name FROM other.sqlite_master WHERE type = 'table'")}
    wanted = [t.name for t in tables.metadata.sorted_tables if t.name in names and t.name in theirs]
    alone = tables.sets.name not in names  # then of reps, those that a desk measured again
    taken = 0
    cursor.execute("BEGIN IMMEDIATE")
    for name in wanted:
        columns = [row[1] for row in cursor.execute(f"PRAGMA other.table_info({name})")]
        if alone and name == tables.reps.name and "engine_version" not in columns:
            continue
        ours = {row[1] for row in cursor.execute(f"PRAGMA main.table_info({name})")}
        listed = ", ".join(c for c in columns if c in ours)
        cursor.execute(
            f"INSERT OR IGNORE INTO main.{name} ({listed}) SELECT {listed} FROM other.{name} "
            f"WHERE id NOT IN (SELECT id FROM main.{name}){_not_erased(name)}"
            f"{' AND engine_version IS NOT NULL' if alone and name == tables.reps.name else ''}"
        )
        taken += max(cursor.rowcount, 0)
    cursor.execute("COMMIT")
    return taken


def _not_erased(name: str) -> str:
    """What keeps an erased athlete's rows out, and what hangs on a set that was theirs."""
    table = tables.metadata.tables[name]
    if name == tables.athletes.name:
        return " AND id NOT IN (SELECT athlete_id FROM main.erasures)"
    words = ""
    if "athlete_id" in table.c and name != "erasures":
        words += " AND (athlete_id IS NULL OR athlete_id NOT IN (SELECT athlete_id FROM main.erasures))"
    if "set_id" in table.c:
        words += " AND set_id IN (SELECT id FROM main.sets)"
    return words


def _detach(cursor: sqlite3.Cursor) -> None:
    if any(row[1] == "other" for row in cursor.execute("PRAGMA database_list").fetchall()):
        cursor.execute("DETACH DATABASE other")


def signature(folder: Path) -> tuple[tuple[str, int, int], ...]:
    """Changes whenever a neighbour, or this record itself, has written something."""
    seen = []
    for file in [*neighbours(folder), folder / FILE_NAME]:
        for part in (file, file.with_name(f"{FILE_NAME}-wal")):
            if part.exists():
                stat = part.stat()
                seen.append((str(part), stat.st_mtime_ns, stat.st_size))
    return tuple(seen)


def held_back_nearby(folder: Path, day: date) -> set[str]:
    """Athletes to whom no load is suggested on a day, out of all records of this machine. Says nobody why."""
    holds: list[tuple[str, str, bool]] = []
    query = "SELECT id, athlete_id, holds FROM load_holds WHERE day = ?"
    for file in [*neighbours(folder), folder / FILE_NAME]:
        try:
            with _reading(file) as connection:
                holds += connection.execute(query, (day.isoformat(),)).fetchall()
        except sqlite3.Error:  # of an earlier version, or not readable now
            continue
    newest = {athlete_id: held for _, athlete_id, held in sorted(holds)}
    return {athlete_id for athlete_id, held in newest.items() if held}


@contextmanager
def _reading(file: Path) -> Iterator[sqlite3.Connection]:
    with closing(sqlite3.connect(f"{file.as_uri()}?mode=ro", uri=True, timeout=_WAIT_S)) as connection:
        yield connection


def rows_nearby(folder: Path, query: str, *values: str) -> list[tuple[Any, ...]]:
    """Rows of all records of this machine in the order of their ids, each once; `query` selects the id first."""
    found: dict[str, tuple[Any, ...]] = {}
    for file in [*neighbours(folder), folder / FILE_NAME]:
        try:
            with _reading(file) as connection:
                found |= {row[0]: row for row in connection.execute(query, values)}
        except sqlite3.Error:  # of an earlier version, or not readable now
            continue
    return [found[key] for key in sorted(found)]


class HoldsNearby:
    """Who is held back on a day, by all records of this machine; read again when one of them has changed.

    Args:
        folder: this process's own.
    """

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._seen: tuple[object, ...] = ()
        self._held: set[str] = set()

    def of(self, athlete_id: str, day: date) -> bool:
        """Whether no load is suggested to this athlete on that day. Says nobody why."""
        seen = (day, signature(self._folder))
        if seen != self._seen:
            self._held, self._seen = held_back_nearby(self._folder, day), seen
        return athlete_id in self._held
