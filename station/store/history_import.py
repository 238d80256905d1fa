"""An older history in the record: sets that another device measured, marked as such, and taken out as a whole.

The sensor of such a set is "imported: ...", so that the statistics see another piece of equipment, and its engine is
the import itself. Ids come from what a set says and lie in the order of days, so that the same file read twice adds
nothing and an older set stands before a newer one. Taking an import out strikes its reps; nothing is deleted.
"""

from __future__ import annotations

import hashlib
import uuid
from collections import Counter, defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta, tzinfo
from typing import Any

from sqlalchemy import func, select

from station.squad.history_table import HistorySet
from station.store.effective import effective_reps, rep_row
from station.store.erasure import erased_ids
from station.store.many_rows import add_together
from station.store.record import Record
from station.store.tables import new_id, reps, sets

SENSOR = "imported: "
_ENGINE = "import "
KIND = "imported"
LABEL_LONGEST = 60
_NOON = time(12)
_REP_S = 3.0  # the reps of a set lie so far apart: nobody knows when they were


@dataclass(frozen=True, slots=True)
class Import:
    """One import as it stands in the record.

    Attributes:
        key: of the import.
        label: where it came from, in the words of whoever brought it.
        first, last: days of its sets.
        at: when it was brought in. taken_out: none of its reps counts now.
    """

    key: str
    label: str
    sets: int
    first: date
    last: date
    staff: str
    at: datetime
    taken_out: bool


@dataclass(frozen=True, slots=True)
class Written:
    """What an import wrote: its key (None: nothing new), sets that are new, and sets that were there already."""

    key: str | None
    new: int
    known: int


def import_sets(record: Record, found: Sequence[HistorySet], label: str, staff: str, zone: tzinfo) -> Written:
    """Write the sets that are not there yet, all or none; of erased athletes nothing.

    Args:
        label: where they come from.
        staff: who brings them.
        zone: of their days and times.

    Raises:
        WriteFailed: nothing was kept.
    """
    key = new_id().replace("-", "")
    with record.database.read() as connection:
        gone = erased_ids(connection)
        wanted = _with_ids([one for one in found if one.athlete_id not in gone], zone)
        there = {
            i
            for (i,) in connection.execute(select(sets.c.id).where(sets.c.engine_version.like(f"{_ENGINE}%")))
        }
    new = [(set_id, born, one) for set_id, born, one in wanted if set_id not in there]
    if not new:
        return Written(None, 0, len(wanted))
    set_rows = [_set_row(set_id, born, one, label, staff, key) for set_id, born, one in new]
    rep_rows = [row for set_id, born, one in new for row in _rep_rows(set_id, born, one)]
    add_together(record, "the import", {"sets": set_rows, "reps": rep_rows})
    return Written(key, len(new), len(wanted) - len(new))


def imports(record: Record) -> list[Import]:
    """Every import, the newest first."""
    query = (
        select(
            *(sets.c.engine_version, func.max(sets.c.sensor).label("sensor"), func.count().label("n")),
            *(func.min(sets.c.day).label("first"), func.max(sets.c.day).label("last")),
            func.max(sets.c.staff).label("staff"),
        )
        .where(sets.c.engine_version.like(f"{_ENGINE}%"))
        .group_by(sets.c.engine_version)
        .order_by(sets.c.engine_version.desc())
    )
    with record.database.read() as connection:
        rows = connection.execute(query).all()
    return [
        Import(
            key := row.engine_version.removeprefix(_ENGINE),
            row.sensor.removeprefix(SENSOR),
            row.n,
            row.first,
            row.last,
            row.staff or "",
            datetime.fromtimestamp((uuid.UUID(key).int >> 80) / 1000, UTC),
            not _reps_of(record, key, struck=False),
        )
        for row in rows
    ]


def take_out(record: Record, key: str, staff: str) -> int:
    """Strike every rep of an import, in one step; how many were struck. `bring_back` is the way back."""
    return _strike(record, key, staff, struck=True, why="the import was taken out")


