"""An athlete's own copy: everything that a machine's records hold about one person, gathered; it erases nothing."""

from __future__ import annotations

import csv
import json
import sqlite3
import tempfile
from collections.abc import Iterator, Mapping, Sequence
from contextlib import closing, contextmanager, suppress
from dataclasses import dataclass
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

from sqlalchemy import ColumnElement, Connection, Select, select

from station.squad.checkins import CheckIn
from station.squad.jumps import JumpTrial
from station.store import checkins, effective, jumps
from station.store.database import FILE_NAME
from station.store.errors import FolderNotWritable
from station.store.nearby import DESK_TABLES as DESK_TABLES
from station.store.nearby import take_from
from station.store.record import Record
from station.store.review_tables import comments
from station.store.rows import RepRow, SetRow
from station.store.tables import athletes, corrections, decisions, metadata, reps, sets

_APART = ("sets", "jumps", "check_ins", "erasures")  # as they stand now, in files of their own words


@dataclass(frozen=True, slots=True)
class OwnCopy:
    """What is held about one person.

    Attributes:
        name: as of the day.
        sets: each with its reps, corrections included, oldest first.
        jumps, check_ins: oldest first.
        others: rows of every other table that concerns them, by table, as stored: comments, decisions and corrections
            of their sets too.
    """

    athlete_id: str
    name: str
    day: date
    sets: tuple[tuple[SetRow, tuple[RepRow, ...]], ...]
    jumps: tuple[JumpTrial, ...]
    check_ins: tuple[CheckIn, ...]
    others: Mapping[str, tuple[dict[str, Any], ...]]


def gather(root: Path, athlete_id: str, day: date) -> OwnCopy:
    """Gather what all records of a machine hold about one person, also while stations run."""
    with all_records(root, DESK_TABLES) as record:
        name = next((a.name for a in record.athletes(day) if a.athlete_id == athlete_id), "")
        with record.database.read() as connection:
            return _gathered(connection, athlete_id, name, day)


def people(root: Path, day: date) -> dict[str, str]:
    """Everybody in the records of a machine, those who left too: name by id."""
    with all_records(root, ("erasures", "athletes", "roster_changes")) as record:
        with record.database.read() as connection:
            born = {r.id: r.name for r in connection.execute(select(athletes.c.id, athletes.c.name))}
        return born | {a.athlete_id: a.name for a in record.athletes(day)}


@contextmanager
def all_records(root: Path, names: Sequence[str]) -> Iterator[Record]:
    """All records of a machine taken together, in one of its own that is thrown away."""
    with (
        tempfile.TemporaryDirectory() as scratch,
        closing(Record(Path(scratch) / "copy", "copy", lambda: datetime.now(UTC))) as record,
    ):
        for file in sorted(root.glob(f"*/{FILE_NAME}")):
            with suppress(sqlite3.Error):  # of an earlier version, not opened since
                take_from(record, file, names)
        yield record


def _gathered(connection: Connection, athlete_id: str, name: str, day: date) -> OwnCopy:
    rows = effective.sets_of(connection, athlete_id)
    trials = [one for one in jumps.trials_since(connection, date.min) if one.athlete_id == athlete_id]
    answers = checkins.check_ins_since(connection, date.min)
    others = {}
    for table in metadata.sorted_tables:
        key = table.c.id if table.name == "athletes" else table.c.get("athlete_id")
        if key is not None and table.name not in _APART:
            found = connection.execute(select(table).where(key == athlete_id)).mappings().all()
            others[table.name] = tuple(dict(row) for row in found)
    others |= _beside_the_sets(connection, [row.set_id for row in rows], [one.trial_id for one in trials])
    return OwnCopy(
        athlete_id,
        name or (others["athletes"][0]["name"] if others["athletes"] else ""),
        day,
        tuple((row, tuple(effective.reps_of(connection, row.set_id))) for row in rows),
        tuple(trials),
        tuple(one for one in answers if one.athlete_id == athlete_id),
        {table: rows for table, rows in others.items() if rows},
    )


