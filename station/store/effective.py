"""The effective view: measurements with the corrections that point at them. Every screen and export reads this."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from functools import cache
from typing import Any

from sqlalchemy import (
    ColumnElement,
    Connection,
    FromClause,
    Select,
    String,
    and_,
    bindparam,
    exists,
    or_,
    select,
)
from sqlalchemy.ext.compiler import compiles
from sqlalchemy.sql.compiler import SQLCompiler
from sqlalchemy.sql.functions import FunctionElement

from station.squad.sets import OWN_PAUSE, SetObservation, equipment_words
from station.store.rows import RepRow, SetRow
from station.store.tables import corrections, reps, sets

# Reps that do not speak for a set: the fastest of the others is its observation.
UNCOUNTED_STATUS = ("failed", "not measured", "uncertain")
# The field of a set's correction that names the later measurement which holds; None: that of the rack.
MEASURED_AGAIN = "measured_again"


class _JsonRows(FunctionElement[Any]):
    """Aggregates its columns to a JSON list of lists; the last column holds JSON already."""

    name = "json_rows"
    inherit_cache = True
    type = String()


@compiles(_JsonRows, "sqlite")
def _in_sqlite(element: _JsonRows, compiler: SQLCompiler, **words: Any) -> str:
    *plain, json_column = (compiler.process(part, **words) for part in element.clauses)
    return f"json_group_array(json_array({', '.join(plain)}, json({json_column})))"


@compiles(_JsonRows, "postgresql")
def _in_postgresql(element: _JsonRows, compiler: SQLCompiler, **words: Any) -> str:
    return f"json_agg(json_build_array({compiler.process(element.clauses, **words)}))"


def _corrections_of(target: ColumnElement[Any]) -> Any:
    """All corrections of one row as (id, field, {"to": value}): one look per row, whatever was corrected."""
    c = corrections.c
    return (
        select(_JsonRows(c.id, c.field, c.value))
        .where(c.target_id == target)
        .correlate(target.table)
        .scalar_subquery()
        .label("corrections")
    )


def corrected(row: Any) -> dict[str, Any]:
    """The fields of a row of `effective_sets` or `effective_reps` that are others now: the newest of each."""
    return _newest(row.corrections)


def _newest(found: Any) -> dict[str, Any]:
    """The same of what the corrections' column holds."""
    if found is None or found == "[]":
        return {}
    # SQLite answers with text; ids grow with time, so the last of a field is the newest.
    listed = json.loads(found) if isinstance(found, str) else found
    return {field: value["to"] for _id, field, value in sorted(listed, key=lambda one: one[0])}


@cache
def effective_sets() -> Select[Any]:
    """Every set with its corrections, unfiltered."""
    return select(sets, _corrections_of(sets.c.id))


@cache
def effective_reps() -> Select[Any]:
    """Every rep with its corrections, unfiltered."""
    return select(reps, _corrections_of(reps.c.id))


# A `SetRow` in its own order, effort left out: a history of years reads several hundred sets, and only this of each.
_OF_A_SET_ROW = (
    *(sets.c.id, sets.c.born_at, sets.c.rack, sets.c.athlete_id, sets.c.name_confirmed, sets.c.day),
    *(sets.c.session, sets.c.lift, sets.c.load_kg, sets.c.kind, sets.c.sensor, sets.c.bar_kg),
)
_CORRECTABLE = frozenset(("athlete_id", "lift", "load_kg", "bar_kg", "full_effort", "name_confirmed"))


def set_row(row: Any) -> SetRow:
    """A row of `effective_sets` as a value."""
    born = SetRow(
        *(row.id, row.born_at, row.rack, row.athlete_id, row.name_confirmed, row.day, row.session),
        *(row.lift, row.load_kg, row.kind, True, row.sensor, row.bar_kg),
    )
    return _as_it_stands(born, corrected(row))


def _as_it_stands(born: SetRow, newest: dict[str, Any]) -> SetRow:
    if not newest:
        return born
    now = {field: value for field, value in newest.items() if field in _CORRECTABLE}
    if "athlete_id" in now:
        now.setdefault("name_confirmed", True)
    return replace(born, **now)


def rep_row(row: Any) -> RepRow:
    """A row of `effective_reps` as a value."""
    return RepRow(
        row.id,
        row.set_id,
        row.number,
        row.status,
        corrected(row).get("struck", False),
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
        row.engine_version or "",
    )