def bring_back(record: Record, key: str, staff: str) -> int:
    """Let every rep of an import count again; how many."""
    return _strike(record, key, staff, struck=False, why="the import was brought back")


def _strike(record: Record, key: str, staff: str, *, struck: bool, why: str) -> int:
    ids = _reps_of(record, key, struck=not struck)
    rows = [
        {"target_id": rep_id, "field": "struck", "value": {"to": struck}, "staff": staff, "why": why}
        for rep_id in ids
    ]
    record.add_rows("corrections", rows)
    return len(rows)


def _reps_of(record: Record, key: str, *, struck: bool) -> list[str]:
    query = (
        effective_reps().join(sets, sets.c.id == reps.c.set_id).where(sets.c.engine_version == _ENGINE + key)
    )
    with record.database.read() as connection:
        rows = [rep_row(row) for row in connection.execute(query)]
    return [row.rep_id for row in rows if row.struck is struck]


def _with_ids(found: Sequence[HistorySet], zone: tzinfo) -> list[tuple[str, datetime, HistorySet]]:
    """Each set with its id and the instant it was lifted; one without a time of day stands at noon, in the file's
    order."""
    nth: dict[tuple[str, date], int] = defaultdict(int)
    alike: Counter[str] = Counter()
    made = []
    for one in found:
        place = nth[one.athlete_id, one.day]
        nth[one.athlete_id, one.day] += 1
        born = datetime.combine(one.day, one.at or _NOON, zone) + timedelta(seconds=place)
        said = f"{one.athlete_id} {one.day} {one.at} {one.lift} {one.load_kg:.3f} " + " ".join(
            f"{rep.number}:{rep.mean_velocity_m_s:.4f}" for rep in one.reps
        )
        alike[said] += 1  # two sets that say the same are two
        made.append((_id(born, f"{said} {alike[said]}"), born, one))
    return made


def _id(born: datetime, said: str) -> str:
    """A UUIDv7 of that instant whose other bits are what is said."""
    bits = int.from_bytes(hashlib.sha256(said.encode()).digest(), "big")
    milliseconds = max(int(born.timestamp() * 1000), 0)
    value = milliseconds << 80 | 7 << 76 | (bits & 0xFFF) << 64 | 2 << 62 | (bits >> 12) & ((1 << 62) - 1)
    return str(uuid.UUID(int=value))


def _set_row(
    set_id: str, born: datetime, one: HistorySet, label: str, staff: str, key: str
) -> dict[str, Any]:
    return {
        "id": set_id,
        "born_at": born,
        "rack": KIND,
        "athlete_id": one.athlete_id,
        "name_confirmed": True,
        "day": one.day,
        "session": 1,
        "lift": one.lift,
        "load_kg": one.load_kg,
        "kind": KIND,
        "staff": staff or None,
        "sensor": f"{SENSOR}{label[:LABEL_LONGEST]}",
        "engine_version": _ENGINE + key,
    }


def _rep_rows(set_id: str, born: datetime, one: HistorySet) -> list[dict[str, Any]]:
    rows = []
    for n, rep in enumerate(one.reps):
        start = _REP_S * n
        duration = rep.displacement_m / rep.mean_velocity_m_s if rep.displacement_m else 0.0
        rows.append(
            {
                "id": _id(born, f"{set_id} {rep.number}"),
                "born_at": born,
                "rack": KIND,
                "set_id": set_id,
                "number": rep.number,
                "status": "measured",
                "start_time_s": start,
                "end_time_s": start + duration,
                "decided_time_s": start + duration,
                "mean_velocity_m_s": rep.mean_velocity_m_s,
                "peak_velocity_m_s": rep.peak_velocity_m_s,
                "displacement_m": rep.displacement_m,
                "flags": [],
                "why": "",
            }
        )
    return rows
