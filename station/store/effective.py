"""The effective view: measurements with the corrections that point at them. Every screen and export reads this."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from typing import Any

from sqlalchemy import ColumnElement, Connection, Select, and_, or_, select

from station.squad.sets import OWN_PAUSE, SetObservation, equipment_words
from station.store.rows import RepRow, SetRow
from station.store.tables import corrections, reps, sets

# Reps that do not speak for a set: the fastest of the others is its observation.
UNCOUNTED_STATUS = ("failed", "not measured", "uncertain")


def _latest(target: ColumnElement[Any], field: str) -> Any:
    """The newest correction of one field, as JSON {"to": value}; NULL when there is none."""
    return (
        select(corrections.c.value)
        .where(corrections.c.target_id == target, corrections.c.field == field)
        .order_by(corrections.c.id.desc())
        .limit(1)
        .correlate(target.table)
        .scalar_subquery()
        .label(f"corrected_{field}")
    )


SET_FIELDS = ("athlete_id", "lift", "load_kg", "bar_kg", "full_effort", "name_confirmed")


def effective_sets() -> Select[Any]:
    """Every set with its newest corrections, unfiltered."""
    return select(sets, *[_latest(sets.c.id, field) for field in SET_FIELDS])


def effective_reps() -> Select[Any]:
    """Every rep with its newest corrections, unfiltered."""
    return select(reps, _latest(reps.c.id, "struck"))


# What a `SetRow` is made of: a history of years reads several hundred sets, and only this of each.
_OF_A_SET_ROW = [
    *(
        sets.c.id,
        sets.c.born_at,
        sets.c.rack,
        sets.c.athlete_id,
        sets.c.name_confirmed,
        sets.c.day,
        sets.c.session,
    ),
    *(sets.c.lift, sets.c.load_kg, sets.c.kind, sets.c.sensor, sets.c.bar_kg),
    *(_latest(sets.c.id, field) for field in SET_FIELDS),
]


def _now(row: Any, field: str, otherwise: Any) -> Any:
    correction = getattr(row, f"corrected_{field}")
    return otherwise if correction is None else correction["to"]


def set_row(row: Any) -> SetRow:
    """A row of `effective_sets` as a value."""
    return SetRow(
        row.id,
        row.born_at,
        row.rack,
        _now(row, "athlete_id", row.athlete_id),
        _now(row, "name_confirmed", row.name_confirmed or row.corrected_athlete_id is not None),
        row.day,
        row.session,
        _now(row, "lift", row.lift),
        _now(row, "load_kg", row.load_kg),
        row.kind,
        _now(row, "full_effort", True),
        row.sensor,
        _now(row, "bar_kg", row.bar_kg),
    )


def rep_row(row: Any) -> RepRow:
    """A row of `effective_reps` as a value."""
    return RepRow(
        row.id,
        row.set_id,
        row.number,
        row.status,
        _now(row, "struck", False),
        row.start_time_s,
        row.end_time_s,
        row.decided_time_s,
        row.mean_velocity_m_s,
        row.mean_propulsive_velocity_m_s,
        row.peak_velocity_m_s,
        row.displacement_m,
        row.uncertainty_m_s,
        tuple(row.flags),
        row.why,
    )


def sets_of(connection: Connection, athlete_id: str | None, lift: str | None = None) -> list[SetRow]:
    """One athlete's sets, oldest first, wherever they were first recorded."""
    moved_here = select(corrections.c.target_id).where(
        corrections.c.field == "athlete_id", corrections.c.value["to"].as_string() == athlete_id
    )
    born_here = sets.c.athlete_id == athlete_id
    query = select(*_OF_A_SET_ROW).where(or_(born_here, sets.c.id.in_(moved_here))).order_by(sets.c.id)
    rows = [set_row(row) for row in connection.execute(query).all()]
    return [r for r in rows if r.athlete_id == athlete_id and (lift is None or r.lift == lift)]


def own_sessions(rows: Sequence[SetRow]) -> list[SetRow]:
    """The same sets with the sessions as this athlete had them.

    Three hours without an own set begin another session, whatever the rack counted; racks count each for
    themselves, so that between two racks only the pause says it.

    Args:
        rows: one athlete's sets of all lifts, in order of time.
    """
    found: list[SetRow] = []
    for n, row in enumerate(rows):
        before = rows[n - 1] if n else None
        if before is None or before.day != row.day:
            found.append(row)
            continue
        counted_on = row.rack == before.rack and row.session > before.session
        paused = row.born_at - before.born_at > OWN_PAUSE
        session = found[-1].session + (counted_on or paused)
        found.append(row if session == row.session else replace(row, session=session))
    return found


def sets_on(connection: Connection, day: date, rack: str | None = None) -> list[SetRow]:
    """All sets of a day, oldest first."""
    here = sets.c.rack == rack if rack is not None else sets.c.id.is_not(None)
    query = effective_sets().where(and_(sets.c.day == day, here)).order_by(sets.c.id)
    return [set_row(row) for row in connection.execute(query)]


def reps_of(connection: Connection, set_id: str) -> list[RepRow]:
    """The reps of one set, in order."""
    query = effective_reps().where(reps.c.set_id == set_id).order_by(reps.c.number, reps.c.id)
    return [rep_row(row) for row in connection.execute(query)]


def observations(
    connection: Connection, athlete_id: str, lift: str, but_not: str | None = None
) -> list[SetObservation]:
    """One observation a set, but for the set `but_not`: its fastest counted rep. In order of time."""
    own = own_sessions(sets_of(connection, athlete_id))
    rows = [row for row in own if row.lift == lift and row.set_id != but_not]
    fastest = _fastest(connection, [r.set_id for r in rows])
    return [
        SetObservation(
            athlete_id,
            row.day,
            row.lift,
            row.load_kg,
            fastest[row.set_id][0],
            row.session,
            fastest[row.set_id][1],
            equipment_words(row.sensor, row.bar_kg),
            row.full_effort,
        )
        for row in rows
        if row.set_id in fastest
    ]


def _fastest(connection: Connection, set_ids: list[str]) -> dict[str, tuple[float, float | None]]:
    """For each set its fastest counted rep: mean velocity (m/s) and range of motion (m)."""
    struck = _latest(reps.c.id, "struck")
    query = (
        select(reps.c.set_id, reps.c.mean_velocity_m_s, reps.c.displacement_m, struck)
        .where(reps.c.set_id.in_(set_ids))
        .where(reps.c.status.not_in(UNCOUNTED_STATUS), reps.c.mean_velocity_m_s.is_not(None))
        .order_by(reps.c.mean_velocity_m_s)
    )
    # Ascending order: the last one that stays for a set is its fastest.
    return {
        row.set_id: (row.mean_velocity_m_s, row.displacement_m)
        for row in connection.execute(query).all()
        if not _now(row, "struck", False)
    }