def sets_of(connection: Connection, athlete_id: str, lift: str | None = None) -> list[SetRow]:
    """One athlete's sets, oldest first, wherever they were first recorded."""
    return [r for r in _sets_of(connection, athlete_id) if lift is None or r.lift == lift]


def _sets_of(connection: Connection, athlete_id: str, with_lift: str | None = None) -> list[SetRow]:
    """The same; with a lift, all sets of those days alone on which it may have been lifted."""
    query = _sets_query(of_days=with_lift is not None)
    rows = connection.execute(query, {"athlete": athlete_id, "lift": with_lift}).all()
    found = (_as_it_stands(_born_as(row), _newest(row[-1])) for row in rows)
    return [row for row in found if row.athlete_id == athlete_id]


def _born_as(row: Any) -> SetRow:
    """By place: of several hundred rows a name would cost more than the rest."""
    values: list[Any] = [*row[:10], True, *row[10:-1]]
    return SetRow(*values)


@cache
def _sets_query(*, of_days: bool) -> Select[Any]:
    """Sets of :athlete with their corrections, oldest first: all, or those of days with :lift."""
    query = select(*_OF_A_SET_ROW, _corrections_of(sets.c.id)).where(_may_be_of(sets)).order_by(sets.c.id)
    return query.where(sets.c.day.in_(_days_with_lift())) if of_days else query


def _may_be_of(of: FromClause) -> ColumnElement[bool]:
    """Recorded under :athlete, or moved there once."""
    athlete = bindparam("athlete", type_=String)
    moved_here = select(corrections.c.target_id).where(
        corrections.c.field == "athlete_id", corrections.c.value["to"].as_string() == athlete
    )
    return or_(of.c.athlete_id == athlete, of.c.id.in_(moved_here))


def _days_with_lift() -> Select[Any]:
    """The days on which :lift was lifted, or may have been after a correction."""
    other = sets.alias()
    is_corrected = exists().where(corrections.c.target_id == other.c.id)
    lifted = or_(other.c.lift == bindparam("lift", type_=String), is_corrected)
    return select(other.c.day).where(_may_be_of(other), lifted)


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


def reps_that_hold(connection: Connection, set_id: str) -> list[RepRow]:
    """The reps of the measurement that holds, in order: where a later engine's was accepted, its reps alone."""
    found = reps_of(connection, set_id)
    if not any(rep.engine_version for rep in found):
        return found
    c = corrections.c
    query = select(c.value).where(c.target_id == set_id, c.field == MEASURED_AGAIN).order_by(c.id.desc())
    value = connection.execute(query.limit(1)).scalar()
    holds = (value["to"] if value else None) or ""
    return [rep for rep in found if rep.engine_version == holds]


def reps_of_failed_sets(connection: Connection, set_ids: Sequence[str]) -> dict[str, list[RepRow]]:
    """The reps, in order, of those of these sets in which a rep failed."""
    failed = select(reps.c.set_id).where(reps.c.set_id.in_(set_ids), reps.c.status == "failed")
    query = (
        effective_reps().where(reps.c.set_id.in_(failed)).order_by(reps.c.set_id, reps.c.number, reps.c.id)
    )
    found: dict[str, list[RepRow]] = {}
    for row in connection.execute(query):
        found.setdefault(row.set_id, []).append(rep_row(row))
    return found


def observations(
    connection: Connection, athlete_id: str, lift: str, but_not: str | None = None
) -> list[SetObservation]:
    """One observation a set, but for the set `but_not`: its fastest counted rep. In order of time."""
    own = own_sessions(_sets_of(connection, athlete_id, with_lift=lift))
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
    # Ascending order: the last one that stays for a set is its fastest.
    return {
        row[0]: (row[1], row[2])
        for row in connection.execute(_counted_reps_query(), {"sets": set_ids}).all()
        if not _newest(row[-1]).get("struck", False)
    }


@cache
def _counted_reps_query() -> Select[Any]:
    """What counts of the reps of :sets, the slowest first, with their corrections."""
    columns = (reps.c.set_id, reps.c.mean_velocity_m_s, reps.c.displacement_m, _corrections_of(reps.c.id))
    return (
        select(*columns)
        .where(reps.c.set_id.in_(bindparam("sets", expanding=True)))
        .where(reps.c.status.not_in(UNCOUNTED_STATUS), reps.c.mean_velocity_m_s.is_not(None))
        .order_by(reps.c.mean_velocity_m_s)
    )
