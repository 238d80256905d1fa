"""The whole squad's sets in two queries, for the list of a day: as they stand now, corrections included."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Sequence
from datetime import date
from typing import Any

from sqlalchemy import Connection, Table, func, select

from station.squad.sets import SetObservation
from station.store.effective import UNCOUNTED_STATUS
from station.store.tables import corrections, reps, sets

# What an observation is made of: calibrations and plates of years are long to read.
_OF_A_SET = (
    *(sets.c.id, sets.c.athlete_id, sets.c.day, sets.c.session),
    *(sets.c.lift, sets.c.load_kg, sets.c.sensor, sets.c.bar_kg),
)


def all_observations(connection: Connection, first_day: date) -> list[SetObservation]:
    """One observation a named set from a day on, in order of time: its fastest counted rep."""
    return list(read_observations(connection, first_day).values())


def read_observations(
    connection: Connection, first_day: date, only: Collection[str] | None = None
) -> dict[str, SetObservation]:
    """The same by the set's id, in order of time.

    Args:
        only: read these sets alone; one that says nothing (any more) is not in the answer.
    """
    corrected = _corrections(connection, only)
    struck = {target for target, own in corrected.items() if own.get("struck")}
    fastest = func.max(reps.c.mean_velocity_m_s)
    query = (
        select(*_OF_A_SET, fastest.label("fastest"), reps.c.displacement_m.label("displacement_m"))
        .join(reps, reps.c.set_id == sets.c.id)
        .where(sets.c.day >= first_day, reps.c.status.not_in(UNCOUNTED_STATUS))
        .where(reps.c.mean_velocity_m_s.is_not(None), reps.c.id.not_in(struck))
        .group_by(sets.c.id)  # SQLite: the other columns are those of the row with the maximum
        .order_by(sets.c.id)
    )
    if only is not None:
        query = query.where(sets.c.id.in_(only))
    found = {}
    for r in connection.execute(query):
        one = _observation(r, corrected.get(r.id, {}))
        if one is not None:
            found[r.id] = one
    return found


def _observation(r: Any, corrected: dict[str, Any]) -> SetObservation | None:
    """A row as it stands with its corrections; None without a name."""
    athlete_id = corrected.get("athlete_id", r.athlete_id)
    if athlete_id is None:
        return None
    return SetObservation(
        athlete_id,
        r.day,
        corrected.get("lift", r.lift),
        corrected.get("load_kg", r.load_kg),
        r.fastest,
        r.session,
        r.displacement_m,
        f"{r.sensor}|{r.bar_kg or ''}",
        corrected.get("full_effort", True),
    )


def newest_rows(connection: Connection, of: Sequence[Table] = (sets, reps, corrections)) -> str:
    """Changes with every row of these tables: what was computed from them holds while this does not change."""
    parts = [
        connection.exec_driver_sql(f"SELECT max(_rowid_) FROM {table.name}").scalar_one_or_none() or 0
        for table in of
    ]
    return "/".join(map(str, parts))


def _corrections(connection: Connection, only: Collection[str] | None) -> dict[str, dict[str, Any]]:
    c = corrections.c
    query = select(c.target_id, c.field, c.value).order_by(c.id)
    if only is not None:
        of_reps = select(reps.c.id).where(reps.c.set_id.in_(only))
        query = query.where(c.target_id.in_(only) | c.target_id.in_(of_reps))
    found: dict[str, dict[str, Any]] = defaultdict(dict)
    for r in connection.execute(query):
        found[r.target_id][r.field] = r.value["to"]
    return found
