"""Erasing one athlete: everything that concerns them goes, and whatever of them arrives later is refused.

The erasure itself is a record, of a UUID and a date. Every record applies those it knows before it takes anything
else in: when it is opened (a restored backup too), when it takes over from a neighbour, at every exchange. This is
the one place where the record deletes. A set that was written down for the erased athlete by mistake and moved to
somebody else since is that somebody's, and stays without the first name; one that was moved to them goes.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sqlalchemy import Connection, Table, delete, insert, select, update

from station.store.erased_ledger import Erasure, read_ledger, write_ledger
from station.store.ids import IdClock
from station.store.review_tables import comments
from station.store.share_tables import erasures
from station.store.squad_tables import jumps
from station.store.tables import (
    athletes,
    corrections,
    decisions,
    metadata,
    raw_files,
    reps,
    set_ends,
    sets,
)

if TYPE_CHECKING:
    from station.store.record import Record

_MEASURED = (sets, jumps)
_OF_A_SET = (decisions, set_ends, raw_files, reps, comments)
_CORRECTED_OF_A_SET = (reps, comments)


@dataclass(frozen=True, slots=True)
class Erased:
    """What went: how many rows, and the sets and jumps whose raw samples go with them."""

    rows: int = 0
    set_ids: tuple[str, ...] = ()


def erase_athlete(record: Record, athlete_id: str, day: date) -> Erased:
    """Erase one athlete from this record, and say so to every other record: in the ledger, and by an exchange.

    Raises:
        FolderNotWritable: the ledger cannot be written; nothing was erased.
    """
    one = Erasure(IdClock().new(), athlete_id, day)
    write_ledger(record.database.folder.parent, [one])
    return take_up(record, [one])


def take_up(record: Record, known: Iterable[Erasure]) -> Erased:
    """Apply erasures that this record did not know; those it knew are not repeated."""
    with record.database.read() as connection:
        before = erased_ids(connection)
    new = [one for one in known if one.athlete_id not in before]
    if not new:
        return Erased()
    with record.database.write("the erasure") as connection:
        # Else what is deleted stays legible in free pages (sqlite.org/pragma.html#pragma_secure_delete).
        connection.exec_driver_sql("PRAGMA secure_delete = ON")
        gone = add_erasures(connection, new)
    forget_raw(record.database.folder, gone.set_ids)
    record.database.empty_log()  # what went is still legible there
    return gone


def catch_up(record: Record) -> Erased:
    """Apply what the machine's ledger says and this record does not know yet."""
    return take_up(record, read_ledger(record.database.folder.parent))


def add_erasures(connection: Connection, new: Iterable[Erasure]) -> Erased:
    """Write erasures down and apply them, in one transaction of the caller."""
    rows, set_ids = 0, list[str]()
    for one in new:
        connection.execute(insert(erasures), {"id": one.id, "athlete_id": one.athlete_id, "day": one.day})
        gone = erase_rows(connection, one.athlete_id)
        rows, set_ids = rows + gone.rows, [*set_ids, *gone.set_ids]
    return Erased(rows, tuple(set_ids))


def erased_ids(connection: Connection) -> set[str]:
    """Everybody who was ever erased."""
    return set(connection.execute(select(erasures.c.athlete_id)).scalars())


def refuse_again(connection: Connection) -> Erased:
    """Erase what arrived of erased athletes by a detour: a set that a late correction says was theirs."""
    gone = erased_ids(connection)
    if not gone:
        return Erased()
    named = corrections.c.value["to"].as_string()
    query = select(named).where(corrections.c.field == "athlete_id", named.in_(gone)).distinct()
    rows, set_ids = 0, list[str]()
    for athlete_id in connection.execute(query).scalars().all():
        found = erase_rows(connection, athlete_id)
        rows, set_ids = rows + found.rows, [*set_ids, *found.set_ids]
    return Erased(rows, tuple(set_ids))


def erase_rows(connection: Connection, athlete_id: str) -> Erased:
    """Delete every row that concerns an athlete, on SQLite or PostgreSQL."""
    rows, measured = 0, list[str]()
    for table in _MEASURED:
        theirs, others = _whose(connection, table, athlete_id)
        rows += _delete_measured(connection, table, theirs)
        measured += theirs
        if others:
            once = table.c.id.in_(others) & (table.c.athlete_id == athlete_id)
            connection.execute(update(table).where(once).values(athlete_id=None))
    named = corrections.c.value["to"].as_string() == athlete_id
    rows += _gone(connection, corrections, (corrections.c.field == "athlete_id") & named)
    for table in reversed(metadata.sorted_tables):
        if "athlete_id" in table.c and table not in (*_MEASURED, erasures):
            rows += _gone(connection, table, table.c.athlete_id == athlete_id)
    rows += _gone(connection, athletes, athletes.c.id == athlete_id)
    return Erased(rows, tuple(measured))


def forget_raw(folder: Path, set_ids: Collection[str]) -> int:
    """Delete the raw samples of these sets and jumps from a record's folder; how many files."""
    files = [file for set_id in set_ids for file in (folder / "raw").glob(f"{set_id}_*")]
    for file in files:
        file.unlink(missing_ok=True)
    return len(files)


def _whose(connection: Connection, table: Table, athlete_id: str) -> tuple[list[str], list[str]]:
    """Of the sets or jumps that ever bore this name: those that are theirs now, and those that are not."""
    named = corrections.c.value["to"].as_string() == athlete_id
    moved = select(corrections.c.target_id).where(corrections.c.field == "athlete_id", named)
    query = select(table.c.id, table.c.athlete_id).where(
        (table.c.athlete_id == athlete_id) | table.c.id.in_(moved)
    )
    now = {row.id: row.athlete_id for row in connection.execute(query)}
    later = (
        select(corrections.c.target_id, corrections.c.value)
        .where(corrections.c.field == "athlete_id", corrections.c.target_id.in_(list(now)))
        .order_by(corrections.c.id)
    )
    for row in connection.execute(later):
        now[row.target_id] = row.value["to"]
    theirs = [key for key, owner in now.items() if owner == athlete_id]
    return theirs, [key for key in now if key not in set(theirs)]


def _delete_measured(connection: Connection, table: Table, ids: list[str]) -> int:
    if not ids:
        return 0
    targets = list(ids)
    if table is sets:
        for one in _CORRECTED_OF_A_SET:
            targets += connection.execute(select(one.c.id).where(one.c.set_id.in_(ids))).scalars()
    rows = _gone(connection, corrections, corrections.c.target_id.in_(targets))
    if table is sets:
        rows += sum(_gone(connection, one, one.c.set_id.in_(ids)) for one in _OF_A_SET)
    return rows + _gone(connection, table, table.c.id.in_(ids))


def _gone(connection: Connection, table: Table, which: Any) -> int:
    return int(connection.execute(delete(table).where(which)).rowcount)