def _beside_the_sets(
    connection: Connection, set_ids: Sequence[str], jump_ids: Sequence[str]
) -> dict[str, tuple[dict[str, Any], ...]]:
    """What staff wrote about these sets and jumps: comments, decisions, and corrections of them or of their reps.

    Whose a set was before it was moved concerns somebody else, and is left out.
    """
    c, d = comments.c, decisions.c
    own_reps = select(reps.c.id).where(reps.c.set_id.in_(set_ids))
    own_comments = select(c.id).where(c.set_id.in_(set_ids))
    target = corrections.c.target_id
    of_them = target.in_([*set_ids, *jump_ids]) | target.in_(own_reps) | target.in_(own_comments)
    not_whose = corrections.c.field != "athlete_id"
    struck = _newest_strikes(connection, target.in_(own_comments))
    said = _read(connection, _with_day(select(sets.c.day, comments), c.set_id).where(c.set_id.in_(set_ids)))
    decided = _with_day(select(sets.c.day, decisions), d.set_id).where(d.set_id.in_(set_ids))
    return {
        comments.name: tuple(row | {"taken_back": row["id"] in struck} for row in said),
        decisions.name: _read(connection, decided),
        corrections.name: _read(
            connection, select(corrections).where(of_them, not_whose).order_by(corrections.c.id)
        ),
    }


def _with_day(query: Select[Any], set_id: ColumnElement[Any]) -> Select[Any]:
    return query.join(sets, sets.c.id == set_id).order_by(set_id)


def _read(connection: Connection, query: Select[Any]) -> tuple[dict[str, Any], ...]:
    return tuple(dict(row) for row in connection.execute(query).mappings())


def _newest_strikes(connection: Connection, which: ColumnElement[bool]) -> set[str]:
    """Of these targets those that are struck now."""
    c = corrections.c
    query = select(c.target_id, c.value).where(which, c.field == "struck").order_by(c.id)
    now = {row.target_id: row.value["to"] for row in connection.execute(query)}
    return {target for target, struck in now.items() if struck}


def write_csv(copy: OwnCopy, folder: Path) -> list[Path]:
    """One CSV file a kind of record (UTF-8, RFC 4180); units are in the names of the columns.

    Raises:
        FolderNotWritable: with what to do.
    """
    tables: dict[str, Sequence[Mapping[str, Any]]] = {
        "reps": [_rep(row, rep) for row, reps in copy.sets for rep in reps],
        "jumps": [_plain(trial) for trial in copy.jumps],
        "check_ins": [_plain(one) for one in copy.check_ins],
        **copy.others,
    }
    written = []
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for name, rows in tables.items():
            if rows:
                written.append(_write(folder / f"{name}.csv", rows))
    except OSError as error:
        raise FolderNotWritable(folder, error.strerror or str(error)) from error
    return written


def _write(file: Path, rows: Sequence[Mapping[str, Any]]) -> Path:
    with file.open("w", newline="", encoding="utf-8") as target:
        writer = csv.DictWriter(target, list(rows[0]))
        writer.writeheader()
        writer.writerows({key: _cell(value) for key, value in row.items()} for row in rows)
    return file


def _rep(row: SetRow, rep: RepRow) -> dict[str, Any]:
    own = {"set": row.set_id, "day": row.day, "rack": row.rack, "lift": row.lift, "load_kg": row.load_kg}
    own |= {"kind": row.kind, "rep": rep.number, "status": rep.status, "struck": rep.struck}
    own |= {"mean_velocity_m_s": rep.mean_velocity_m_s, "peak_velocity_m_s": rep.peak_velocity_m_s}
    return own | {
        "displacement_m": rep.displacement_m,
        "uncertainty_m_s": rep.uncertainty_m_s,
        "why": rep.why,
        "measured_by": rep.engine_version,
    }


def _plain(value: CheckIn | JumpTrial) -> dict[str, Any]:
    return {name: getattr(value, name) for name in value.__slots__ if name != "athlete_id"}


def _cell(value: object) -> object:
    if isinstance(value, dict | list | tuple):
        return json.dumps(value, default=str, ensure_ascii=False)
    return value
