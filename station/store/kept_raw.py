"""What measuring kept sets and jumps again needs: raw file, sensor, what the engine was given, what it found then."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Any

from sqlalchemy import Connection, Engine, select

from station.store.effective import effective_sets, reps_of, set_row
from station.store.squad_tables import jumps
from station.store.tables import raw_files, sets


@dataclass(frozen=True, slots=True)
class KeptSet:
    """One set with raw samples.

    Attributes:
        set_id, day, lift, load_kg: as they stand now, corrections included.
        file, sha256: of its raw samples.
        calibration: of the sensor, as plain numbers; None: it had none.
        sensor_range_m_s2, usual_range_of_motion_m: what the engine was given.
        engine_version: of the engine that measured it.
        velocities_m_s: mean velocity of each rep as it was measured; None: not measured.
    """

    set_id: str
    day: date
    lift: str
    load_kg: float
    file: str
    sha256: str
    calibration: dict[str, Any] | None
    sensor_range_m_s2: float | None
    usual_range_of_motion_m: float | None
    engine_version: str
    velocities_m_s: tuple[float | None, ...]


def kept_sets(engine: Engine, first: date | None = None, last: date | None = None) -> list[KeptSet]:
    """Every set with raw samples between two days, both included, oldest first."""
    query = effective_sets().add_columns(raw_files.c.file, raw_files.c.sha256)
    query = query.join(raw_files, raw_files.c.set_id == sets.c.id).order_by(sets.c.id)
    if first is not None:
        query = query.where(sets.c.day >= first)
    if last is not None:
        query = query.where(sets.c.day <= last)
    with engine.connect() as connection:
        return [_kept(connection, row) for row in connection.execute(query)]


@dataclass(frozen=True, slots=True)
class KeptJump:
    """One jump with raw samples.

    Attributes:
        jump_id, day: of the jump.
        file, sha256: of its raw samples.
        calibration: of the sensor, as plain numbers; None: it had none.
        sensor_range_m_s2: what the engine was given.
        engine_version: of the engine that measured it.
        height_m: as it was measured.
    """

    jump_id: str
    day: date
    file: str
    sha256: str
    calibration: dict[str, Any] | None
    sensor_range_m_s2: float | None
    engine_version: str
    height_m: float


def kept_jumps(engine: Engine, first: date | None = None, last: date | None = None) -> list[KeptJump]:
    """Every jump with raw samples between two days, both included, oldest first."""
    j = jumps.c
    columns = (j.id, j.day, j.raw_file, j.raw_sha256, j.calibration, j.sensor_range_m_s2, j.engine_version)
    query = select(*columns, j.height_m).where(j.raw_file.is_not(None)).order_by(j.id)
    if first is not None:
        query = query.where(j.day >= first)
    if last is not None:
        query = query.where(j.day <= last)
    with engine.connect() as connection:
        return [KeptJump(*row) for row in connection.execute(query)]


def _kept(connection: Connection, row: Any) -> KeptSet:
    now = set_row(row)
    counted = [rep for rep in reps_of(connection, now.set_id) if rep.status != "failed"]
    return KeptSet(
        now.set_id,
        now.day,
        now.lift,
        now.load_kg,
        row.file,
        row.sha256,
        row.calibration,
        row.sensor_range_m_s2,
        row.usual_range_of_motion_m,
        row.engine_version,
        tuple(rep.mean_velocity_m_s for rep in counted),
    )
