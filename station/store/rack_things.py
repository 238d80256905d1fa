"""Reading a rack's things out of the record: bars and plates as weighed, target velocities, PINs."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, func, select

from station.store.nearby import rows_nearby
from station.store.rack_tables import badges, equipment, lift_targets
from station.store.record import Record
from station.store.tables import decisions, sets

BAR, PLATE, COLLARS, SENSOR = "bar", "plate", "collars", "sensor"
KINDS = (BAR, PLATE, COLLARS, SENSOR)


@dataclass(frozen=True, slots=True)
class Thing:
    """A bar, one size of plate, the two collars together, or the sensor on the bar.

    Attributes:
        label, unit: what is written on it, and the unit of that.
        weighed_kg: what the scale said.
        pairs: how many pairs there are; 0: it is gone.
    """

    kind: str
    label: str
    unit: str
    weighed_kg: float
    pairs: int = 1


@dataclass(frozen=True, slots=True)
class LiftTarget:
    """What a coach wants of one athlete and lift, m/s; None where nobody said."""

    low_m_s: float | None
    high_m_s: float | None
    velocity_at_1rm_m_s: float | None


def things_of(record: Record) -> list[Thing]:
    """Bars and plates of this rack as they are now, in the order first written down."""
    query = select(equipment).where(equipment.c.rack == record.rack).order_by(equipment.c.id)
    newest: dict[tuple[str, str, str], Thing] = {}
    with record.database.read() as connection:
        for r in connection.execute(query):
            newest[r.kind, r.label, r.unit] = Thing(r.kind, r.label, r.unit, r.weighed_kg, r.pairs)
    return [thing for thing in newest.values() if thing.pairs > 0]


def thing_row(thing: Thing) -> Mapping[str, Any]:
    """A row for `Record.add_rows("equipment", ...)`."""
    return {name: getattr(thing, name) for name in ("kind", "label", "unit", "weighed_kg", "pairs")}


def targets(record: Record) -> dict[tuple[str, str], LiftTarget]:
    """By athlete and lift, the newest."""
    with record.database.read() as connection:
        return newest_targets(connection)


def newest_targets(connection: Connection) -> dict[tuple[str, str], LiftTarget]:
    """The same, where a connection is open already."""
    rows = connection.execute(select(lift_targets).order_by(lift_targets.c.id)).all()
    return {
        (r.athlete_id, r.lift): LiftTarget(r.target_low_m_s, r.target_high_m_s, r.velocity_at_1rm_m_s)
        for r in rows
    }


def pin_hashes(record: Record) -> dict[str, str]:
    """Staff who sign in with a PIN, and its hash: the newest by all records of this machine, whoever wrote it."""
    query = "SELECT id, staff, pin_hash FROM staff_pins"
    newest = {staff: pin_hash for _, staff, pin_hash in rows_nearby(record.database.folder, query)}
    return {staff: pin_hash for staff, pin_hash in newest.items() if pin_hash}


def badge_holders(record: Record) -> dict[str, str]:
    """Whose badge each code is: code -> athlete."""
    with record.database.read() as connection:
        rows = connection.execute(select(badges).order_by(badges.c.id)).all()
    newest = {r.code: r.athlete_id for r in rows}
    return {code: athlete_id for code, athlete_id in newest.items() if athlete_id}


def newest_decisions(record: Record, set_ids: Collection[str]) -> list[tuple[str, str, float | None]]:
    """For each of these sets what was decided last about its suggestion: set, decision, load (kg); oldest first."""
    query = select(decisions).where(decisions.c.set_id.in_(set_ids)).order_by(decisions.c.id)
    with record.database.read() as connection:
        rows = connection.execute(query).all()
    newest = {r.set_id: (r.set_id, r.decision, r.load_kg) for r in rows}
    return list(newest.values())


def take_decisions(record: Record, rows: Collection[Mapping[str, Any]]) -> int:
    """Take over decisions that another program of this machine wrote, about sets that are here; how many are new."""
    with record.database.read() as connection:
        ids, whose = [r["id"] for r in rows], [r["set_id"] for r in rows]
        known = set(connection.execute(select(decisions.c.id).where(decisions.c.id.in_(ids))).scalars())
        here = set(connection.execute(select(sets.c.id).where(sets.c.id.in_(whose))).scalars())
    new = [dict(row) for row in rows if row["id"] not in known and row["set_id"] in here]
    if new:
        record.add_rows(decisions.name, new)
    return len(new)


def newest_set_at(record: Record) -> datetime | None:
    """When the latest set was recorded by the clock of that time, UTC; None in an empty record."""
    with record.database.read() as connection:
        return connection.execute(select(func.max(sets.c.born_at))).scalar()
