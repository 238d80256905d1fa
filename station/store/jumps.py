"""Jumps in the record: trials as measured, with corrections of whose they are and whether they count."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

from sqlalchemy import Connection, func, insert, select

from station.squad.calendar import AfterMatch
from station.squad.jumps import JumpDay, JumpTrial
from station.store.journal import RawFile
from station.store.record import Record
from station.store.squad_tables import jumps
from station.store.tables import corrections


@dataclass(frozen=True, slots=True)
class JumpSource:
    """What measured a trial: sensor, its range and calibration, the engine."""

    sensor: str
    engine_version: str
    sensor_range_m_s2: float | None = None
    calibration: dict[str, Any] | None = None


def add_jump(
    record: Record,
    trial: JumpTrial,
    flight_time_s: float,
    source: JumpSource,
    *,
    name_confirmed: bool,
    keep_raw: Callable[[str], RawFile | None] = lambda _jump_id: None,
) -> JumpTrial:
    """Keep one trial, on the disk when this returns; the trial with its id.

    Args:
        keep_raw: writes the raw samples of the jump with this id; None where there are none, or the disk refused.
    """
    born = record.born()
    raw = keep_raw(str(born["id"]))
    row = born | {
        "athlete_id": trial.athlete_id,
        "name_confirmed": name_confirmed,
        "day": trial.day,
        "height_m": trial.height_m,
        "from_flight_m": trial.from_flight_m,
        "from_impulse_m": trial.from_impulse_m,
        "uncertainty_m": trial.uncertainty_m,
        "depth_m": trial.depth_m,
        "time_to_takeoff_s": trial.time_to_takeoff_s,
        "flight_time_s": flight_time_s,
        "flags": list(trial.flags),
        "valid": trial.valid,
        "why": trial.why,
        "sensor": source.sensor,
        "calibration": source.calibration,
        "sensor_range_m_s2": source.sensor_range_m_s2,
        "engine_version": source.engine_version,
        "raw_file": raw.file if raw is not None else None,
        "raw_sha256": raw.sha256 if raw is not None else None,
    }
    with record.database.write("the jump") as connection:
        connection.execute(insert(jumps), row)
    return replace(trial, trial_id=str(row["id"]))


def trials_since(
    connection: Connection, first_day: date, only: Sequence[str] | None = None
) -> list[JumpTrial]:
    """Every trial from a day on as it stands now: moved to another athlete, struck, put back. In order of time.

    Args:
        only: these trials alone.
    """
    if only is not None and not only:
        return []
    wanted = jumps.c.day >= first_day if only is None else jumps.c.id.in_(only)
    corrected = _corrections(connection)
    found = []
    unread = ("calibration", "sensor", "engine_version", "raw_file", "raw_sha256")
    columns = [c for c in jumps.c if c.name not in unread]
    for r in connection.execute(select(*columns).where(wanted).order_by(jumps.c.id)):
        own = corrected.get(r.id, {})
        struck = bool(own.get("struck", False))
        found.append(
            JumpTrial(
                r.id,
                own.get("athlete_id", r.athlete_id),
                r.day,
                r.height_m,
                r.from_flight_m,
                r.from_impulse_m,
                r.uncertainty_m,
                r.depth_m,
                r.time_to_takeoff_s,
                tuple(r.flags),
                r.valid and not struck,
                "struck out" if struck else r.why,
            )
        )
    return found


def _corrections(connection: Connection) -> dict[str, dict[str, Any]]:
    c = corrections.c
    query = select(c.target_id, c.field, c.value).where(c.field.in_(("athlete_id", "struck"))).order_by(c.id)
    found: dict[str, dict[str, Any]] = defaultdict(dict)
    for r in connection.execute(query):
        found[r.target_id][r.field] = r.value["to"]
    return found


def jump_days_since(
    connection: Connection,
    first_day: date,
    after: Callable[[str, date], AfterMatch],
    whose: str | None = None,
) -> dict[str, list[JumpDay]]:
    """Each athlete's days with valid trials, oldest first, as they stand now: sums made by the database.

    Args:
        after: what kind of day it was for an athlete.
        whose: of this athlete alone; None: of everybody.
    """
    corrected = [key for key in _corrections(connection) if key]
    j = jumps.c
    query = (
        select(j.athlete_id, j.day, func.sum(j.height_m), func.max(j.height_m), func.count())
        .where(j.day >= first_day, j.valid, j.id.not_in(corrected))
        .group_by(j.day, j.athlete_id)  # in the order of ix_jumps_sums, which holds all that is asked
    )
    if whose is not None:
        query = query.where(j.athlete_id == whose)
    sums = {(r[0], r[1]): (r[2], r[3], r[4]) for r in connection.execute(query).all() if r[0] is not None}
    for trial in trials_since(connection, first_day, only=corrected):
        if trial.valid and trial.athlete_id is not None and whose in (None, trial.athlete_id):
            key = (trial.athlete_id, trial.day)
            total, best, count = sums.get(key, (0.0, 0.0, 0))
            sums[key] = (total + trial.height_m, max(best, trial.height_m), count + 1)
    days: dict[str, list[JumpDay]] = defaultdict(list)
    for (athlete_id, day), (total, best, count) in sorted(sums.items(), key=lambda item: item[0][1]):
        days[athlete_id].append(JumpDay(athlete_id, day, total / count, best, count, after(athlete_id, day)))
    return dict(days)
